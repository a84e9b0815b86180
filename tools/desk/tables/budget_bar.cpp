#include "tools/desk/tables/budget_bar.h"

#include <QApplication>
#include <QCoreApplication>
#include <QPainter>

#include "tools/desk/tables/keyed_table.h"

namespace desk {
namespace {

constexpr int kBarWidth = 72;

/// Okabe & Ito's colours, and a pattern each, so that no meaning rests on colour alone.
QBrush brush_of(std::size_t group) {
  static const QColor colours[] = {{0x56, 0xB4, 0xE9}, {0xE6, 0x9F, 0x00}, {0x00, 0x9E, 0x73},
                                   {0xCC, 0x79, 0xA7}, {0xD5, 0x5E, 0x00}, {0x99, 0x99, 0x99}};
  static const Qt::BrushStyle patterns[] = {Qt::SolidPattern, Qt::BDiagPattern, Qt::HorPattern,
                                            Qt::VerPattern,   Qt::CrossPattern, Qt::Dense4Pattern};
  return {colours[group % 6], patterns[group % 6]};
}

}  // namespace

const std::vector<BudgetGroup>& budget_groups() {
  static const std::vector<BudgetGroup> groups = {
      {"marks", QT_TRANSLATE_NOOP("desk::BudgetBar", "marks")},
      {"cameras", QT_TRANSLATE_NOOP("desk::BudgetBar", "lens and body")},
      {"bars", QT_TRANSLATE_NOOP("desk::BudgetBar", "scale bars")},
      {"scale_ratio", QT_TRANSLATE_NOOP("desk::BudgetBar", "scale ratio")},
      {"temperature", QT_TRANSLATE_NOOP("desk::BudgetBar", "temperature")},
      {"definition", QT_TRANSLATE_NOOP("desk::BudgetBar", "what the points are")}};
  return groups;
}

QString word_of(const BudgetGroup& group) {
  return QCoreApplication::translate("desk::BudgetBar", group.word);
}

void BudgetBar::paint(QPainter* painter, const QStyleOptionViewItem& option,
                      const QModelIndex& index) const {
  QStyleOptionViewItem item = option;
  initStyleOption(&item, index);
  const QString text = item.text;
  item.text.clear();
  const QStyle* style = item.widget ? item.widget->style() : QApplication::style();
  style->drawControl(QStyle::CE_ItemViewItem, &item, painter, item.widget);
  const QVariantList shares = index.data(KeyedTable::kShareRole).toList();
  QRect rest = option.rect.adjusted(4, 0, -4, 0);
  painter->save();
  if (!shares.isEmpty()) {
    const QRect bar(rest.left(), rest.top() + 4, kBarWidth, rest.height() - 8);
    painter->fillRect(bar, option.palette.color(QPalette::Base));
    double from = 0;
    for (int g = 0; g < shares.size(); ++g) {
      const double share = shares[g].toDouble();
      if (share <= 0) continue;
      const QRectF part(bar.left() + from * bar.width(), bar.top(), share * bar.width(),
                        bar.height());
      painter->fillRect(part, brush_of(static_cast<std::size_t>(g)));
      from += share;
    }
    painter->setPen(option.palette.color(QPalette::Text));
    painter->drawRect(bar.adjusted(0, 0, -1, -1));
    rest.setLeft(bar.right() + 7);
  }
  painter->setPen(option.palette.color(
      option.state & QStyle::State_Selected ? QPalette::HighlightedText : QPalette::Text));
  painter->drawText(rest, Qt::AlignLeft | Qt::AlignVCenter,
                    option.fontMetrics.elidedText(text, Qt::ElideRight, rest.width()));
  painter->restore();
}

QSize BudgetBar::sizeHint(const QStyleOptionViewItem& option, const QModelIndex& index) const {
  QSize size = QStyledItemDelegate::sizeHint(option, index);
  size.rwidth() += kBarWidth + 11;
  return size;
}

}  // namespace desk
