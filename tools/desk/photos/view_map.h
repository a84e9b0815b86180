// Where a photo's pixels lie in a view of it: moved, zoomed and turned.
#pragma once

#include <QPointF>
#include <QRectF>
#include <QSizeF>
#include <QTransform>

namespace desk {

/// Photo pixels: the centre of the top left one is (0, 0), so that a photo reaches from −0.5 to
/// width − 0.5. View pixels: Qt's, the corner of the top left one is (0, 0).
struct ViewMap {
  QPointF centre_px;      ///< of the photo, in the middle of the view
  double zoom = 1.0;      ///< view pixels a photo pixel
  double turn_deg = 0.0;  ///< of the picture in the view, clockwise
  QSizeF size;            ///< of the view, in its pixels

  /// Photo to view.
  [[nodiscard]] QTransform transform() const {
    QTransform map;  // applied from the last to the first
    map.translate(size.width() / 2, size.height() / 2);
    map.rotate(turn_deg);
    map.scale(zoom, zoom);
    map.translate(-centre_px.x(), -centre_px.y());
    return map;
  }
  [[nodiscard]] QPointF to_view(const QPointF& photo_px) const { return transform().map(photo_px); }
  [[nodiscard]] QPointF to_photo(const QPointF& view) const {
    return transform().inverted().map(view);
  }
};

/// All of a photo, in its own pixels.
[[nodiscard]] inline QRectF area_of(const QSize& photo) {
  return {-0.5, -0.5, static_cast<double>(photo.width()), static_cast<double>(photo.height())};
}

}  // namespace desk
