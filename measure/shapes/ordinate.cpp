// Coordinates in the model's own axes.
#include <cmath>

#include "measure/shapes/measurand_parts.h"

namespace measure {

using calib::Unexpected;
using internal::Inputs;
using internal::Vector;

namespace {

/// A line that stands steeper on the plane than this gives no axis in it: 80°.
constexpr double kSteepest_rad = 1.396263401595464;

}  // namespace

MeasurandResult ordinate(const Form& place, const AxesForms& axes, AxisName which) {
  if (!is_place(place.kind) || !is_place(axes.origin.kind))
    return Unexpected(ShapeError::kNeedsPlace);
  if (!is_flat(axes.plane.kind)) return Unexpected(ShapeError::kNeedsPlane);
  if (!has_axis(axes.line.kind)) return Unexpected(ShapeError::kNeedsDirection);
  if (std::abs(axes.plane.direction.dot(axes.line.direction)) > std::sin(kSteepest_rad))
    return Unexpected(ShapeError::kAxesLineAcross);
  const Inputs inputs(4);
  const Vector at = inputs.position(0, place), z = inputs.direction(1, axes.plane);
  const Vector x = unit(across(inputs.direction(2, axes.line), z));
  switch (which) {
    case AxisName::kX:
      return internal::unbounded(dot(at - inputs.position(3, axes.origin), x));
    case AxisName::kY:
      return internal::unbounded(dot(at - inputs.position(2, axes.line), cross(z, x)));
    case AxisName::kZ:
      break;
  }
  return internal::unbounded(dot(at - inputs.position(1, axes.plane), z));
}

}  // namespace measure
