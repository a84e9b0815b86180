// How a circle is seen by a calibrated camera: where its centre lies in the photo.
#pragma once

#include <array>
#include <optional>

#include <Eigen/Core>

#include "calib/camera/intrinsics.h"

namespace measure {

/// An ellipse: (x − centre)ᵀ shape (x − centre) = 1.
struct Ellipse {
  Eigen::Vector2d centre_px;
  Eigen::Matrix2d shape_per_px2;  ///< symmetric, positive definite

  /// Half the longer and half the shorter axis, as vectors in pixels.
  [[nodiscard]] std::array<Eigen::Vector2d, 2> half_axes_px() const;
};

/// The two circles that an ellipse can be the picture of.
struct CircleViews {
  /// Pictures of the circle's centre, pixels.
  std::array<Eigen::Vector2d, 2> centre_px;
  /// Unit normals of the circle's plane in the camera's frame, towards the camera.
  std::array<Eigen::Vector3d, 2> normal;
};

/// The circle's centre in the photo for both circles, or for the one in a plane of known normal.
///
/// In ideal normalised coordinates let xᵀQx = 0 be the ellipse. Seen from the camera it is a cone,
/// with eigenvalues λ1 ≥ λ2 > 0 > λ3 of Q and axes e1, e2, e3. Taking λ2|x|² off gives
/// (λ1 − λ2) x1² − (λ2 − λ3) x3² = −λ2|x|²: on a plane √(λ1 − λ2) x1 ± √(λ2 − λ3) x3 = constant the
/// left side is linear, so the cone meets it in a sphere's section, a circle. Hence the two
/// normals. The centre of a circle is the pole of the infinitely far line of its plane; poles stay
/// poles in a picture, and the picture of that line is nᵀx = 0: the centre's picture is x ∝ Q⁻¹n.
/// Neither the circle's size nor its distance enters. (Derived here; the two normals agree with
/// what is known of the perspective of circles, for example R. Safaee-Rad et al., IEEE Trans.
/// Robotics and Automation 8(5), 1992; from memory.)
///
/// @return nothing where the ellipse leaves the part of the photo that the camera's distortion
///         describes.
[[nodiscard]] std::optional<CircleViews> circle_views(const calib::Intrinsics& camera,
                                                      const Ellipse& ellipse);
[[nodiscard]] std::optional<Eigen::Vector2d> circle_centre_px(const calib::Intrinsics& camera,
                                                              const Ellipse& ellipse,
                                                              const Eigen::Vector3d& normal);

}  // namespace measure
