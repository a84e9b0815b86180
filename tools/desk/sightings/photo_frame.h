// A part of a photo, enlarged and turned about a place: what views and pairs are made of.
#pragma once

#include <QImage>
#include <QPointF>
#include <QRect>
#include <QTransform>
#include <QWidget>
#include <string>

#include "tools/desk/photos/photo_store.h"
#include "tools/desk/photos/tone.h"

namespace desk {

/// Shows the surroundings of a place; draws nothing over them. Pixels: the centre of the top left
/// pixel of the photo is (0, 0), as everywhere. Asks the store for no more than is on the screen,
/// from paintEvent() only: a frame that is scrolled out of sight costs nothing.
class PhotoFrame : public QWidget {
  Q_OBJECT
 public:
  PhotoFrame(PhotoStore* store, std::string photo, QSize size_px, QWidget* parent = nullptr);

  [[nodiscard]] const std::string& photo() const { return photo_; }
  void show_photo(std::string photo, QSize size_px);
  [[nodiscard]] QSize size_px() const { return size_px_; }
  /// The place in the middle of the frame, px.
  [[nodiscard]] QPointF centre_px() const { return centre_px_; }
  void set_centre(const QPointF& centre_px);
  /// Screen (device-independent) pixels for one pixel of the photo.
  [[nodiscard]] double magnification() const { return magnification_; }
  void set_magnification(double magnification);
  /// Clockwise, degrees.
  void set_turn(double degrees);
  /// As the photo is shown; its pixels stay what they are.
  void set_tone(const Tone& tone);
  /// The whole photo, as large as it fits.
  void fit();
  [[nodiscard]] double fitting_magnification() const;

  [[nodiscard]] QPointF widget_from_photo(const QPointF& at_px) const;
  [[nodiscard]] QPointF photo_from_widget(const QPointF& at) const;
  [[nodiscard]] bool holds(const QPointF& at_px) const;  ///< within the photo
  /// Whether the pixels shown are those asked for, none missing and none coarser.
  [[nodiscard]] bool is_sharp() const;

 protected:
  /// Where in the widget the photo is shown; the rest is for words.
  [[nodiscard]] virtual QRect picture_area() const { return rect(); }
  void draw_picture(QPainter& painter);
  void paintEvent(QPaintEvent* event) override;

 private:
  [[nodiscard]] QTransform transform() const;
  [[nodiscard]] QRect needed_px() const;
  [[nodiscard]] double wanted_scale() const;
  void want();
  void apply_tone_to_image();

  PhotoStore* store_;
  std::string photo_;
  QSize size_px_;
  QPointF centre_px_;
  double magnification_ = 4.0, turn_deg_ = 0.0;
  QImage image_;  // shows part_
  QImage toned_;  // image_ as it is shown; null: as it is
  Tone tone_;
  LocalLight light_;  // of photo_, once it was needed
  QRect part_;        // px, whole pixels
  double scale_ = 0;  // of image_ against the photo
  QRect asked_part_;  // not answered yet
  double asked_scale_ = 0;
};

}  // namespace desk
