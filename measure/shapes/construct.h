// Shapes made of shapes: crossings, mid-planes, parallel planes, with their derivatives.
#pragma once

#include <vector>

#include <Eigen/Core>

#include "calib/base/result.h"
#include "measure/shapes/form.h"
#include "measure/shapes/shape_error.h"

namespace measure {

/// A form and how it follows the forms that it was made of.
struct Constructed {
  Form form;
  std::vector<FormMatrix> by_input = {};  ///< of the form's numbers, by those of each input in turn
  double gap = 0.0;  ///< crossing of two lines: how far they pass from each other; else 0
};

using ConstructResult = calib::Result<Constructed, ShapeError>;

/// Forms closer to parallel than this have no crossing worth the name.
inline constexpr double kNearlyParallel_rad = 0.01745329251994330;  // 1°

/// By kind: two lines or axes cross in the middle of their common perpendicular (`gap` long); a
/// line or axis crosses a plane or a circle's plane in a point; two planes cross in a line, along
/// first normal × second normal, placed beside the middle of both planes' positions.
/// Errors: kNoCrossing, kLinesParallel, kLineAlongPlane, kPlanesParallel.
[[nodiscard]] ConstructResult crossing(const Form& first, const Form& second);

/// The plane halfway between two planes (or circles' planes), normal on the first one's side.
/// Within 10° of parallel: halfway between the faces; else of the two that halve the angle the one
/// that passes between both positions. Errors: kNeedsPlane, kMiddleUndecided.
[[nodiscard]] ConstructResult mid_plane(const Form& first, const Form& second);

/// The plane moved by the offset towards its positive side. Errors: kNeedsPlane.
[[nodiscard]] ConstructResult parallel_plane(const Form& plane, double offset);
/// The plane moved along its normal until it holds the place. Errors: kNeedsPlane, kNeedsPlace.
[[nodiscard]] ConstructResult parallel_plane(const Form& plane, const Form& place);

}  // namespace measure
