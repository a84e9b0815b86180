// Gaps between forms that run along each other.
#include <cmath>

#include <Eigen/Geometry>

#include "measure/shapes/measurand_parts.h"

namespace measure {

using calib::Unexpected;
using internal::Inputs;
using internal::Vector;

namespace {

constexpr double kFarFromParallel_rad = 0.1745329251994330;  // 10°

/// Mean of two directions that may point opposite ways, on the first one's side.
Vector mean_direction(const Vector& a, const Vector& b) {
  return unit(a.value.dot(b.value) < 0 ? a - b : a + b);
}

bool runs_along(const Form& a, const Form& b) {
  return a.direction.cross(b.direction).norm() <= std::sin(kFarFromParallel_rad);
}

/// Line first. The plane's normal at its own place and at the line's: halfway between the normal
/// and what is left of it at right angles to the line.
MeasurandResult line_and_plane(const Form& line, std::size_t line_at, const Form& plane,
                               std::size_t plane_at) {
  if (std::abs(line.direction.dot(plane.direction)) > std::sin(kFarFromParallel_rad))
    return Unexpected(ShapeError::kGapNotParallel);
  const Inputs inputs(2);
  const Vector normal = inputs.direction(plane_at, plane);
  const Vector beside = unit(across(normal, inputs.direction(line_at, line)));
  const Vector span = inputs.middle(line_at, line) - inputs.middle(plane_at, plane);
  return internal::magnitude_measurand(dot(span, mean_direction(normal, beside)));
}

}  // namespace

MeasurandResult gap(const Form& a, const Form& b) {
  const auto is_line = [](FormKind kind) {
    return kind == FormKind::kLine || kind == FormKind::kCylinder;
  };
  const bool line_a = is_line(a.kind), line_b = is_line(b.kind);
  if ((!line_a && !is_flat(a.kind)) || (!line_b && !is_flat(b.kind)))
    return Unexpected(ShapeError::kGapNeedsStraight);
  if (line_a && !line_b) return line_and_plane(a, 0, b, 1);
  if (!line_a && line_b) return line_and_plane(b, 1, a, 0);
  if (!runs_along(a, b)) return Unexpected(ShapeError::kGapNotParallel);
  const Inputs inputs(2);
  const Vector span = inputs.middle(1, b) - inputs.middle(0, a);
  const Vector mean = mean_direction(inputs.direction(0, a), inputs.direction(1, b));
  return line_a ? internal::length_measurand(across(span, mean))
                : internal::magnitude_measurand(dot(span, mean));
}

}  // namespace measure
