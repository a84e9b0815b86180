#include "tools/desk/tables/keyed_table.h"

#include <algorithm>

namespace desk {

int KeyedTable::rowCount(const QModelIndex& parent) const {
  return parent.isValid() ? 0 : static_cast<int>(keys_.size());
}

int KeyedTable::row_of(const QString& key) const {
  const auto at = std::find(keys_.begin(), keys_.end(), key);
  return at == keys_.end() ? -1 : static_cast<int>(at - keys_.begin());
}

void KeyedTable::set_keys(std::vector<QString> keys) {
  if (keys == keys_) {
    if (keys_.empty()) return;
    Q_EMIT dataChanged(index(0, 0), index(rowCount() - 1, columnCount() - 1));
    return;
  }
  beginResetModel();
  keys_ = std::move(keys);
  endResetModel();
}

KeyedOrder::KeyedOrder(QObject* parent) : QSortFilterProxyModel(parent) {
  collator_.setNumericMode(true);
  collator_.setCaseSensitivity(Qt::CaseInsensitive);
  setSortRole(KeyedTable::kSortRole);
  setDynamicSortFilter(true);
}

void KeyedOrder::set_filter(const QString& words) {
  words_ = words.split(' ', Qt::SkipEmptyParts);
  invalidateFilter();
}

bool KeyedOrder::lessThan(const QModelIndex& left, const QModelIndex& right) const {
  const QVariant a = left.data(sortRole()), b = right.data(sortRole());
  if (a.userType() == QMetaType::Double && b.userType() == QMetaType::Double) {
    return a.toDouble() < b.toDouble();
  }
  return collator_.compare(a.toString(), b.toString()) < 0;
}

bool KeyedOrder::filterAcceptsRow(int row, const QModelIndex& parent) const {
  if (words_.isEmpty()) return true;
  QString all;
  for (int column = 0; column < sourceModel()->columnCount(parent); ++column) {
    all += sourceModel()->index(row, column, parent).data().toString() + '\n';
  }
  return std::all_of(words_.begin(), words_.end(),
                     [&](const QString& word) { return all.contains(word, Qt::CaseInsensitive); });
}

}  // namespace desk
