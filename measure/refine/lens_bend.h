// Inside the room: how much a lens bends a straight edge.
#pragma once

#include <optional>

#include <Eigen/Core>

#include "calib/camera/intrinsics.h"

namespace measure {

/// Curvature (1/px, to the left of the direction) of the picture of a straight edge that passes the
/// place in this direction. 0 without a camera, or where the camera's distortion ends.
[[nodiscard]] double lens_bend_per_px(const std::optional<calib::Intrinsics>& camera,
                                      const Eigen::Vector2d& at_px, double direction_rad);

}  // namespace measure
