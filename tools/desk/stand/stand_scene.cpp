#include "tools/desk/stand/stand_scene.h"

#include <QCoreApplication>
#include <QFontMetricsF>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include <Eigen/Geometry>

#include "measure/live/predict.h"
#include "measure/live/trace.h"
#include "tools/desk/look/look.h"

namespace desk {
namespace {

struct Words {
  Q_DECLARE_TR_FUNCTIONS(desk::StandScene)
};

/// 1, 2 or 5 times a power of ten, not above.
double round_down_125(double value) {
  const double power = std::pow(10.0, std::floor(std::log10(value)));
  for (const double step : {5.0, 2.0}) {
    if (step * power <= value) return step * power;
  }
  return power;
}

/// Rectangles that labels have taken.
class Labels {
 public:
  bool place(QPainter& painter, const QPointF& at, const QString& text, const QColor& colour,
             const QRectF& surface) {
    const QFontMetricsF metrics(painter.font());
    for (const QPointF& shift : {QPointF(8, -6), QPointF(8, 14), QPointF(-8, -6), QPointF(-8, 14),
                                 QPointF(8, -22), QPointF(8, 30)}) {
      QRectF box = metrics.boundingRect(text);
      QPointF base = at + shift;
      if (shift.x() < 0) base.rx() -= box.width();
      box.translate(base);
      if (!surface.contains(box)) continue;
      const bool taken = std::any_of(taken_.begin(), taken_.end(),
                                     [&](const QRectF& other) { return other.intersects(box); });
      if (taken) continue;
      taken_.push_back(box.adjusted(-2, -1, 2, 1));
      draw_label(painter, base, text, colour);
      return true;
    }
    return false;
  }

 private:
  std::vector<QRectF> taken_;
};

}  // namespace

void StandScene::take(const DeskSession& session) {
  const bool was_empty = points_.empty();
  points_.clear();
  photos_.clear();
  strokes_.clear();
  const auto live = session.live();
  if (!live->survey) return;
  const measure::SurveyReport& report = live->survey->report();
  middle_.setZero();
  for (const measure::PointReport& point : report.points) {
    if (!point.placed) continue;
    points_.push_back({point.name, point.position, point.covariance, false});
    middle_ += point.position;
  }
  if (points_.empty()) return;
  middle_ /= static_cast<double>(points_.size());
  up_ = measure::upward(*live->survey);
  // A frame that does not jump when a photo is added: from the first photo's right hand.
  side_ = up_.unitOrthogonal();
  for (const measure::PhotoReport& photo : report.photos) {
    if (!photo.placed) continue;
    const Eigen::Vector3d right = photo.pose.rotation_matrix().row(0);
    const Eigen::Vector3d level = right - right.dot(up_) * up_;
    if (level.norm() > 0.1) {
      side_ = level.normalized();
      break;
    }
  }
  front_ = up_.cross(side_);
  radius_ = 0;
  lowest_ = 0;
  for (const PlacedPoint& point : points_) {
    radius_ = std::max(radius_, (point.position - middle_).norm());
    lowest_ = std::min(lowest_, (point.position - middle_).dot(up_));
  }
  radius_ = std::max(radius_, 1e-9);
  reach_ = radius_;
  for (const measure::Photo& photo : session.dossier().photos) {
    const auto oriented = measure::oriented_photo(*live->survey, photo.name);
    if (!oriented) continue;
    PlacedPhoto placed{photo.name, oriented->pose.centre(), {}};
    const Eigen::Matrix3d rotation = oriented->pose.rotation_matrix();
    const double depth = 0.16 * radius_;
    const std::array<Eigen::Vector2d, 4> frame{Eigen::Vector2d(0, 0),
                                               Eigen::Vector2d(photo.size.width, 0),
                                               Eigen::Vector2d(photo.size.width, photo.size.height),
                                               Eigen::Vector2d(0, photo.size.height)};
    for (std::size_t k = 0; k < 4; ++k) {
      const Eigen::Vector3d ray((frame[k].x() - oriented->camera.cx) / oriented->camera.fx,
                                (frame[k].y() - oriented->camera.cy) / oriented->camera.fy, 1.0);
      placed.corners[k] = placed.centre + rotation.transpose() * (depth * ray);
    }
    reach_ = std::max(reach_, (placed.centre - middle_).norm());
    photos_.push_back(std::move(placed));
  }
  const auto position = [&](const std::string& name) -> std::optional<Eigen::Vector3d> {
    const measure::PointReport* point = session.point_report(name);
    if (!point || !point->placed) return std::nullopt;
    return point->position;
  };
  for (const measure::ScaleBar& bar : session.dossier().bars) {
    const auto a = position(bar.from), b = position(bar.to);
    if (a && b) strokes_.push_back({*a, *b, QString::fromStdString(bar.name), true, {}});
  }
  for (const measure::AskedDimension& asked : session.dossier().dimensions) {
    const auto* distance = std::get_if<measure::Distance>(&asked.kind);
    if (!distance) continue;
    const auto a = position(distance->from), b = position(distance->to);
    if (!a || !b) continue;
    QString label;
    for (const measure::DimensionResult& result : live->dimensions) {
      if (result.name == asked.name && result.scale == "model" && result.problem.empty()) {
        label = QString::fromStdString(measure::result_text(result, session.unit()));
      }
    }
    strokes_.push_back({*a, *b, label, false, asked.name});
  }
  if (exaggeration_ == 0.0) {
    // So large that the middling ellipsoid can be seen, and no larger than it has to be.
    std::vector<double> sizes;
    for (const PlacedPoint& point : points_) sizes.push_back(std::sqrt(point.covariance.trace()));
    std::nth_element(sizes.begin(), sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2),
                     sizes.end());
    const double middling = sizes[sizes.size() / 2];
    exaggeration_ = middling > 0 ? round_down_125(std::max(1.0, 0.02 * radius_ / middling)) : 1.0;
  }
  if (was_empty) show_all();
}

