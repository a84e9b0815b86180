// The survey drawn into a photo: lines of space as the lens bends them.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "calib/camera/intrinsics.h"
#include "calib/camera/projection.h"
#include "measure/bundle/survey.h"

namespace measure {

/// An oriented photo with its camera, both as adjusted.
struct OrientedPhoto {
  calib::Intrinsics camera;
  calib::Pose pose;  ///< camera_from_object, in the unit of the survey
};

/// Nothing where the photo is not oriented.
[[nodiscard]] std::optional<OrientedPhoto> oriented_photo(const Survey& survey,
                                                          const std::string& photo);

/// Where a point of space falls. Nothing behind the camera, or beyond what the lens model can
/// reach.
[[nodiscard]] std::optional<Eigen::Vector2d> project(const OrientedPhoto& photo,
                                                     const Eigen::Vector3d& point);

/// The straight line from a to b as the photo shows it: px, with vertices as close as `step_px`
/// asks. Cut short where it leaves the photo by more than its own size.
[[nodiscard]] std::vector<Eigen::Vector2d> trace_line(const OrientedPhoto& photo,
                                                      const calib::ImageSize& size,
                                                      const Eigen::Vector3d& a,
                                                      const Eigen::Vector3d& b,
                                                      double step_px = 12.0);

/// A line of sight of one photo as another shows it: the epipolar line, bent by the lens.
struct EpipolarCurve {
  std::vector<Eigen::Vector2d> curve_px;  ///< within the photo; empty: it does not cross it
  std::size_t likely_from = 0,
              likely_to = 0;  ///< vertices [from, to) where the survey's points lie
};
/// @param at_px  in `from`, distortion included.
[[nodiscard]] EpipolarCurve epipolar_curve(const Survey& survey, const OrientedPhoto& from,
                                           const Eigen::Vector2d& at_px, const OrientedPhoto& to,
                                           const calib::ImageSize& size);

/// Direction that is up on the original, object frame, unit length: the mean of what is up in the
/// photos, for people hold cameras level more or less.
[[nodiscard]] Eigen::Vector3d upward(const Survey& survey);
/// By how much the photo must be turned about this place (radians, clockwise on the screen) so that
/// up is up.
[[nodiscard]] double upright_turn(const OrientedPhoto& photo, const Eigen::Vector3d& point,
                                  const Eigen::Vector3d& up);

}  // namespace measure
