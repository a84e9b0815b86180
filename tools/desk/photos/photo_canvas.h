// One photo, to look at closely: pan, zoom, turn, pick, and what is drawn into it.
#pragma once

#include <QImage>
#include <QTimer>
#include <QWidget>
#include <memory>
#include <optional>
#include <string>

#include "tools/desk/photos/photo_store.h"
#include "tools/desk/photos/photo_trace.h"
#include "tools/desk/photos/tone.h"
#include "tools/desk/photos/view_map.h"

namespace desk {

class KeyBook;

/// Shows what the store has of a photo, coarse at first. Left button: pick, place, drag a mark, or
/// move the photo; wheel: zoom about the cursor.
class PhotoCanvas : public QWidget {
  Q_OBJECT
 public:
  /// @param place  what the list of keys calls it; ids of its actions begin with `id`
  PhotoCanvas(PhotoStore* store, KeyBook* keys, const QString& place, const QString& id,
              QWidget* parent = nullptr);

  /// @param size  full size, as the dossier knows it; the view begins with all of the photo.
  /// An empty name shows the sentence of set_empty_text().
  void show_photo(const std::string& photo, const QSize& size);
  [[nodiscard]] const std::string& photo() const { return photo_; }
  void set_empty_text(const QString& sentence);

  void set_trace(PhotoTrace trace);
  [[nodiscard]] const PhotoTrace& trace() const { return trace_; }
  void set_tone(const Tone& tone);
  /// Whether marks may be dragged; off where nothing may be changed.
  void set_marks_movable(bool movable) { marks_movable_ = movable; }
  /// Whether a click means the place itself, whatever sign is near it: along an edge marks are set
  /// close to points. Only marks of the chosen shape are dragged then.
  void set_clicks_mean_places(bool places) { clicks_mean_places_ = places; }
  /// The mark of a shape under the cursor, or null.
  [[nodiscard]] const TracedMark* shape_mark_at_cursor() const;

  /// In the widget's own pixels.
  [[nodiscard]] const ViewMap& view() const { return view_; }
  void fit();
  /// One photo pixel for each of the screen's.
  void full_size();
  /// @param at  in the widget, stays where it is
  void zoom_by(double factor, const QPointF& at);
  /// Brings a place to the middle. @param zoom  widget pixels a photo pixel; 0: as it is
  void centre_on(const QPointF& photo_px, double zoom = 0.0);
  void pan_by(const QPointF& widget_pixels);
  /// Degrees by which the picture is turned, clockwise.
  void set_turn(double degrees);
  /// Photo pixels under the cursor, where there is one over the photo.
  [[nodiscard]] std::optional<QPointF> cursor_px() const { return cursor_px_; }
  /// Marks and places that a click at a place in the widget means, the nearest first.
  [[nodiscard]] std::vector<std::string> points_near(const QPointF& at) const;

 Q_SIGNALS:
  void point_clicked(const std::string& point, Qt::KeyboardModifiers modifiers);
  void place_clicked(const QPointF& photo_px, Qt::KeyboardModifiers modifiers);
  /// While a mark is dragged, and when it is let go.
  void mark_dragging(const std::string& point, const QPointF& photo_px);
  void mark_dragged(const std::string& point, const QPointF& photo_px);
  /// A mark along a shape, known by where it stood, let go elsewhere.
  void shape_mark_dragged(const std::string& shape, const QPointF& from_px, const QPointF& to_px);
  /// Empty: it has left.
  void cursor_moved(const std::optional<QPointF>& photo_px);
  void view_changed();

 protected:
  bool event(QEvent* event) override;
  void paintEvent(QPaintEvent* event) override;
  void resizeEvent(QResizeEvent* event) override;
  void mousePressEvent(QMouseEvent* event) override;
  void mouseMoveEvent(QMouseEvent* event) override;
  void mouseReleaseEvent(QMouseEvent* event) override;
  void wheelEvent(QWheelEvent* event) override;
  void leaveEvent(QEvent* event) override;

 private:
  void add_keys(KeyBook* keys, const QString& place, const QString& id);
  void changed_view();
  void keep_in_sight();
  void take_photo();
  void render_photo();
  void draw_read_out(QPainter& painter);
  [[nodiscard]] double fitting_zoom() const;
  [[nodiscard]] const TracedMark* mark_near(const QPointF& at) const;
  [[nodiscard]] bool may_drag(const TracedMark& mark) const;
  void drag_mark_to(const QPointF& photo_px);

  PhotoStore* store_;
  std::string photo_;
  QSize photo_size_;
  std::shared_ptr<const PhotoPyramid> pyramid_;
  PhotoTrace trace_;
  Tone tone_;
  LocalLight light_;
  ViewMap view_;
  bool fits_ = true;      // the view follows the widget's size until it is moved
  bool squares_ = false;  // pixels as squares
  bool marks_movable_ = true;
  bool clicks_mean_places_ = false;
  QString empty_text_;

  QSize rendered_for_;   // the widget, in the screen's pixels
  QImage rendered_;      // the photo as it stands in the widget
  bool stale_ = true;    // rendered_ is of another view
  bool moving_ = false;  // half the screen's pixels are enough until the view rests
  bool slow_ = false;    // at all of the screen's pixels, for sixty pictures a second
  QTimer rest_;

  std::optional<QPointF> cursor_px_;
  enum class Drag { kNone, kPressed, kPan, kMark };
  Drag drag_ = Drag::kNone;
  QPointF pressed_at_, last_at_, grip_px_;
  std::string dragged_point_, dragged_shape_;  // one of them, or neither: the photo
  QPointF dragged_from_px_, dragged_to_px_;
};

}  // namespace desk