void StandScene::suggest(std::optional<Eigen::Vector3d> camera, const Eigen::Vector3d& looking_at) {
  suggested_ = std::move(camera);
  suggested_target_ = looking_at;
}

void StandScene::turn(double azimuth_rad, double elevation_rad) {
  viewpoint_.azimuth_rad =
      std::remainder(viewpoint_.azimuth_rad + azimuth_rad, 2 * std::numbers::pi);
  viewpoint_.elevation_rad = std::clamp(viewpoint_.elevation_rad + elevation_rad, -1.55, 1.55);
}

void StandScene::zoom(double factor) {
  viewpoint_.distance = std::clamp(viewpoint_.distance / factor, 0.05, 50.0);
}

void StandScene::shift(double right, double up) {
  const Eye now = eye(QRectF(0, 0, 1, 1));
  const double scale = viewpoint_.distance * radius_ / now.focal_px;
  viewpoint_.centre -=
      scale * (right * now.rotation.row(0).transpose() - up * now.rotation.row(1).transpose());
}

void StandScene::show_all() {
  viewpoint_.centre = middle_;
  viewpoint_.distance = 2.4 * reach_ / radius_;
}

void StandScene::centre_on(const std::string& point) {
  for (const PlacedPoint& placed : points_) {
    if (placed.name == point) viewpoint_.centre = placed.position;
  }
}

void StandScene::set_exaggeration(double factor) { exaggeration_ = std::max(1.0, factor); }

std::optional<QPointF> StandScene::Eye::place(const Eigen::Vector3d& x) const {
  const Eigen::Vector3d at = seen(x);
  if (!(at.z() > 1e-6 * at.norm())) return std::nullopt;
  return middle + QPointF(focal_px * at.x() / at.z(), focal_px * at.y() / at.z());
}

StandScene::Eye StandScene::eye(const QRectF& surface) const {
  const double c = std::cos(viewpoint_.elevation_rad), s = std::sin(viewpoint_.elevation_rad);
  const Eigen::Vector3d towards_eye =
      c * (std::cos(viewpoint_.azimuth_rad) * side_ + std::sin(viewpoint_.azimuth_rad) * front_) +
      s * up_;
  Eye result;
  const Eigen::Vector3d z = -towards_eye;
  const Eigen::Vector3d x = z.cross(up_).normalized();
  result.rotation.row(0) = x;
  result.rotation.row(1) = z.cross(x);
  result.rotation.row(2) = z;
  result.centre = viewpoint_.centre + viewpoint_.distance * radius_ * towards_eye;
  result.focal_px = 1.2 * std::min(surface.width(), surface.height());
  result.middle = surface.center();
  return result;
}

