// The same place as in a pattern view, by least-squares matching.
#pragma once

#include <optional>
#include <vector>

#include "calib/camera/projection.h"
#include "measure/refine/photo_window.h"
#include "measure/refine/refined_mark.h"

namespace measure {

/// The place that is to be found again, in another photo.
struct PatternView {
  PhotoWindow photo;
  Eigen::Vector2d position_px;
  /// How the window is turned, stretched and sheared from the pattern view to the photo, to begin
  /// with: within some 20° and a fifth of the size. See window_change.
  Eigen::Matrix2d photo_from_pattern = Eigen::Matrix2d::Identity();
};

/// Finds the place of the pattern view in a photo.
///
/// Within the radius the best places by correlation are taken as starts; at each, position, affine
/// shape of the window, brightness and contrast are found by least squares on the grey values
/// (A. W. Gruen, "Adaptive least squares correlation", South African Journal of Photogrammetry,
/// Remote Sensing and Cartography 14(3), 1985; from memory). σ follows from the residuals with
/// their correlation; slopes that are only noise count for nothing.
///
/// The result has what error the mark in the pattern view has: it is the same for all photos
/// matched with it and moves the point, not its scatter.
/// Errors: kLeavesPhoto, kPatternLeavesPicture, kLowContrast, kSaturated, kWouldJump,
///         kOneDirection, kAmbiguous, kUnlike, kNotPrecise.
[[nodiscard]] Refinement refine_match(const PhotoWindow& photo, const Eigen::Vector2d& position_px,
                                      const PatternView& pattern,
                                      const RefineOptions& options = {});

/// A photo as oriented: where it was taken and with what.
struct WindowView {
  calib::Intrinsics camera;
  calib::Pose pose;
};
/// photo_from_pattern for a small face through point (object frame, any unit) with this normal.
/// Nothing where the face is seen edge-on or from behind the camera.
[[nodiscard]] std::optional<Eigen::Matrix2d> window_change(const WindowView& pattern,
                                                           const WindowView& photo,
                                                           const Eigen::Vector3d& point,
                                                           const Eigen::Vector3d& normal);

/// One point's marks in both photos.
struct MarkPair {
  Eigen::Vector2d pattern_px, photo_px;
};
/// photo_from_pattern about a place from marks near it that both photos have, where the photos are
/// not oriented yet: the affine change through them, the nearest counting most. They need not lie
/// in one plane: this is a start for the matching, no more. Nothing with fewer than three, or where
/// they lie in a line or say that the window is turned over or changes its size by more than three.
[[nodiscard]] std::optional<Eigen::Matrix2d> window_change(const std::vector<MarkPair>& marks,
                                                           const Eigen::Vector2d& pattern_px);

}  // namespace measure
