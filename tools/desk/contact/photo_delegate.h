// How one photo of the contact sheet is drawn.
#pragma once

#include <QPixmap>
#include <QStyledItemDelegate>
#include <string>

#include "tools/desk/photos/least_recent.h"

namespace desk {

class PhotoDelegate : public QStyledItemDelegate {
  Q_OBJECT
 public:
  explicit PhotoDelegate(QObject* parent = nullptr);

  /// Width of a thumbnail's square, widget pixels.
  void set_side(int side) { side_ = side; }
  [[nodiscard]] int side() const { return side_; }
  [[nodiscard]] QSize cell(const QFont& font) const;

  void paint(QPainter* painter, const QStyleOptionViewItem& option,
             const QModelIndex& index) const override;
  [[nodiscard]] QSize sizeHint(const QStyleOptionViewItem& option,
                               const QModelIndex& index) const override;

 private:
  [[nodiscard]] QPixmap picture(const QModelIndex& index, double ratio) const;

  int side_ = 168;
  // Scaled once, not at every paint.
  mutable LeastRecent<std::pair<std::string, int>, std::pair<qint64, QPixmap>> pictures_;
};

}  // namespace desk
