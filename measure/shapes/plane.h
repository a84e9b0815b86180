// The least-squares plane, how far its points depart from it, and how it follows them.
#pragma once

#include <optional>
#include <span>

#include <Eigen/Core>

#include "calib/base/result.h"
#include "measure/shapes/shape_error.h"

namespace measure {

/// A plane with its derivatives; unit of the points throughout.
struct FittedPlane {
  Eigen::Vector3d centroid;  ///< of the points; lies in the plane
  Eigen::Vector3d normal;    ///< unit length, on the side of (p1 − p0) × (p2 − p0)
  /// 3×3n: by x y z of each point in turn. dn = Σ_k v_k (v_kᵀ dS n)/(λ0 − λ_k), S the scatter
  /// matrix.
  Eigen::Matrix3Xd normal_by_points;
  Eigen::VectorXd
      offsets;  ///< of each point from the plane, signed; their squares have the smallest sum
  /// √(Σ offset²/(n − 3)): how far the surface departs from a plane. A definitional uncertainty
  /// where it exceeds what the points' own covariance explains. Absent for three points, which lie
  /// in their plane.
  std::optional<double> form_deviation;
};

/// Plane through n ≥ 3 points with the smallest sum of squared offsets: the normal is the
/// eigenvector of the scatter matrix with the smallest eigenvalue. Errors: kTooFewPoints,
/// kPointsInLine, kSideUnknown. Source: J. R. Magnus, On differentiating eigenvalues and
/// eigenvectors, Econometric Theory 1 (1985) 179–191.
[[nodiscard]] calib::Result<FittedPlane, ShapeError> fit_plane(
    std::span<const Eigen::Vector3d> points);

}  // namespace measure
