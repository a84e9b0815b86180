#include "tools/desk/photos/photo_canvas.h"

#include <QApplication>
#include <QElapsedTimer>
#include <QHelpEvent>
#include <QMouseEvent>
#include <QPainter>
#include <QToolTip>
#include <QWheelEvent>
#include <algorithm>
#include <cmath>

#include <opencv2/core/mat.hpp>

#include "tools/desk/look/key_book.h"
#include "tools/desk/photos/sample.h"

namespace desk {
namespace {

constexpr double kReach = 12.0;         // widget pixels
constexpr double kLargestZoom = 64.0;   // of a photo pixel, widget pixels
constexpr double kSmallestPart = 0.25;  // of the zoom that shows the whole photo
constexpr double kZoomStep = 1.25;
constexpr double kPanStep = 0.15;  // of the widget
constexpr int kRest_ms = 120;
constexpr qint64 kSlow_ns = 9'000'000;  // leaves the rest of a sixtieth of a second to the trace

double distance(const QPointF& a, const QPointF& b) {
  return std::hypot(a.x() - b.x(), a.y() - b.y());
}

cv::Mat part_of(const QImage& image, const cv::Rect& part) {
  return cv::Mat(image.height(), image.width(), CV_8UC4, const_cast<uchar*>(image.constBits()),
                 static_cast<std::size_t>(image.bytesPerLine()))(part);
}

}  // namespace

PhotoCanvas::PhotoCanvas(PhotoStore* store, KeyBook* keys, const QString& place, const QString& id,
                         QWidget* parent)
    : QWidget(parent), store_(store) {
  setObjectName("photo_canvas");
  setFocusPolicy(Qt::StrongFocus);
  setMouseTracking(true);
  setMinimumSize(160, 120);
  setAttribute(Qt::WA_OpaquePaintEvent);
  setCursor(Qt::CrossCursor);
  empty_text_ = tr("No photo is chosen: open one from the contact sheet.");
  rest_.setSingleShot(true);
  rest_.setInterval(kRest_ms);
  connect(&rest_, &QTimer::timeout, this, [this] {
    moving_ = false;
    if (slow_) stale_ = true;
    update();
  });
  const auto mine = [this](const std::string& name) { return name == photo_; };
  connect(store_, &PhotoStore::photo_ready, this, [this, mine](const std::string& name) {
    if (mine(name)) take_photo();
  });
  connect(store_, &PhotoStore::thumbnail_ready, this, [this, mine](const std::string& name) {
    if (mine(name)) take_photo();
  });
  connect(store_, &PhotoStore::photo_failed, this, [this, mine](const std::string& name) {
    if (mine(name)) update();
  });
  if (keys) add_keys(keys, place, id);
}

void PhotoCanvas::add_keys(KeyBook* keys, const QString& place, const QString& id) {
  const auto add = [&](const char* name, const QString& text, const QString& tip,
                       const QKeySequence& key, auto what) {
    keys->add(this, place, id + '.' + name, text, tip, key, what);
  };
  const auto middle = [this] { return QRectF(rect()).center(); };
  const auto pan = [this](double x, double y) {
    pan_by(QPointF(x * width(), y * height()) * kPanStep);
  };
  add("zoom_in", tr("Zoom in"), tr("Shows less of the photo, larger"), QKeySequence("+"),
      [this, middle] { zoom_by(kZoomStep, cursor_px_ ? last_at_ : middle()); });
  add("zoom_out", tr("Zoom out"), tr("Shows more of the photo, smaller"), QKeySequence("-"),
      [this, middle] { zoom_by(1 / kZoomStep, cursor_px_ ? last_at_ : middle()); });
  add("fit", tr("Whole photo"), tr("Shows all of the photo"), QKeySequence("0"), [this] { fit(); });
  add("full_size", tr("Pixel for pixel"), tr("One photo pixel for each pixel of the screen"),
      QKeySequence("1"), [this] { full_size(); });
  add("pan_left", tr("Look further left"), tr("Moves the view to the left"),
      QKeySequence("Ctrl+Left"), [pan] { pan(1, 0); });
  add("pan_right", tr("Look further right"), tr("Moves the view to the right"),
      QKeySequence("Ctrl+Right"), [pan] { pan(-1, 0); });
  add("pan_up", tr("Look further up"), tr("Moves the view up"), QKeySequence("Ctrl+Up"),
      [pan] { pan(0, 1); });
  add("pan_down", tr("Look further down"), tr("Moves the view down"), QKeySequence("Ctrl+Down"),
      [pan] { pan(0, -1); });
  add("turn_right", tr("Turn clockwise"), tr("Turns the view by 90°; the file stays as it is"),
      QKeySequence("T"), [this] { set_turn(view_.turn_deg + 90); });
  add("turn_left", tr("Turn anticlockwise"), tr("Turns the view by 90°; the file stays as it is"),
      QKeySequence("Shift+T"), [this] { set_turn(view_.turn_deg - 90); });
  add("squares", tr("Pixels as squares"), tr("Shows each photo pixel as a square, not smoothed"),
      QKeySequence("Q"), [this] {
        squares_ = !squares_;
        stale_ = true;
        update();
      });
}

void PhotoCanvas::show_photo(const std::string& photo, const QSize& size) {
  if (photo == photo_ && size == photo_size_) return;
  if (!photo_.empty()) store_->unwant(photo_);
  photo_ = photo;
  photo_size_ = size;
  pyramid_ = nullptr;
  light_ = {};
  trace_ = {};
  drag_ = Drag::kNone;
  cursor_px_.reset();
  fit();
  take_photo();
}

void PhotoCanvas::set_empty_text(const QString& sentence) {
  empty_text_ = sentence;
  update();
}

void PhotoCanvas::set_trace(PhotoTrace trace) {
  trace_ = std::move(trace);
  update();
}

void PhotoCanvas::set_tone(const Tone& tone) {
  if (tone == tone_) return;
  tone_ = tone;
  stale_ = true;
  update();
}

void PhotoCanvas::take_photo() {
  if (photo_.empty()) return update();
  pyramid_ = store_->photo(photo_, PhotoStore::Want::kNow);
  if (pyramid_ && photo_size_ != pyramid_->size) {
    photo_size_ = pyramid_->size;  // the dossier was silent or wrong
    fit();
  }
  if (light_.is_null()) {
    const QImage small = store_->thumbnail(photo_, PhotoStore::Want::kNow);
    if (!small.isNull()) light_ = LocalLight(small, photo_size_);
  }
  stale_ = true;
  update();
}

double PhotoCanvas::fitting_zoom() const {
  if (photo_size_.isEmpty()) return 1.0;
  const QRectF turned = QTransform().rotate(view_.turn_deg).mapRect(area_of(photo_size_));
  return std::max(1e-6, std::min(width() / turned.width(), height() / turned.height()));
}

void PhotoCanvas::fit() {
  view_.size = size();
  view_.centre_px = area_of(photo_size_).center();
  view_.zoom = fitting_zoom();
  fits_ = true;
  stale_ = true;
  update();
  Q_EMIT view_changed();
}

void PhotoCanvas::full_size() {
  const QPointF at = cursor_px_ ? last_at_ : QRectF(rect()).center();
  zoom_by(1.0 / devicePixelRatioF() / view_.zoom, at);
}

void PhotoCanvas::zoom_by(double factor, const QPointF& at) {
  if (photo_size_.isEmpty() || !(factor > 0)) return;
  const QPointF stays = view_.to_photo(at);
  view_.zoom = std::clamp(view_.zoom * factor, kSmallestPart * fitting_zoom(), kLargestZoom);
  view_.centre_px += stays - view_.to_photo(at);
  changed_view();
}

void PhotoCanvas::centre_on(const QPointF& photo_px, double zoom) {
  view_.centre_px = photo_px;
  if (zoom > 0) view_.zoom = std::clamp(zoom, kSmallestPart * fitting_zoom(), kLargestZoom);
  changed_view();
}

void PhotoCanvas::pan_by(const QPointF& widget_pixels) {
  const QPointF middle = QRectF(rect()).center();
  view_.centre_px += view_.to_photo(middle) - view_.to_photo(middle + widget_pixels);
  changed_view();
}

void PhotoCanvas::set_turn(double degrees) {
  view_.turn_deg = std::remainder(degrees, 360.0);
  if (fits_) return fit();
  changed_view();
}

void PhotoCanvas::keep_in_sight() {
  const QRectF area = area_of(photo_size_);
  view_.centre_px.setX(std::clamp(view_.centre_px.x(), area.left(), area.right()));
  view_.centre_px.setY(std::clamp(view_.centre_px.y(), area.top(), area.bottom()));
}

void PhotoCanvas::changed_view() {
  view_.size = size();
  keep_in_sight();
  fits_ = false;
  stale_ = true;
  moving_ = true;
  rest_.start();
  update();
  Q_EMIT view_changed();
}

void PhotoCanvas::render_photo() {
  const bool halved = moving_ && slow_;
  const double ratio = devicePixelRatioF() * (halved ? 0.5 : 1.0);
  QElapsedTimer timer;
  timer.start();
  ViewMap device = view_;
  device.size = (QSizeF(size()) * ratio).toSize();
  device.zoom *= ratio;
  if (pyramid_) {
    const int coarsest = static_cast<int>(pyramid_->levels.size()) - 1;
    rendered_ = sample(
        pyramid_->size, device, pyramid_->finest(), coarsest,
        [this](int level, const cv::Rect& part) { return part_of(pyramid_->levels[level], part); },
        squares_ ? Smoothness::kNearest : Smoothness::kSmooth);
  } else {
    rendered_ = QImage(device.size.toSize(), QImage::Format_ARGB32_Premultiplied);
    rendered_.fill(Qt::transparent);
    const QImage small = store_->thumbnail(photo_, PhotoStore::Want::kNow);
    if (!small.isNull()) {
      QPainter painter(&rendered_);
      painter.setRenderHint(QPainter::SmoothPixmapTransform);
      painter.setTransform(device.transform());
      painter.drawImage(area_of(photo_size_), small);
    }
  }
  apply_tone(rendered_, device, tone_, light_);
  rendered_.setDevicePixelRatio(ratio);
  if (!halved) slow_ = timer.nsecsElapsed() > kSlow_ns;
  rendered_for_ = (QSizeF(size()) * devicePixelRatioF()).toSize();
  stale_ = false;
}

void PhotoCanvas::paintEvent(QPaintEvent*) {
  QPainter painter(this);
  const QTransform to_photo = view_.transform().inverted();
  const bool covered = !photo_.empty() && pyramid_ && store_->problem(photo_).isEmpty() &&
                       area_of(photo_size_).contains(to_photo.mapRect(QRectF(rect())));
  if (!covered) painter.fillRect(rect(), palette().color(QPalette::Dark).darker(160));
  const auto say = [&](const QString& sentence) {
    painter.setPen(Qt::white);
    painter.drawText(rect().adjusted(24, 24, -24, -24), Qt::AlignCenter | Qt::TextWordWrap,
                     sentence);
  };
  if (photo_.empty()) return say(empty_text_);
  const QString problem = store_->problem(photo_);
  if (!problem.isEmpty()) return say(problem);
  if (stale_ || rendered_for_ != (QSizeF(size()) * devicePixelRatioF()).toSize()) render_photo();
  painter.setCompositionMode(covered ? QPainter::CompositionMode_Source
                                     : QPainter::CompositionMode_SourceOver);
  painter.drawImage(0, 0, rendered_);
  painter.setCompositionMode(QPainter::CompositionMode_SourceOver);
  draw_trace(painter, trace_, view_);
  draw_read_out(painter);
}

void PhotoCanvas::draw_read_out(QPainter& painter) {
  QStringList words;
  if (cursor_px_) {
    words
        << tr("x %1  y %2 px").arg(pixel_text(cursor_px_->x(), 1), pixel_text(cursor_px_->y(), 1));
  }
  words << tr("%1 %").arg(pixel_text(100 * view_.zoom * devicePixelRatioF(), 0));
  if (!pyramid_ || !pyramid_->complete()) words << tr("reading …");
  draw_label(painter, QPointF(10, height() - 10), words.join("   "));
}

void PhotoCanvas::resizeEvent(QResizeEvent*) {
  if (fits_) return fit();
  view_.size = size();
  stale_ = true;
}

bool PhotoCanvas::may_drag(const TracedMark& mark) const {
  return marks_movable_ && (!clicks_mean_places_ || (mark.chosen && !mark.shape.empty()));
}

void PhotoCanvas::drag_mark_to(const QPointF& photo_px) {
  for (TracedMark& mark : trace_.marks) {
    // A shape has many marks; the trace may be a new one since the last step.
    const bool is_it = dragged_shape_.empty()
                           ? mark.point == dragged_point_
                           : mark.shape == dragged_shape_ &&
                                 (mark.at == dragged_from_px_ || mark.at == dragged_to_px_);
    if (is_it) mark.at = photo_px;
  }
  dragged_to_px_ = photo_px;
  if (dragged_shape_.empty()) Q_EMIT mark_dragging(dragged_point_, photo_px);
}

const TracedMark* PhotoCanvas::mark_near(const QPointF& at) const {
  const TracedMark* nearest = nullptr;
  double least = kReach;
  const QTransform map = view_.transform();
  for (const TracedMark& mark : trace_.marks) {
    const double here = distance(map.map(mark.at), at);
    // Of two on one place the chosen one.
    if (here < least || (here <= least && mark.chosen)) {
      least = here;
      nearest = &mark;
    }
  }
  return nearest;
}

const TracedMark* PhotoCanvas::shape_mark_at_cursor() const {
  if (!cursor_px_) return nullptr;
  const TracedMark* nearest = nullptr;
  double least = kReach;
  const QTransform map = view_.transform();
  for (const TracedMark& mark : trace_.marks) {
    const double here = distance(map.map(mark.at), map.map(*cursor_px_));
    if (mark.shape.empty() || here >= least) continue;
    least = here;
    nearest = &mark;
  }
  return nearest;
}

std::vector<std::string> PhotoCanvas::points_near(const QPointF& at) const {
  const QTransform map = view_.transform();
  std::vector<std::pair<double, std::string>> near;
  const auto look = [&](const auto& things) {
    for (const auto& thing : things) {
      const double here = distance(map.map(thing.at), at);
      if (here < kReach && !thing.point.empty()) near.emplace_back(here, thing.point);
    }
  };
  look(trace_.marks);
  look(trace_.places);
  std::stable_sort(near.begin(), near.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
  std::vector<std::string> names;
  for (auto& [ignored, name] : near) names.push_back(std::move(name));
  return names;
}

void PhotoCanvas::mousePressEvent(QMouseEvent* event) {
  if (photo_.empty() || drag_ != Drag::kNone) return;
  pressed_at_ = last_at_ = event->position();
  if (event->button() == Qt::MiddleButton) {
    drag_ = Drag::kPan;
  } else if (event->button() == Qt::LeftButton) {
    drag_ = Drag::kPressed;
    dragged_point_.clear();
    dragged_shape_.clear();
    if (const TracedMark* mark = mark_near(pressed_at_); mark && may_drag(*mark)) {
      dragged_point_ = mark->point;
      dragged_shape_ = mark->shape;
      dragged_from_px_ = dragged_to_px_ = mark->at;
      grip_px_ = mark->at - view_.to_photo(pressed_at_);
    }
  } else {
    return QWidget::mousePressEvent(event);
  }
  event->accept();
}

void PhotoCanvas::mouseMoveEvent(QMouseEvent* event) {
  const QPointF at = event->position();
  if (drag_ == Drag::kPressed && distance(at, pressed_at_) >= QApplication::startDragDistance()) {
    drag_ = dragged_point_.empty() && dragged_shape_.empty() ? Drag::kPan : Drag::kMark;
  }
  if (drag_ == Drag::kPan) {
    setCursor(Qt::ClosedHandCursor);
    pan_by(at - last_at_);
  } else if (drag_ == Drag::kMark) {
    drag_mark_to(view_.to_photo(at) + grip_px_);
  }
  last_at_ = at;
  const QPointF px = view_.to_photo(at);
  cursor_px_ = area_of(photo_size_).contains(px) ? std::optional(px) : std::nullopt;
  Q_EMIT cursor_moved(cursor_px_);
  update();
}

void PhotoCanvas::mouseReleaseEvent(QMouseEvent* event) {
  const Drag was = drag_;
  if (was == Drag::kNone) return QWidget::mouseReleaseEvent(event);
  drag_ = Drag::kNone;
  setCursor(Qt::CrossCursor);
  const QPointF at = event->position();
  if (was == Drag::kMark) {
    const QPointF to = view_.to_photo(at) + grip_px_;
    if (dragged_shape_.empty()) {
      Q_EMIT mark_dragged(dragged_point_, to);
    } else {
      Q_EMIT shape_mark_dragged(dragged_shape_, dragged_from_px_, to);
    }
  } else if (was == Drag::kPressed) {
    const auto near = points_near(at);
    const QPointF px = view_.to_photo(at);
    // Where the chosen point is expected a click marks it; with Shift a place is meant even where
    // another's sign is near.
    const bool is_expected =
        !near.empty() &&
        std::any_of(trace_.places.begin(), trace_.places.end(), [&](const TracedPlace& place) {
          return place.chosen && place.point == near.front();
        });
    if (!near.empty() && !is_expected && !clicks_mean_places_ &&
        !(event->modifiers() & Qt::ShiftModifier)) {
      Q_EMIT point_clicked(near.front(), event->modifiers());
    } else if (area_of(photo_size_).contains(px)) {
      Q_EMIT place_clicked(px, event->modifiers());
    }
  }
}

void PhotoCanvas::wheelEvent(QWheelEvent* event) {
  // 120 is one notch; touch pads send less, more often.
  const double notches = event->angleDelta().y() / 120.0;
  if (notches != 0) zoom_by(std::pow(kZoomStep, notches), event->position());
  event->accept();
}

void PhotoCanvas::leaveEvent(QEvent*) {
  cursor_px_.reset();
  Q_EMIT cursor_moved(cursor_px_);
  update();
}

bool PhotoCanvas::event(QEvent* event) {
  if (event->type() == QEvent::ToolTip) {
    const auto* help = static_cast<QHelpEvent*>(event);
    const auto near = points_near(help->pos());
    QString tip;
    if (const TracedMark* mark = mark_near(help->pos())) {
      tip = mark->tip;
    } else if (!near.empty()) {
      tip = tr("%1, expected here").arg(QString::fromStdString(near.front()));
    }
    QToolTip::showText(help->globalPos(), tip, this);  // empty: hides it
    return true;
  }
  return QWidget::event(event);
}

}  // namespace desk
