// Where two straight edges or narrow lines cross, though the crossing itself may be rounded off.
#pragma once

#include "measure/refine/photo_window.h"
#include "measure/refine/refined_mark.h"

namespace measure {

/// Refines a mark at the crossing of two straight things, each an edge (a step) or a narrow line
/// (a panel line: dark or bright between like sides), seen on one side of the crossing or on both.
///
/// Lines are found by votes of the grey value's slope; the pair that crosses within the radius and
/// is best supported is taken. Each is fitted along its whole length, without the pixels about the
/// crossing and without stretches that do not fit (a rivet, a chip); a step goes through the
/// camera's grey curve, and with a camera both are followed as the lens bends them.
/// Errors: kLeavesPhoto, kLowContrast, kSaturated, kOtherShape, kWouldJump, kOneDirection,
///         kAmbiguous, kNotPrecise.
[[nodiscard]] Refinement refine_crossing(const PhotoWindow& photo,
                                         const Eigen::Vector2d& position_px,
                                         const RefineOptions& options = {});

}  // namespace measure
