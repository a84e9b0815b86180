// A small bar of shares: where a dimension's U² comes from.
#pragma once

#include <QStyledItemDelegate>
#include <vector>

namespace desk {

/// Groups in the order of drawing, with the word for a person.
struct BudgetGroup {
  const char* key;   ///< of measure::DimensionResult::budget
  const char* word;  ///< to be translated in context desk::BudgetBar
};
[[nodiscard]] const std::vector<BudgetGroup>& budget_groups();
[[nodiscard]] QString word_of(const BudgetGroup& group);

/// Draws the shares of KeyedTable::kShareRole as stripes that differ in pattern as well as in
/// colour, and the text behind them.
class BudgetBar : public QStyledItemDelegate {
  Q_OBJECT
 public:
  using QStyledItemDelegate::QStyledItemDelegate;
  void paint(QPainter* painter, const QStyleOptionViewItem& option,
             const QModelIndex& index) const override;
  [[nodiscard]] QSize sizeHint(const QStyleOptionViewItem& option,
                               const QModelIndex& index) const override;
};

}  // namespace desk
