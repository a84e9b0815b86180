#include "measure/shapes/fit_form.h"

#include <algorithm>

#include "measure/shapes/fit_parts.h"
#include "measure/shapes/form_side.h"
#include "measure/shapes/start_values.h"

namespace measure {

using calib::Unexpected;

namespace internal {
namespace {

std::size_t least_points(FormKind kind) {
  switch (kind) {
    case FormKind::kPoint:
      return 1;
    case FormKind::kLine:
      return 2;
    case FormKind::kPlane:
    case FormKind::kCircle:
      return 3;
    case FormKind::kSphere:
      return 4;
    case FormKind::kCylinder:
      return 5;
    case FormKind::kCone:
      return 6;
  }
  return 0;
}

ShapeError too_few(FormKind kind) {
  switch (kind) {
    case FormKind::kPoint:
      return ShapeError::kNoFormToPoint;
    case FormKind::kLine:
      return ShapeError::kTooFewForLine;
    case FormKind::kPlane:
      return ShapeError::kTooFewPoints;
    case FormKind::kCircle:
      return ShapeError::kTooFewForCircle;
    case FormKind::kSphere:
      return ShapeError::kTooFewForSphere;
    case FormKind::kCylinder:
      return ShapeError::kTooFewForCylinder;
    case FormKind::kCone:
      return ShapeError::kTooFewForCone;
  }
  return ShapeError::kNoFormToPoint;
}

/// Departures of the points, or pairs of lateral ones of a line, from the conditions.
std::vector<DepartureRows> departures_of(FormKind kind, std::size_t count) {
  std::vector<DepartureRows> rows;
  for (std::size_t i = 0; i < count; ++i) {
    const auto at = static_cast<Eigen::Index>(i);
    if (kind == FormKind::kLine) {
      rows.push_back({2 * at, 2});
    } else if (kind == FormKind::kCircle) {
      rows.push_back({2 * at + 1, 1});
    } else {
      rows.push_back({at, 1});
    }
  }
  return rows;
}

}  // namespace
}  // namespace internal

calib::Result<FittedForm, ShapeError> fit_form(FormKind kind, const FitInput& input) {
  using namespace internal;
  if (kind == FormKind::kPoint) return Unexpected(ShapeError::kNoFormToPoint);
  if (input.points.size() < least_points(kind)) return Unexpected(too_few(kind));
  if (const auto problem = first_problem(input)) return Unexpected(*problem);
  const FitWeights weights(input);
  if (const auto problem = flat_problem(kind, input.points, weights)) return Unexpected(*problem);

  const FormModel& model = model_of(kind);
  const auto best = best_of(model, start_forms(kind, input.points), input, weights);
  if (!best)
    return Unexpected(best.error() == Unsettled::kOpen ? open_problem(kind)
                                                       : ShapeError::kFitDoesNotSettle);
  if (const auto problem = loose_problem(model, best->settled, kind, input.points, weights))
    return Unexpected(*problem);
  if (has_rival(model, *best, input, weights)) return Unexpected(ShapeError::kTwoShapesFit);

  FittedForm fitted =
      finished_fit(model, best->settled, input, weights, departures_of(kind, input.points.size()));
  Form sided = fitted.form;
  if (!take_side(sided, input.points)) return Unexpected(ShapeError::kSideUnknown);
  if (sided.direction.dot(fitted.form.direction) < 0) {
    turn_over(fitted);
    if (kind == FormKind::kPlane) fitted.departures = -fitted.departures;
  }
  fitted.form = sided;
  return fitted;
}

}  // namespace measure
