// The centre of a round thing: bolt head, hatch, hole, dot.
#pragma once

#include "measure/refine/photo_window.h"
#include "measure/refine/refined_mark.h"

namespace measure {

/// Refines a mark in a round thing that stands out in one sense (bright or dark) all around.
///
/// The outline is the closed path of strongest step around the position; an ellipse through its
/// points starts the fit of a blurred ellipse to the grey values about the outline. Parts of the
/// outline that do not fit (a shine, something in front) are left out, up to a quarter.
///
/// The centre of the ellipse is not the picture of the circle's centre (circle_view.h). With the
/// camera and the normal of the face it is corrected; with the camera alone the position lies
/// between both candidates and the covariance holds both; without a camera the covariance holds
/// what a lens of 0.7 times the photo's longer side would shift. The result says which.
/// Errors: kLeavesPhoto, kLowContrast, kSaturated, kOtherShape, kWouldJump, kAmbiguous, kTooSmall,
///         kHidden, kNotPrecise.
[[nodiscard]] Refinement refine_round(const PhotoWindow& photo, const Eigen::Vector2d& position_px,
                                      const RefineOptions& options = {});

}  // namespace measure
