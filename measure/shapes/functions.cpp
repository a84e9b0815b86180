#include "measure/shapes/functions.h"

#include <cmath>

#include <Eigen/Geometry>

namespace measure {

using calib::Unexpected;
using Eigen::Vector3d;

namespace {

/// Points are taken as coincident when closer than this share of their coordinates: far below any
/// measurement, far above rounding.
constexpr double kDegenerate = 1e-9;

bool coincide(const Vector3d& a, const Vector3d& b) {
  return (b - a).norm() <= kDegenerate * (a.norm() + b.norm());
}

}  // namespace

ValueGradient distance(const Vector3d& a, const Vector3d& b) {
  const Vector3d span = b - a;
  ValueGradient result{span.norm(), Eigen::VectorXd::Zero(6)};
  if (result.value > 0) result.gradient << -span / result.value, span / result.value;
  return result;
}

ShapeResult distance_along(const Vector3d& a, const Vector3d& b, const Vector3d& axis_from,
                           const Vector3d& axis_to) {
  if (coincide(axis_from, axis_to)) return Unexpected(ShapeError::kAxisWithoutLength);
  const Vector3d axis = axis_to - axis_from;
  const double length = axis.norm();
  const Vector3d direction = axis / length, span = b - a;
  ValueGradient result{span.dot(direction), Eigen::VectorXd(12)};
  // The axis turns only by the part of the span that stands across it.
  const Vector3d by_axis = (span - result.value * direction) / length;
  result.gradient << -direction, direction, -by_axis, by_axis;
  return result;
}

ShapeResult angle_at(const Vector3d& first, const Vector3d& vertex, const Vector3d& second) {
  if (coincide(first, vertex) || coincide(second, vertex))
    return Unexpected(ShapeError::kAxisWithoutLength);
  const Vector3d a = first - vertex, b = second - vertex;
  const Vector3d normal = a.cross(b);
  const double sine = normal.norm(), cosine = a.dot(b);
  ValueGradient result{std::atan2(sine, cosine), Eigen::VectorXd::Zero(9)};
  if (!(sine > 0)) return result;  // exactly 0 or π: the gradient does not exist
  const Vector3d axis = normal / sine;
  // Moving a point across its arm, within the plane of the angle, turns the arm by 1/length.
  const Vector3d by_first = a.cross(axis) / a.squaredNorm();
  const Vector3d by_second = axis.cross(b) / b.squaredNorm();
  result.gradient << by_first, -by_first - by_second, by_second;
  return result;
}

ShapeResult offset_from_line(const Vector3d& p, const Vector3d& a, const Vector3d& b) {
  if (coincide(a, b)) return Unexpected(ShapeError::kAxisWithoutLength);
  const Vector3d axis = b - a;
  const double length2 = axis.squaredNorm();
  const double along = (p - a).dot(axis) / length2;  // 0 at a, 1 at b
  const Vector3d across = p - a - along * axis;
  ValueGradient result{across.norm(), Eigen::VectorXd::Zero(9)};
  if (result.value > 0) {
    const Vector3d direction = across / result.value;
    result.gradient << direction, -(1 - along) * direction, -along * direction;
  }
  return result;
}

ShapeResult offset_from_plane(const Vector3d& p, std::span<const Vector3d> plane_points) {
  const auto plane = fit_plane(plane_points);
  if (!plane) return Unexpected(plane.error());
  const auto count = static_cast<Eigen::Index>(plane_points.size());
  const Vector3d arm = p - plane->centroid;
  ValueGradient result{plane->normal.dot(arm), Eigen::VectorXd(3 * (1 + count))};
  result.gradient.head<3>() = plane->normal;
  result.gradient.tail(3 * count) = plane->normal_by_points.transpose() * arm;
  for (Eigen::Index j = 1; j <= count; ++j) {
    result.gradient.segment<3>(3 * j) -= plane->normal / static_cast<double>(count);
  }
  return result;
}

}  // namespace measure
