#include "tools/desk/photos/tracer.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <Eigen/Geometry>

namespace desk {
namespace {

constexpr double kArcPart = 0.3;  // of the shorter leg of an angle
constexpr double kRingStep = 2 * std::numbers::pi / 120;

QPolygonF polygon(const std::vector<Eigen::Vector2d>& course) {
  QPolygonF line;
  for (const Eigen::Vector2d& at : course) line << QPointF(at.x(), at.y());
  return line;
}

std::pair<Eigen::Vector3d, Eigen::Vector3d> across(const Eigen::Vector3d& axis) {
  const Eigen::Vector3d x = axis.unitOrthogonal();
  return {x, axis.cross(x)};
}

TracedCurve without_label(TracedCurve like) {
  like.label.clear();
  return like;
}

}  // namespace

std::optional<measure::Form> Tracer::form(const std::string& name) const {
  if (const measure::PointReport* report = session_.point_report(name)) {
    if (!report->placed) return std::nullopt;
    return measure::point_form(report->position);
  }
  const measure::FormResult* found = session_.form_of(name);
  if (!found || !found->problem.empty()) return std::nullopt;
  return found->form;
}

std::optional<Eigen::Vector3d> Tracer::at(const std::string& name) const {
  const auto found = form(name);
  if (!found) return std::nullopt;
  return measure::is_place(found->kind) ? found->position : measure::middle(*found);
}

Eigen::Vector3d Tracer::sight(const Eigen::Vector3d& place) const {
  return (place - photo_.pose.centre()).normalized();
}

Eigen::Vector3d Tracer::across_sight(const Eigen::Vector3d& place,
                                     const Eigen::Vector3d& axis) const {
  const Eigen::Vector3d both = axis.cross(sight(place));
  return both.norm() > 1e-3 ? Eigen::Vector3d(both.normalized()) : axis.unitOrthogonal();
}

void Tracer::line(const Eigen::Vector3d& a, const Eigen::Vector3d& b, TracedCurve like) {
  like.course = polygon(measure::trace_line(photo_, size_, a, b));
  if (like.course.size() >= 2) trace_.curves.push_back(std::move(like));
}

void Tracer::arc(const Eigen::Vector3d& vertex, const Eigen::Vector3d& first,
                 const Eigen::Vector3d& second, TracedCurve like) {
  const Eigen::Vector3d a = first - vertex, b = second - vertex;
  const double radius = kArcPart * std::min(a.norm(), b.norm());
  const double angle = std::atan2(a.cross(b).norm(), a.dot(b));
  if (!(radius > 0) || !(angle > 0) || a.cross(b).norm() == 0) return;
  ring(vertex, radius, a.normalized(), a.cross(b).cross(a).normalized(), angle, std::move(like));
}

void Tracer::ring(const Eigen::Vector3d& centre, double radius, const Eigen::Vector3d& x,
                  const Eigen::Vector3d& y, double angle, TracedCurve like) {
  // Where it passes behind the camera it is cut: the parts before and behind are not joined.
  const int steps = std::max(12, static_cast<int>(std::ceil(std::abs(angle) / kRingStep)));
  std::vector<QPolygonF> runs(1);
  for (int s = 0; s <= steps; ++s) {
    const double turned = angle * s / steps;
    const auto px =
        measure::project(photo_, centre + radius * (std::cos(turned) * x + std::sin(turned) * y));
    if (px) {
      runs.back() << QPointF(px->x(), px->y());
    } else if (!runs.back().empty()) {
      runs.emplace_back();
    }
  }
  for (QPolygonF& run : runs) {
    if (run.size() < 2) continue;
    like.course = std::move(run);
    trace_.curves.push_back(like);
    like.label.clear();
  }
}

void Tracer::shape(const measure::Form& form, const TracedCurve& like) {
  using measure::FormKind;
  switch (form.kind) {
    case FormKind::kLine:
      line(form.position + form.from * form.direction, form.position + form.to * form.direction,
           like);
      break;
    case FormKind::kCircle: {
      const auto [x, y] = across(form.direction);
      ring(form.position, form.radius, x, y, 2 * std::numbers::pi, like);
      break;
    }
    case FormKind::kCylinder:
      cylinder(form, like);
      break;
    case FormKind::kCone:
      cone(form, like);
      break;
    case FormKind::kSphere:
      sphere(form, like);
      break;
    default:  // points have signs, planes have the points that they go through
      break;
  }
}

/// The two lines along which planes through the camera touch it, and its ends.
void Tracer::cylinder(const measure::Form& form, const TracedCurve& like) {
  const Eigen::Vector3d to_camera = photo_.pose.centre() - form.position;
  const Eigen::Vector3d beside = to_camera - form.direction * form.direction.dot(to_camera);
  const double ratio = form.radius / beside.norm();
  if (!(ratio < 1)) return;  // the camera is inside
  const Eigen::Vector3d u = beside.normalized(), v = form.direction.cross(u);
  const Eigen::Vector3d from = form.position + form.from * form.direction,
                        to = form.position + form.to * form.direction;
  TracedCurve curve = like;
  for (const double side : {1.0, -1.0}) {
    const Eigen::Vector3d out = form.radius * (ratio * u + side * std::sqrt(1 - ratio * ratio) * v);
    line(from + out, to + out, curve);
    curve.label.clear();
  }
  TracedCurve end = without_label(like);
  end.dashed = true;
  for (const Eigen::Vector3d& centre : {from, to}) {
    ring(centre, form.radius, u, v, 2 * std::numbers::pi, end);
  }
}

/// Rings at its ends and four lines on it, with the axis.
void Tracer::cone(const measure::Form& form, const TracedCurve& like) {
  const auto [x, y] = across(form.direction);
  const double widening = std::tan(form.half_angle);
  TracedCurve curve = like;
  for (const double along : {form.to, form.from}) {
    ring(form.position + along * form.direction, std::abs(along) * widening, x, y,
         2 * std::numbers::pi, curve);
    curve.label.clear();
  }
  for (int quarter = 0; quarter < 4; ++quarter) {
    const double turned = quarter * std::numbers::pi / 2;
    const Eigen::Vector3d out =
        form.direction + widening * (std::cos(turned) * x + std::sin(turned) * y);
    line(form.position + form.from * out, form.position + form.to * out, curve);
  }
}

/// The ring that cuts the lines of sight which touch it.
void Tracer::sphere(const measure::Form& form, const TracedCurve& like) {
  const Eigen::Vector3d to_camera = photo_.pose.centre() - form.position;
  const double ratio = form.radius / to_camera.norm();
  if (!(ratio < 1)) return;
  const Eigen::Vector3d towards = to_camera.normalized();
  const auto [x, y] = across(towards);
  ring(form.position + form.radius * ratio * towards, form.radius * std::sqrt(1 - ratio * ratio), x,
       y, 2 * std::numbers::pi, like);
}

Eigen::Vector3d nearest_place(const measure::Form& form, const Eigen::Vector3d& to) {
  using measure::FormKind;
  const double along = form.direction.dot(to - form.position);
  if (form.kind == FormKind::kPlane) return to - along * form.direction;
  if (form.kind == FormKind::kLine || form.kind == FormKind::kCylinder) {
    return form.position + along * form.direction;
  }
  return form.position;
}

std::pair<Eigen::Vector3d, Eigen::Vector3d> nearest_places(const measure::Form& a,
                                                           const measure::Form& b) {
  using measure::FormKind;
  const auto is_line = [](const measure::Form& form) {
    return form.kind == FormKind::kLine || form.kind == FormKind::kCylinder;
  };
  if (is_line(a) && is_line(b)) {
    const Eigen::Vector3d common = a.direction.cross(b.direction);
    const double square = common.squaredNorm();
    constexpr double kParallel = 1e-12;
    if (square > kParallel) {
      const Eigen::Vector3d apart = b.position - a.position;
      return {a.position + apart.cross(b.direction).dot(common) / square * a.direction,
              b.position + apart.cross(a.direction).dot(common) / square * b.direction};
    }
  }
  const bool a_is_whole = is_line(a) || a.kind == FormKind::kPlane;
  const Eigen::Vector3d begin = a_is_whole && !(is_line(b) || b.kind == FormKind::kPlane)
                                    ? nearest_place(a, b.position)
                                : measure::is_place(a.kind) ? a.position
                                                            : measure::middle(a);
  return {begin, nearest_place(b, begin)};
}

}  // namespace desk
