// Which way a fitted form points, by the order of its points. For this room's .cpp files.
#pragma once

#include "measure/shapes/form_model.h"

namespace measure::internal {

/// Turns the direction to the side that the order of the points tells, and enters how far they
/// reach along lines, cylinders and cones. False: the points of a plane or circle tell no side.
[[nodiscard]] bool take_side(Form& form, Points points);

}  // namespace measure::internal
