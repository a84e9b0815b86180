#include "tools/desk/sightings/photo_frame.h"

#include <QPainter>
#include <algorithm>
#include <cmath>

namespace desk {
namespace {

constexpr double kLeast = 0.01, kMost = 64.0;

}  // namespace

PhotoFrame::PhotoFrame(PhotoStore* store, std::string photo, QSize size_px, QWidget* parent)
    : QWidget(parent), store_(store) {
  show_photo(std::move(photo), size_px);
  const auto look_again = [this](const std::string& ready) {
    if (ready == photo_) update();
  };
  connect(store_, &PhotoStore::cut_out_ready, this, look_again);
  connect(store_, &PhotoStore::thumbnail_ready, this, look_again);
  connect(store_, &PhotoStore::photo_failed, this, look_again);
}

void PhotoFrame::show_photo(std::string photo, QSize size_px) {
  photo_ = std::move(photo);
  size_px_ = size_px;
  centre_px_ = {0.5 * (size_px.width() - 1), 0.5 * (size_px.height() - 1)};
  image_ = {};
  toned_ = {};
  light_ = {};
  part_ = asked_part_ = {};
  update();
}

void PhotoFrame::set_centre(const QPointF& centre_px) {
  if (centre_px == centre_px_) return;
  centre_px_ = centre_px;
  update();
}

void PhotoFrame::set_magnification(double magnification) {
  magnification_ = std::clamp(magnification, kLeast, kMost);
  update();
}

void PhotoFrame::set_turn(double degrees) {
  if (degrees == turn_deg_) return;
  turn_deg_ = degrees;
  update();
}

void PhotoFrame::set_tone(const Tone& tone) {
  if (tone == tone_) return;
  tone_ = tone;
  apply_tone_to_image();
  update();
}

void PhotoFrame::apply_tone_to_image() {
  toned_ = {};
  if (tone_.is_neutral() || image_.isNull()) return;
  if (tone_.local > 0 && light_.is_null()) {
    if (const QImage small = store_->thumbnail(photo_); !small.isNull()) {
      light_ = LocalLight(small, size_px_);
    }
  }
  toned_ = image_.convertToFormat(QImage::Format_RGB32);
  ViewMap view;
  view.centre_px = QRectF(part_).translated(-0.5, -0.5).center();
  view.zoom = image_.width() / double(part_.width());
  view.size = image_.size();
  apply_tone(toned_, view, tone_, light_);
}

double PhotoFrame::fitting_magnification() const {
  QTransform turn;
  turn.rotate(turn_deg_);
  const QRectF turned = turn.mapRect(QRectF(QPointF(0, 0), QSizeF(size_px_)));
  const QRect area = picture_area();
  if (turned.isEmpty() || area.isEmpty()) return 0.1;
  return std::min(area.width() / turned.width(), area.height() / turned.height());
}

void PhotoFrame::fit() {
  centre_px_ = {0.5 * (size_px_.width() - 1), 0.5 * (size_px_.height() - 1)};
  set_magnification(fitting_magnification());
}

QTransform PhotoFrame::transform() const {
  // From edges of pixels to the widget: the middle of pixel 0 lies 0.5 from its edge.
  const QPointF middle = QRectF(picture_area()).center();
  QTransform transform;
  transform.translate(middle.x(), middle.y());
  transform.rotate(turn_deg_);
  transform.scale(magnification_, magnification_);
  transform.translate(-centre_px_.x() - 0.5, -centre_px_.y() - 0.5);
  return transform;
}

QPointF PhotoFrame::widget_from_photo(const QPointF& at_px) const {
  return transform().map(at_px + QPointF(0.5, 0.5));
}

QPointF PhotoFrame::photo_from_widget(const QPointF& at) const {
  return transform().inverted().map(at) - QPointF(0.5, 0.5);
}

bool PhotoFrame::holds(const QPointF& at_px) const {
  return at_px.x() >= 0 && at_px.y() >= 0 && at_px.x() <= size_px_.width() - 1 &&
         at_px.y() <= size_px_.height() - 1;
}

QRect PhotoFrame::needed_px() const {
  const QRectF seen = transform().inverted().mapRect(QRectF(picture_area()));
  return seen.toAlignedRect().intersected(QRect(QPoint(0, 0), size_px_));
}

double PhotoFrame::wanted_scale() const {
  // Powers of two, so that a little more magnification needs no new pixels.
  const double scale = magnification_ * devicePixelRatioF();
  return scale >= 1.0 ? 1.0 : std::min(1.0, std::exp2(std::ceil(std::log2(scale))));
}

bool PhotoFrame::is_sharp() const {
  return !image_.isNull() && part_.contains(needed_px()) && scale_ >= wanted_scale();
}

void PhotoFrame::want() {
  if (is_sharp()) return;
  const QRect needed = needed_px();
  if (needed.isEmpty()) return;
  const double scale = wanted_scale();
  // The same part is asked for until it comes; a margin spares asking at every step of a drag.
  if (!asked_part_.contains(needed) || asked_scale_ != scale) {
    const int margin_x = needed.width() / 4, margin_y = needed.height() / 4;
    asked_part_ = needed.adjusted(-margin_x, -margin_y, margin_x, margin_y)
                      .intersected(QRect(QPoint(0, 0), size_px_));
    asked_scale_ = scale;
  }
  const QSize size(std::max(1, int(std::lround(asked_part_.width() * scale))),
                   std::max(1, int(std::lround(asked_part_.height() * scale))));
  // The store counts from the middle of the top left pixel.
  QImage image = store_->cut_out(photo_, QRectF(asked_part_).translated(-0.5, -0.5), size);
  if (image.isNull()) return;
  image_ = std::move(image);
  part_ = asked_part_;
  scale_ = scale;
  apply_tone_to_image();
}

void PhotoFrame::draw_picture(QPainter& painter) {
  want();
  // The light of the regions is known only once the thumbnail has come.
  if (tone_.local > 0 && light_.is_null()) apply_tone_to_image();
  const QRect area = picture_area();
  painter.save();
  painter.setClipRect(area);
  painter.fillRect(area, palette().color(QPalette::Dark));
  painter.setRenderHint(QPainter::SmoothPixmapTransform);
  painter.setWorldTransform(transform() * painter.worldTransform());
  // Until the pixels are there, the thumbnail says where one is.
  if (!is_sharp()) {
    if (const QImage thumbnail = store_->thumbnail(photo_); !thumbnail.isNull()) {
      painter.drawImage(QRectF(QPointF(0, 0), QSizeF(size_px_)), thumbnail);
    }
  }
  if (!image_.isNull()) painter.drawImage(QRectF(part_), toned_.isNull() ? image_ : toned_);
  painter.restore();
  if (const QString problem = store_->problem(photo_); !problem.isEmpty()) {
    painter.setPen(palette().color(QPalette::BrightText));
    painter.drawText(area.adjusted(8, 8, -8, -8), Qt::AlignCenter | Qt::TextWordWrap, problem);
  }
}

void PhotoFrame::paintEvent(QPaintEvent*) {
  QPainter painter(this);
  draw_picture(painter);
}

}  // namespace desk
