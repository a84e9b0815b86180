// One photo of the dossier to work in: marks are chosen, set, moved, set aside.
#pragma once

#include <QWidget>
#include <optional>
#include <string>

#include "tools/desk/photos/session_trace.h"
#include "tools/desk/photos/tone.h"

class QCheckBox;
class QComboBox;
class QHBoxLayout;
class QLabel;
class QPushButton;

namespace desk {

class DeskSession;
class KeyBook;
class PhotoCanvas;
class PhotoStore;
class ToneRow;

/// Follows the session's chosen photo. All changes are edits of the session, so that they can be
/// undone.
class PhotoPane : public QWidget {
  Q_OBJECT
 public:
  /// The store must know the dossier's photos. @param keys  may be null
  PhotoPane(DeskSession* session, PhotoStore* store, KeyBook* keys, QWidget* parent = nullptr);

  [[nodiscard]] PhotoCanvas* canvas() const { return canvas_; }
  void set_parts(const TraceParts& parts);
  [[nodiscard]] const TraceParts& parts() const { return parts_; }
  [[nodiscard]] const Tone& tone() const;
  void set_tone(const Tone& tone);
  /// Clicked or nudged, not accepted yet, photo pixels.
  [[nodiscard]] std::optional<QPointF> pending() const { return pending_; }
  /// Brings the chosen point, or a place, into the middle.
  void look_at(const std::string& point);

 Q_SIGNALS:
  /// The same settings suit other views of these photos.
  void tone_changed(const desk::Tone& tone);

 public:
  // What keys and buttons do.
  void accept_pending();
  void drop_pending();
  /// Of the pending place, or of the chosen point's mark, which becomes pending; along the screen.
  /// While a shape is marked: of its mark under the cursor, or else the one set or moved last.
  void nudge(double right_px, double down_px);
  void remove_mark();
  /// Sets the chosen point's mark aside, or takes it back.
  void toggle_aside();
  /// Of the chosen cylinder: which side the next mark is on, 1 or 2.
  [[nodiscard]] int side() const { return side_; }
  void change_side();
  /// Of a shape's mark under the cursor, or else the one set or moved last.
  void remove_shape_mark();

 protected:
  void showEvent(QShowEvent* event) override;

 private:
  void add_keys(KeyBook* keys);
  void add_parts(QHBoxLayout* line);
  void show_chosen_photo();
  void take();  // what the session knows now
  void write_caption();
  void write_sentence();
  void set_pending(std::optional<QPointF> at);
  void place_mark(const std::string& point, const QPointF& at);
  void click_place(const QPointF& at);
  void click_point(const std::string& point);
  /// The chosen shape, where it is marked by itself; else null.
  [[nodiscard]] const measure::Shape* marked_shape() const;
  [[nodiscard]] const measure::ShapeMark* shape_mark_at(const std::string& shape,
                                                        const QPointF& at) const;
  [[nodiscard]] const measure::ShapeMark* shape_mark_in_hand() const;
  [[nodiscard]] const measure::ShapeMark* shape_mark_at_cursor_or_in_hand() const;
  void move_shape_mark(const std::string& shape, const QPointF& from, const QPointF& to);
  void mark_shape(const QPointF& at);
  [[nodiscard]] QString shape_sentence(const measure::Shape& shape) const;

  DeskSession* session_;
  PhotoStore* store_;
  PhotoCanvas* canvas_;
  QLabel* caption_;
  QLabel* sentence_;
  QPushButton* aside_;
  QPushButton* remove_;
  QCheckBox* names_;
  QCheckBox* places_;
  QCheckBox* shapes_;
  QPushButton* side_button_;
  int side_ = 1;
  QComboBox* dimensions_;
  ToneRow* tone_;
  TraceParts parts_;
  std::optional<QPointF> pending_;
  /// The mark that keys mean where none is under the cursor; the pending place of a shape is its.
  std::optional<measure::ShapeMarkKey> in_hand_;
  bool is_old_ = true;  // what is shown, against what the session knows
};

}  // namespace desk
