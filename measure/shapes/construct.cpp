#include "measure/shapes/construct.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Geometry>

#include "measure/shapes/chain_rule.h"

namespace measure {

using calib::Unexpected;
using internal::Inputs;
using internal::Scalar;
using internal::Vector;

namespace {

/// Within this of parallel the mid-plane is the one halfway between two faces: 10°.
constexpr double kFacing_rad = 0.1745329251994330;

Constructed constructed(Form form, const Vector& position, const Vector* direction,
                        std::size_t inputs) {
  Constructed result{.form = std::move(form)};
  result.form.position = position.value;
  if (direction != nullptr) result.form.direction = direction->value;
  for (std::size_t i = 0; i < inputs; ++i) {
    const auto at = kFormSize * static_cast<Eigen::Index>(i);
    FormMatrix by = FormMatrix::Zero();
    by.topRows<3>() = position.by.middleCols<kFormSize>(at);
    if (direction != nullptr) by.middleRows<3>(3) = direction->by.middleCols<kFormSize>(at);
    result.by_input.push_back(by);
  }
  return result;
}

ConstructResult lines_crossing(const Form& a, const Form& b) {
  const Inputs inputs(2);
  const Vector place_a = inputs.position(0, a), place_b = inputs.position(1, b);
  const Vector along_a = inputs.direction(0, a), along_b = inputs.direction(1, b);
  const Vector normal = cross(along_a, along_b), span = place_b - place_a;
  if (!(normal.value.norm() > std::sin(kNearlyParallel_rad)))
    return Unexpected(ShapeError::kLinesParallel);
  // The feet of the common perpendicular: a + s d_a and b + t d_b.
  const Scalar square = dot(normal, normal);
  const Scalar s = dot(cross(span, along_b), normal) / square;
  const Scalar t = dot(cross(span, along_a), normal) / square;
  const Vector middle = 0.5 * (place_a + s * along_a + place_b + t * along_b);
  Constructed result = constructed({.kind = FormKind::kPoint}, middle, nullptr, 2);
  result.gap = std::abs(dot(span, unit(normal)).value);
  return result;
}

ConstructResult line_plane_crossing(const Form& line, std::size_t line_at, const Form& plane,
                                    std::size_t plane_at) {
  if (!(std::abs(line.direction.dot(plane.direction)) > std::sin(kNearlyParallel_rad)))
    return Unexpected(ShapeError::kLineAlongPlane);
  const Inputs inputs(2);
  const Vector place = inputs.position(line_at, line), along = inputs.direction(line_at, line);
  const Vector normal = inputs.direction(plane_at, plane);
  const Scalar s = dot(inputs.position(plane_at, plane) - place, normal) / dot(along, normal);
  return constructed({.kind = FormKind::kPoint}, place + s * along, nullptr, 2);
}

ConstructResult planes_crossing(const Form& a, const Form& b) {
  const Inputs inputs(2);
  const Vector place_a = inputs.position(0, a), place_b = inputs.position(1, b);
  const Vector normal_a = inputs.direction(0, a), normal_b = inputs.direction(1, b);
  const Vector across = cross(normal_a, normal_b);
  if (!(across.value.norm() > std::sin(kNearlyParallel_rad)))
    return Unexpected(ShapeError::kPlanesParallel);
  const Vector middle = 0.5 * (place_a + place_b);
  const Scalar square = dot(across, across);
  // From the middle across the line: f_a and f_b are to become zero.
  const Scalar f_a = dot(middle - place_a, normal_a), f_b = dot(middle - place_b, normal_b);
  const Vector towards_a = cross(normal_b, across), towards_b = cross(across, normal_a);
  const Vector place = middle - ((f_a / square) * towards_a + (f_b / square) * towards_b);
  const Vector direction = unit(across);
  Constructed result = constructed({.kind = FormKind::kLine}, place, &direction, 2);
  const double reach_a = direction.value.dot(a.position - place.value);
  const double reach_b = direction.value.dot(b.position - place.value);
  result.form.from = std::min(reach_a, reach_b);
  result.form.to = std::max(reach_a, reach_b);
  return result;
}

}  // namespace

ConstructResult crossing(const Form& first, const Form& second) {
  const bool axis_1 = has_axis(first.kind), axis_2 = has_axis(second.kind);
  const bool flat_1 = is_flat(first.kind), flat_2 = is_flat(second.kind);
  if (axis_1 && axis_2) return lines_crossing(first, second);
  if (axis_1 && flat_2) return line_plane_crossing(first, 0, second, 1);
  if (flat_1 && axis_2) return line_plane_crossing(second, 1, first, 0);
  if (flat_1 && flat_2) return planes_crossing(first, second);
  return Unexpected(ShapeError::kNoCrossing);
}

ConstructResult mid_plane(const Form& first, const Form& second) {
  if (!is_flat(first.kind) || !is_flat(second.kind)) return Unexpected(ShapeError::kNeedsPlane);
  const Inputs inputs(2);
  const Vector place_1 = inputs.position(0, first), place_2 = inputs.position(1, second);
  const Vector normal_1 = inputs.direction(0, first), normal_2 = inputs.direction(1, second);
  double sign = normal_1.value.dot(normal_2.value) < 0 ? -1 : 1;
  if (normal_1.value.cross(normal_2.value).norm() > std::sin(kFacing_rad)) {
    // Each place's distance from the other plane: the plane between has them on different sides.
    const Eigen::Vector3d span = place_2.value - place_1.value;
    const double of_second = normal_1.value.dot(span), of_first = -normal_2.value.dot(span);
    const double least = 1e-3 * span.norm();
    if (!(std::abs(of_second) > least && std::abs(of_first) > least))
      return Unexpected(ShapeError::kMiddleUndecided);
    sign = of_second * of_first < 0 ? 1 : -1;
  }
  const Vector normal = unit(normal_1 + sign * normal_2);
  const Vector sum = normal_1 + sign * normal_2, middle = 0.5 * (place_1 + place_2);
  const Scalar off = dot(middle - place_1, normal_1) + sign * dot(middle - place_2, normal_2);
  const Vector place = middle - (off / length(sum)) * normal;
  return constructed({.kind = FormKind::kPlane}, place, &normal, 2);
}

ConstructResult parallel_plane(const Form& plane, double offset) {
  if (!is_flat(plane.kind)) return Unexpected(ShapeError::kNeedsPlane);
  const Inputs inputs(1);
  const Vector normal = inputs.direction(0, plane);
  return constructed({.kind = FormKind::kPlane}, inputs.position(0, plane) + offset * normal,
                     &normal, 1);
}

ConstructResult parallel_plane(const Form& plane, const Form& place) {
  if (!is_flat(plane.kind)) return Unexpected(ShapeError::kNeedsPlane);
  if (!is_place(place.kind)) return Unexpected(ShapeError::kNeedsPlace);
  const Inputs inputs(2);
  const Vector normal = inputs.direction(0, plane), from = inputs.position(0, plane);
  const Scalar offset = dot(inputs.position(1, place) - from, normal);
  return constructed({.kind = FormKind::kPlane}, from + offset * normal, &normal, 2);
}

}  // namespace measure