std::optional<QPointF> StandScene::place_of(const std::string& point, const QRectF& surface) const {
  for (const PlacedPoint& placed : points_) {
    if (placed.name == point) return eye(surface).place(placed.position);
  }
  return std::nullopt;
}

void StandScene::paint(QPainter& painter, const QRectF& surface, const DeskSession& session) const {
  const QPalette palette = QPalette();
  painter.setRenderHint(QPainter::Antialiasing);
  painter.fillRect(surface, QColor(0x24, 0x27, 0x2A));
  if (points_.empty()) {
    painter.setPen(QColor(0xD8, 0xD8, 0xD4));
    painter.drawText(surface.adjusted(40, 40, -40, -40), Qt::AlignCenter | Qt::TextWordWrap,
                     Words::tr("Nothing stands in space yet. Mark six or more points, the same in "
                               "two photos or more."));
    return;
  }
  const Eye from = eye(surface);
  const auto line = [&](const Eigen::Vector3d& a, const Eigen::Vector3d& b) {
    const auto p = from.place(a), q = from.place(b);
    if (p && q) painter.drawLine(*p, *q);
  };

  // The floor: squares of a round size, so that lengths can be guessed by eye.
  const double step = round_down_125(0.5 * radius_);
  painter.setPen(QPen(QColor(255, 255, 255, 28), 1));
  const Eigen::Vector3d floor = middle_ + lowest_ * up_;
  const int lines = static_cast<int>(std::ceil(1.5 * radius_ / step));
  for (int k = -lines; k <= lines; ++k) {
    const double half = lines * step;
    line(floor + k * step * side_ - half * front_, floor + k * step * side_ + half * front_);
    line(floor + k * step * front_ - half * side_, floor + k * step * front_ + half * side_);
  }

  // Photos, and the lines of sight of the chosen point.
  const std::string& chosen_point = session.chosen_point();
  const measure::PointReport* chosen = session.point_report(chosen_point);
  for (const PlacedPhoto& photo : photos_) {
    const bool is_chosen = photo.name == session.chosen_photo();
    const bool sees = chosen && chosen->placed && session.mark_at(photo.name, chosen_point);
    painter.setPen(QPen(is_chosen
                            ? QColor(0xFF, 0xFF, 0xFF)
                            : (sees ? colour_of(MarkState::kPredicted) : QColor(0x9A, 0xA4, 0xAC)),
                        is_chosen ? 2.2 : 1.2));
    for (std::size_t k = 0; k < 4; ++k) {
      line(photo.centre, photo.corners[k]);
      line(photo.corners[k], photo.corners[(k + 1) % 4]);
    }
    // The upper edge is drawn twice as thick: which way up the photo is.
    QPen thick = painter.pen();
    thick.setWidthF(2.5 * thick.widthF());
    painter.setPen(thick);
    line(photo.corners[0], photo.corners[1]);
    if (sees) {
      painter.setPen(QPen(QColor(0x56, 0xB4, 0xE9, 90), 1.0));
      line(photo.centre, chosen->position);
    }
  }
  if (suggested_) {
    painter.setPen(QPen(kWeakColour.lighter(130), 2.0, Qt::DashLine));
    line(*suggested_, suggested_target_);
  }

  // Bars and dimensions.
  for (const Stroke& stroke : strokes_) {
    const bool is_chosen = !stroke.is_bar && stroke.dimension == session.chosen_dimension();
    painter.setPen(QPen(stroke.is_bar ? kBarColour : kDimensionColour, is_chosen ? 3.0 : 1.4));
    line(stroke.a, stroke.b);
  }

  // Points, far ones first.
  std::vector<std::pair<double, const PlacedPoint*>> order;
  for (const PlacedPoint& point : points_) {
    order.emplace_back(-from.seen(point.position).z(), &point);
  }
  std::sort(order.begin(), order.end());
  for (const auto& [minus_depth, point] : order) {
    const auto at = from.place(point->position);
    if (!at) continue;
    const Eigen::Vector3d seen = from.seen(point->position);
    Eigen::Matrix<double, 2, 3> by;
    by << from.focal_px / seen.z(), 0, -from.focal_px * seen.x() / (seen.z() * seen.z()), 0,
        from.focal_px / seen.z(), -from.focal_px * seen.y() / (seen.z() * seen.z());
    by = by * from.rotation;
    const measure::ErrorEllipse ellipse = measure::confidence_ellipse(
        exaggeration_ * exaggeration_ * by * point->covariance * by.transpose());
    const bool is_chosen = point->name == chosen_point;
    const QColor colour = is_chosen ? QColor(0xE6, 0x9F, 0x00) : QColor(0xE8, 0xE8, 0xE4);
    painter.save();
    painter.translate(*at);
    painter.rotate(ellipse.angle_rad * 180 / std::numbers::pi);
    QColor fill = colour;
    fill.setAlpha(45);
    painter.setBrush(fill);
    QColor rim = colour;
    rim.setAlpha(150);
    painter.setPen(QPen(rim, 1.0));
    // Along the line of sight two dimensions of three are seen: 95 % in the plane of the picture.
    painter.drawEllipse(QPointF(0, 0), std::min(ellipse.semi_major, 4000.0),
                        std::min(ellipse.semi_minor, 4000.0));
    painter.restore();
    painter.setBrush(colour);
    painter.setPen(Qt::NoPen);
    const double size = is_chosen ? 4.0 : 2.2;
    painter.drawEllipse(*at, size, size);
  }
  painter.setBrush(Qt::NoBrush);

  Labels labels;
  if (suggested_) {
    if (const auto at = from.place(*suggested_)) {
      painter.setPen(QPen(kWeakColour.lighter(130), 2.0));
      painter.drawRect(QRectF(*at - QPointF(6, 6), QSizeF(12, 12)));
      labels.place(painter, *at, Words::tr("a new photo from here"), kWeakColour.lighter(150),
                   surface);
    }
  }
  for (const PlacedPoint& point : points_) {
    if (point.name != chosen_point) continue;
    if (const auto at = from.place(point.position)) {
      labels.place(painter, *at, QString::fromStdString(point.name), QColor(0xFF, 0xC8, 0x4A),
                   surface);
    }
  }
  for (const Stroke& stroke : strokes_) {
    const bool is_chosen = !stroke.is_bar && stroke.dimension == session.chosen_dimension();
    // All values at once would hide the original: the chosen one, the bars, and on demand the rest.
    if (stroke.label.isEmpty() || !(stroke.is_bar || is_chosen || show_names)) continue;
    const auto at = from.place(0.5 * (stroke.a + stroke.b));
    if (at) {
      labels.place(painter, *at, stroke.label,
                   stroke.is_bar ? kBarColour.lighter(130) : kDimensionColour, surface);
    }
  }
  for (const PlacedPhoto& photo : photos_) {
    if (!show_names && photo.name != session.chosen_photo()) continue;
    if (const auto at = from.place(photo.centre)) {
      labels.place(painter, *at, QString::fromStdString(photo.name), QColor(0xC8, 0xD2, 0xDA),
                   surface);
    }
  }
  if (show_names) {
    for (const PlacedPoint& point : points_) {
      if (const auto at = from.place(point.position)) {
        labels.place(painter, *at, QString::fromStdString(point.name), QColor(0xE8, 0xE8, 0xE4),
                     surface);
      }
    }
  }

  const bool has_scale = session.live()->survey &&
                         session.live()->survey->report().unit == measure::LengthUnit::kMillimetre;
  QString foot = Words::tr("Ellipses hold 95 %, drawn %1 × their size.").arg(exaggeration_);
  foot += ' ';
  foot += has_scale ? Words::tr("Squares on the floor: %1 mm.").arg(step)
                    : Words::tr("No scale bar: sizes are relative.");
  draw_label(painter, surface.bottomLeft() + QPointF(12, -12), foot, QColor(0xD8, 0xD8, 0xD4));
}

StandHit StandScene::hit(const QPointF& at, const QRectF& surface) const {
  const Eye from = eye(surface);
  constexpr double kReach = 10.0;
  StandHit result;
  double best = kReach * kReach;
  for (const PlacedPoint& point : points_) {
    const auto place = from.place(point.position);
    if (!place) continue;
    const QPointF off = *place - at;
    const double square = QPointF::dotProduct(off, off);
    if (square < best) {
      best = square;
      result.point = point.name;
    }
  }
  if (!result.point.empty()) return result;
  best = 4 * kReach * kReach;
  for (const PlacedPhoto& photo : photos_) {
    const auto place = from.place(photo.centre);
    if (!place) continue;
    const QPointF off = *place - at;
    const double square = QPointF::dotProduct(off, off);
    if (square < best) {
      best = square;
      result.photo = photo.name;
    }
  }
  return result;
}

}  // namespace desk
