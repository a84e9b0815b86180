#include "tools/desk/contact/photo_delegate.h"

#include <QPainter>

#include "tools/desk/contact/photo_model.h"
#include "tools/desk/look/look.h"
#include "tools/desk/photos/photo_trace.h"

namespace desk {
namespace {

constexpr std::size_t kPictureBudget_bytes = std::size_t{64} << 20;
constexpr int kPadding = 6;

}  // namespace

PhotoDelegate::PhotoDelegate(QObject* parent)
    : QStyledItemDelegate(parent), pictures_(kPictureBudget_bytes) {}

QSize PhotoDelegate::cell(const QFont& font) const {
  // The picture, its name, and two lines of what is known.
  const int line = QFontMetrics(font).height();
  return {side_ + 2 * kPadding, side_ * 3 / 4 + 3 * line + 4 * kPadding};
}

QSize PhotoDelegate::sizeHint(const QStyleOptionViewItem& option, const QModelIndex&) const {
  return cell(option.font);
}

QPixmap PhotoDelegate::picture(const QModelIndex& index, double ratio) const {
  const QImage image = index.data(Qt::DecorationRole).value<QImage>();
  if (image.isNull()) return {};
  const int width = static_cast<int>(side_ * ratio);
  const std::pair key(index.data(PhotoModel::kNameRole).toString().toStdString(), width);
  if (const auto* held = pictures_.find(key); held && held->first == image.cacheKey()) {
    return held->second;
  }
  QPixmap pixmap = QPixmap::fromImage(
      image.scaled(width, width * 3 / 4, Qt::KeepAspectRatio, Qt::SmoothTransformation));
  pixmap.setDevicePixelRatio(ratio);
  pictures_.put(key, {image.cacheKey(), pixmap},
                static_cast<std::size_t>(pixmap.width()) * pixmap.height() * 4);
  return pixmap;
}

void PhotoDelegate::paint(QPainter* painter, const QStyleOptionViewItem& option,
                          const QModelIndex& index) const {
  painter->save();
  painter->setRenderHint(QPainter::Antialiasing);
  const bool is_selected = option.state & QStyle::State_Selected;
  const QPalette& palette = option.palette;
  const QRect cell = option.rect.adjusted(2, 2, -2, -2);
  if (is_selected) {
    painter->fillRect(cell, palette.color(QPalette::Highlight));
  } else if (option.state & QStyle::State_MouseOver) {
    painter->fillRect(cell, palette.color(QPalette::AlternateBase));
  }
  if (option.state & QStyle::State_HasFocus) {
    painter->setPen(QPen(palette.color(QPalette::Text), 1, Qt::DotLine));
    painter->drawRect(cell.adjusted(0, 0, -1, -1));
  }
  const QColor ink = palette.color(is_selected ? QPalette::HighlightedText : QPalette::Text);
  const QFontMetrics metrics(option.font);
  const int line = metrics.height();

  const QRect frame(cell.left() + kPadding - 2, cell.top() + kPadding, side_, side_ * 3 / 4);
  const QPixmap pixmap = picture(index, painter->device()->devicePixelRatioF());
  const QString lacks = index.data(PhotoModel::kLacksRole).toString();
  if (pixmap.isNull()) {
    const bool unreadable = index.data(PhotoModel::kUnreadableRole).toBool();
    painter->setPen(QPen(palette.color(QPalette::Mid), 1));
    painter->drawRect(frame.adjusted(0, 0, -1, -1));
    painter->setPen(palette.color(QPalette::PlaceholderText));
    painter->drawText(frame.adjusted(4, 4, -4, -4), Qt::AlignCenter | Qt::TextWordWrap,
                      unreadable ? tr("cannot be read") : tr("reading …"));
  } else {
    const QSizeF size = pixmap.deviceIndependentSize();
    painter->drawPixmap(QPointF(frame.left() + (frame.width() - size.width()) / 2,
                                frame.top() + (frame.height() - size.height()) / 2),
                        pixmap);
  }

  QRect text(frame.left(), frame.bottom() + kPadding, frame.width(), line);
  QFont bold = option.font;
  bold.setBold(true);
  painter->setFont(bold);
  painter->setPen(ink);
  painter->drawText(text, Qt::AlignLeft | Qt::AlignVCenter,
                    QFontMetrics(bold).elidedText(index.data(PhotoModel::kNameRole).toString(),
                                                  Qt::ElideMiddle, text.width()));
  painter->setFont(option.font);

  // The chosen point's sign in this photo, on the picture's corner.
  const QVariant chosen = index.data(PhotoModel::kChosenRole);
  if (chosen.isValid() && chosen.toInt() != static_cast<int>(MarkState::kPredicted)) {
    draw_mark(*painter, QPointF(frame.right() - 14, frame.top() + 15),
              static_cast<MarkState>(chosen.toInt()), 8, true);
  }

  text.translate(0, line);
  const int marks = index.data(PhotoModel::kMarksRole).toInt();
  const int doubted = index.data(PhotoModel::kDoubtedRole).toInt();
  const QVariant rms = index.data(PhotoModel::kRmsRole);
  QString numbers = tr("marks: %1").arg(marks);
  if (rms.isValid()) {
    numbers += " · " + tr("rms %1 px").arg(pixel_text(rms.toDouble(), 2));
  }
  painter->drawText(text, Qt::AlignLeft | Qt::AlignVCenter,
                    metrics.elidedText(numbers, Qt::ElideRight, text.width()));

  // A sign and a word, so that colour is never alone.
  text.translate(0, line);
  const bool is_oriented = index.data(PhotoModel::kOrientedRole).toBool();
  const double r = line * 0.28;
  const QPointF sign(text.left() + r + 1, text.center().y() + 0.5);
  const QColor colour = !is_oriented || doubted > 0 ? kWeakColour : kGoodColour;
  painter->setPen(QPen(is_selected ? ink : colour, 1.6));
  painter->setBrush(is_oriented ? QBrush(is_selected ? ink : colour) : Qt::NoBrush);
  painter->drawEllipse(sign, r, r);
  painter->setPen(ink);
  QString state = is_oriented ? tr("oriented") : lacks;
  if (is_oriented && doubted > 0) state += ", " + tr("doubted: %1").arg(doubted);
  text.setLeft(text.left() + static_cast<int>(2 * r) + 6);
  painter->drawText(text, Qt::AlignLeft | Qt::AlignVCenter,
                    metrics.elidedText(state, Qt::ElideRight, text.width()));
  painter->restore();
}

}  // namespace desk
