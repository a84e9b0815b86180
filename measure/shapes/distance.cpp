// Distances: between places, lines and planes; along a direction; signed, from a plane.
#include <cmath>

#include "measure/shapes/construct.h"
#include "measure/shapes/measurand_parts.h"

namespace measure {

using calib::Unexpected;
using internal::Inputs;
using internal::Vector;

namespace {

/// Line or cylinder: a cone counts by its apex here.
bool is_axis(FormKind kind) { return has_axis(kind) && !is_place(kind); }

Measurand between_lines(const Form& a, const Form& b) {
  const Inputs inputs(2);
  const Vector span = inputs.position(1, b) - inputs.position(0, a);
  const Vector normal = cross(inputs.direction(0, a), inputs.direction(1, b));
  if (normal.value.norm() > std::sin(kNearlyParallel_rad))
    return internal::magnitude_measurand(dot(span, unit(normal)));
  const Vector from_middle = inputs.middle(1, b) - inputs.position(0, a);
  Measurand result = internal::length_measurand(across(from_middle, inputs.direction(0, a)));
  result.note = "nearly parallel: measured in the middle of the second one";
  return result;
}

}  // namespace

MeasurandResult distance(const Form& a, const Form& b) {
  const Inputs inputs(2);
  const bool place_a = is_place(a.kind), place_b = is_place(b.kind);
  const Vector span = inputs.position(1, b) - inputs.position(0, a);
  if (place_a && place_b) return internal::length_measurand(span);
  if (place_a && is_axis(b.kind))
    return internal::length_measurand(across(span, inputs.direction(1, b)));
  if (is_axis(a.kind) && place_b)
    return internal::length_measurand(across(span, inputs.direction(0, a)));
  if (is_axis(a.kind) && is_axis(b.kind)) return between_lines(a, b);
  if (place_a) return internal::magnitude_measurand(dot(span, inputs.direction(1, b)));
  if (place_b) return internal::magnitude_measurand(dot(span, inputs.direction(0, a)));
  return Unexpected(ShapeError::kDistanceNeedsGap);
}

MeasurandResult along(const Form& a, const Form& b, const Form& axis) {
  if (!is_place(a.kind) || !is_place(b.kind)) return Unexpected(ShapeError::kNeedsPlace);
  if (!has_axis(axis.kind) && !is_flat(axis.kind)) return Unexpected(ShapeError::kNeedsDirection);
  const Inputs inputs(3);
  return internal::unbounded(
      dot(inputs.position(1, b) - inputs.position(0, a), inputs.direction(2, axis)));
}

MeasurandResult offset_plane(const Form& place, const Form& plane) {
  if (!is_place(place.kind)) return Unexpected(ShapeError::kNeedsPlace);
  if (!is_flat(plane.kind)) return Unexpected(ShapeError::kNeedsPlane);
  const Inputs inputs(2);
  return internal::unbounded(
      dot(inputs.position(0, place) - inputs.position(1, plane), inputs.direction(1, plane)));
}

MeasurandResult mirror_departure(const Form& one, const Form& other, const Form& plane) {
  if (!is_place(one.kind) || !is_place(other.kind)) return Unexpected(ShapeError::kNeedsPlace);
  if (!is_flat(plane.kind)) return Unexpected(ShapeError::kNeedsPlane);
  const Inputs inputs(3);
  const Vector from = inputs.position(0, one), normal = inputs.direction(2, plane);
  const Vector image = from - 2 * (dot(from - inputs.position(2, plane), normal) * normal);
  return internal::length_measurand(image - inputs.position(1, other));
}

}  // namespace measure
