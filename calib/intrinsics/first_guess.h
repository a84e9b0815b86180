// Start values for a camera and its photos of a flat pattern.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include <Eigen/Core>

#include "calib/camera/projection.h"
#include "calib/intrinsics/corner_set.h"

namespace calib {

/// Focal lengths worth a try, px, best first: from the homographies by Zhang's conditions (square
/// pixels, principal point as given, no distortion), then a spread of usual ones, because photos
/// taken straight on or a strong distortion leave the conditions without a solution. Source: Z.
/// Zhang, IEEE TPAMI 22(11) 2000, §2.3 and §3.1.
[[nodiscard]] std::vector<double> focal_length_candidates(
    std::span<const Eigen::Vector3d> board_points_mm, std::span<const CornerSet> sets,
    ImageSize image_size, const Eigen::Vector2d& principal_point_px);

/// A pose and what it leaves.
struct GuessedPose {
  Pose pose;
  double squared_error = 0.0;  ///< mean over the corners, normalised coordinates
};

/// Up to two poses of a flat pattern that fit one photo, best first: seen from far, a pattern
/// tilted towards the camera looks like one tilted away.
[[nodiscard]] std::vector<GuessedPose> pose_candidates(
    std::span<const Eigen::Vector3d> board_points_mm, const CornerSet& set,
    const Intrinsics& camera);

}  // namespace calib
