// From space to the photo and back: projection, its derivatives, and the inverse of the distortion.
#pragma once

#include <limits>

#include <Eigen/Core>

#include "calib/base/result.h"
#include "calib/camera/intrinsics.h"

namespace calib {

/// Orientation of a photo: x_cam = R(rotation) · X + translation.
///
/// rotation is a rotation vector (axis times angle, radians); translation is in object units.
/// Stored in an adjustment as six numbers, rotation first.
struct Pose {
  Eigen::Vector3d rotation = Eigen::Vector3d::Zero();
  Eigen::Vector3d translation = Eigen::Vector3d::Zero();

  [[nodiscard]] Eigen::Matrix3d rotation_matrix() const;  ///< camera_from_object
  [[nodiscard]] Eigen::Vector3d centre() const;           ///< camera position in the object frame
  [[nodiscard]] Eigen::Matrix<double, 6, 1> vector() const;
  [[nodiscard]] static Pose from_vector(const Eigen::Matrix<double, 6, 1>& values);
  [[nodiscard]] static Pose from_matrix(const Eigen::Matrix3d& rotation,
                                        const Eigen::Vector3d& translation);
};

/// Rotation matrix of a rotation vector in radians (Rodrigues' formula).
[[nodiscard]] Eigen::Matrix3d rotation_from_vector(const Eigen::Vector3d& rotation);
/// Rotation vector (angle ≤ π) of a rotation matrix.
[[nodiscard]] Eigen::Vector3d vector_from_rotation(const Eigen::Matrix3d& rotation);
/// Left Jacobian of SO(3): exp(w + dw) ≈ exp(J_l dw) exp(w).
[[nodiscard]] Eigen::Matrix3d left_jacobian(const Eigen::Vector3d& rotation);

/// Distorted normalised position of an ideal one.
///
/// @param jacobian  if given, ∂distorted/∂ideal, 2×2.
/// @param by_distortion  if given, ∂distorted/∂(k1 k2 p1 p2 k3), 2×5.
[[nodiscard]] Eigen::Vector2d distort(const Intrinsics& camera, const Eigen::Vector2d& ideal,
                                      Eigen::Matrix2d* jacobian = nullptr,
                                      Eigen::Matrix<double, 2, 5>* by_distortion = nullptr);

struct ProjectionDerivatives {
  Eigen::Matrix<double, 2, 3> by_point;       ///< px per object unit, in the camera frame
  Eigen::Matrix<double, 2, 9> by_intrinsics;  ///< px per unit of each parameter
};

/// Pixel position of a point given in the camera frame (z > 0 is in front of the camera).
[[nodiscard]] Eigen::Vector2d project(const Intrinsics& camera,
                                      const Eigen::Vector3d& point_in_camera,
                                      ProjectionDerivatives* derivatives = nullptr);

/// Pixel position of a point given in the object frame.
[[nodiscard]] inline Eigen::Vector2d project(const Intrinsics& camera, const Pose& pose,
                                             const Eigen::Vector3d& point) {
  return project(camera, pose.rotation_matrix() * point + pose.translation);
}

enum class UndistortError {
  kBeyondModel,   ///< the radial map has stopped growing before that radius: no ideal position
                  ///< exists
  kNotConverged,  ///< Newton's steps did not settle
};

/// Largest ideal radius (normalised) up to which the radial map r(1 + k1 r² + k2 r⁴ + k3 r⁶) grows.
/// Infinite where it always grows.
[[nodiscard]] double largest_valid_radius(const Intrinsics& camera);

/// Ideal normalised position of a pixel: Newton's method from a radial start.
///
/// Errors: kBeyondModel, kNotConverged. Converged means that the pixel is met within 1e-9 px.
[[nodiscard]] Result<Eigen::Vector2d, UndistortError> unproject(const Intrinsics& camera,
                                                                const Eigen::Vector2d& position_px);

/// Where the pixel would lie in a camera with the same focal lengths and no distortion.
[[nodiscard]] Result<Eigen::Vector2d, UndistortError> undistort(const Intrinsics& camera,
                                                                const Eigen::Vector2d& position_px);

}  // namespace calib
