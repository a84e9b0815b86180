// Radii, diameters and arcs.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "measure/shapes/construct.h"
#include "measure/shapes/measurand_parts.h"

namespace measure {

using calib::Unexpected;
using internal::Inputs;
using internal::Scalar;
using internal::Vector;

namespace {

bool is_round(FormKind kind) {
  return kind == FormKind::kCircle || kind == FormKind::kSphere || kind == FormKind::kCylinder;
}

/// A place nearer to the centre than this share of the radius has no direction from it.
constexpr double kAtCentre = 1e-3;
/// The place on the way must lie this share of the arc away from its ends, so that noise does not
/// choose the way.
constexpr double kViaApart = 0.02;
constexpr double kFullTurn = 2 * std::numbers::pi;

/// The turn about the circle's axis from one arm to another, −π to π.
Scalar turn(const Vector& from, const Vector& to, const Vector& axis) {
  return arc_tangent(dot(axis, cross(from, to)), dot(across(from, axis), across(to, axis)));
}

double positive(double angle) { return angle < 0 ? angle + kFullTurn : angle; }

}  // namespace

MeasurandResult radius(const Form& form) {
  if (!is_round(form.kind)) return Unexpected(ShapeError::kNeedsRound);
  return internal::unbounded(Inputs(1).radius(0, form));
}

MeasurandResult diameter(const Form& form) {
  if (!is_round(form.kind)) return Unexpected(ShapeError::kNeedsRound);
  return internal::unbounded(2 * Inputs(1).radius(0, form));
}

MeasurandResult arc_length(const Form& circle, const Form& from, const Form& to, const Form* via) {
  if (circle.kind != FormKind::kCircle) return Unexpected(ShapeError::kNeedsCircle);
  for (const Form* end : {&from, &to, via}) {
    if (end == nullptr) continue;
    if (!is_place(end->kind)) return Unexpected(ShapeError::kNeedsPlace);
    const Eigen::Vector3d arm = end->position - circle.position;
    if (!((arm - circle.direction.dot(arm) * circle.direction).norm() > kAtCentre * circle.radius))
      return Unexpected(ShapeError::kArcPointAtCentre);
  }
  const Inputs inputs(via == nullptr ? 3 : 4);
  const Vector centre = inputs.position(0, circle), axis = inputs.direction(0, circle);
  const Vector arm_from = inputs.position(1, from) - centre;
  const Scalar shorter = turn(arm_from, inputs.position(2, to) - centre, axis);
  const Scalar round = inputs.radius(0, circle);
  if (via == nullptr) {
    if (std::abs(shorter.value) > std::numbers::pi - kNearlyParallel_rad)
      return Unexpected(ShapeError::kArcHalfTurn);
    return internal::magnitude_measurand(round * shorter);
  }
  const double to_end = positive(shorter.value);
  const double to_via = positive(turn(arm_from, inputs.position(3, *via) - centre, axis).value);
  // Forwards over the place on the way, or else backwards.
  Scalar angle = shorter;
  if (to_via < to_end) {
    angle.value = to_end;
  } else {
    angle = -1 * shorter;
    angle.value = kFullTurn - to_end;
  }
  const double nearest = std::min({to_via, kFullTurn - to_via, std::abs(to_via - to_end)});
  if (!(nearest > kViaApart * angle.value)) return Unexpected(ShapeError::kArcViaAtEnd);
  return internal::unbounded(round * angle);
}

}  // namespace measure
