// What the desk's tables share: rows known by a key, columns that say how they sort.
#pragma once

#include <QAbstractTableModel>
#include <QCollator>
#include <QSortFilterProxyModel>
#include <vector>

namespace desk {

/// Rows have a key of their own that outlives every refresh: what is chosen stays chosen.
class KeyedTable : public QAbstractTableModel {
  Q_OBJECT
 public:
  enum Role {
    kKeyRole = Qt::UserRole + 1,
    kSortRole,   ///< a number (infinite: weaker than all), or a text
    kShareRole,  ///< of a budget bar: QVariantList of shares
  };

  using QAbstractTableModel::QAbstractTableModel;

  [[nodiscard]] int rowCount(const QModelIndex& parent = {}) const override;
  [[nodiscard]] int row_of(const QString& key) const;  ///< −1: none
  [[nodiscard]] const std::vector<QString>& keys() const { return keys_; }

 protected:
  /// To be called when anything may have changed. Rows are made anew only where the keys changed.
  void set_keys(std::vector<QString> keys);

 private:
  std::vector<QString> keys_;
};

/// Sorts numbers as numbers and names as people do ("bolt 2" before "bolt 10"); keeps the rows in
/// which every word of the filter occurs.
class KeyedOrder : public QSortFilterProxyModel {
  Q_OBJECT
 public:
  explicit KeyedOrder(QObject* parent = nullptr);
  void set_filter(const QString& words);

 protected:
  bool lessThan(const QModelIndex& left, const QModelIndex& right) const override;
  bool filterAcceptsRow(int row, const QModelIndex& parent) const override;

 private:
  QCollator collator_;
  QStringList words_;
};

}  // namespace desk
