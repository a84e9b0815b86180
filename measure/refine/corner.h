// A corner of two edges of an object, as the apex of a blurred wedge.
#pragma once

#include "measure/refine/photo_window.h"
#include "measure/refine/refined_mark.h"

namespace measure {

/// Refines a mark at a corner of two straight edges: inside and outside each of one brightness
/// that may change evenly over the window.
///
/// The place and the directions are found on rings about every place within the radius; then a
/// wedge under a Gaussian blur and the camera's grey curve is fitted to the grey values, in windows
/// that grow as long as the wedge still explains them. Where the corner itself is rounded off, take
/// refine_crossing.
///
/// Measured on 400 corners integrated analytically (opening 35 to 145°, blur 0.6 to 2.5 px, step 30
/// to 160 grey values, noise 1.5 to 5, JPEG): see tests/measure/refine.
/// Errors: kLeavesPhoto, kLowContrast, kSaturated, kOtherShape, kWouldJump, kOneDirection,
///         kNotPrecise.
[[nodiscard]] Refinement refine_corner(const PhotoWindow& photo, const Eigen::Vector2d& position_px,
                                       const RefineOptions& options = {});

}  // namespace measure
