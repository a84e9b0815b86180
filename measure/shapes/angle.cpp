// Angles between directions and at a vertex.
#include <cmath>
#include <numbers>

#include "measure/shapes/measurand_parts.h"

namespace measure {

using calib::Unexpected;
using internal::angle_measurand;
using internal::Inputs;
using internal::Scalar;
using internal::Vector;

namespace {

constexpr double kRightAngle = std::numbers::pi / 2;
/// Places closer than this share of their coordinates coincide: far below any measurement, far
/// above rounding.
constexpr double kDegenerate = 1e-9;

bool coincide(const Form& a, const Form& b) {
  return (b.position - a.position).norm() <= kDegenerate * (a.position.norm() + b.position.norm());
}

}  // namespace

MeasurandResult angle_between(const Form& a, const Form& b) {
  const bool flat_a = is_flat(a.kind), flat_b = is_flat(b.kind);
  if ((!flat_a && !has_axis(a.kind)) || (!flat_b && !has_axis(b.kind)))
    return Unexpected(ShapeError::kAngleNeedsDirection);
  const Inputs inputs(2);
  const Vector direction_a = inputs.direction(0, a), direction_b = inputs.direction(1, b);
  const Scalar together = dot(direction_a, direction_b);
  const Vector apart = across(direction_a, direction_b);  // as long as the sine between both
  if (flat_a == flat_b) {
    const Scalar angle = arc_tangent(length(apart), magnitude(together));
    return angle.value < kRightAngle / 2 ? angle_measurand(angle, apart, 0)
                                         : angle_measurand(angle, together, kRightAngle);
  }
  const Scalar angle = arc_tangent(magnitude(together), length(apart));
  return angle.value < kRightAngle / 2 ? angle_measurand(angle, together, 0)
                                       : angle_measurand(angle, apart, kRightAngle);
}

MeasurandResult angle_at(const Form& first, const Form& vertex, const Form& second) {
  for (const Form* form : {&first, &vertex, &second}) {
    if (!is_place(form->kind)) return Unexpected(ShapeError::kNeedsPlace);
  }
  if (coincide(first, vertex) || coincide(second, vertex))
    return Unexpected(ShapeError::kAxisWithoutLength);
  const Inputs inputs(3);
  const Vector at = inputs.position(1, vertex);
  const Vector one = unit(inputs.position(0, first) - at);
  const Vector other = unit(inputs.position(2, second) - at);
  const Vector apart = across(one, other);
  const Scalar angle = arc_tangent(length(apart), dot(one, other));
  return angle_measurand(angle, apart, angle.value > kRightAngle ? std::numbers::pi : 0.0);
}

MeasurandResult cone_angle(const Form& cone) {
  if (cone.kind != FormKind::kCone) return Unexpected(ShapeError::kNeedsCone);
  Measurand result = internal::unbounded(2 * Inputs(1).half_angle(0, cone));
  result.length_exponent = 0;
  return result;
}

}  // namespace measure
