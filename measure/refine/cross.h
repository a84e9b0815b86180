// The middle of a quartered target: the board's own refinement, for a mark.
#pragma once

#include "measure/refine/photo_window.h"
#include "measure/refine/refined_mark.h"

namespace measure {

/// calib::refine_cross for a photo or a part of it. The grey curve moves nothing here.
/// Errors: kLeavesPhoto, kLowContrast, kOtherShape, kWouldJump.
[[nodiscard]] Refinement refine_cross(const PhotoWindow& photo, const Eigen::Vector2d& position_px,
                                      const RefineOptions& options = {});

}  // namespace measure
