// Distances, angles and offsets as functions of points, with their derivatives.
#pragma once

#include <span>

#include <Eigen/Core>

#include "calib/base/result.h"
#include "measure/shapes/plane.h"

namespace measure {

/// A scalar function of n points and its gradient (3n: x y z of each point in turn).
///
/// Lengths in the unit of the points, angles in radians; the gradient accordingly.
struct ValueGradient {
  double value = 0.0;
  Eigen::VectorXd gradient;
};

using ShapeResult = calib::Result<ValueGradient, ShapeError>;

/// |b − a|. Where both coincide the value is 0 and the gradient, which does not exist there, is 0
/// too.
[[nodiscard]] ValueGradient distance(const Eigen::Vector3d& a, const Eigen::Vector3d& b);

/// Signed length of b − a along the direction from `axis_from` to `axis_to`. Order of the gradient:
/// a, b, axis_from, axis_to. Errors: kAxisWithoutLength.
[[nodiscard]] ShapeResult distance_along(const Eigen::Vector3d& a, const Eigen::Vector3d& b,
                                         const Eigen::Vector3d& axis_from,
                                         const Eigen::Vector3d& axis_to);

/// Angle at `vertex` between the directions to `first` and `second`, 0 to π, by atan2(|a×b|, a·b),
/// which keeps its digits near 0 and π where the arc cosine loses half of them. Order: first,
/// vertex, second. Errors: kAxisWithoutLength.
[[nodiscard]] ShapeResult angle_at(const Eigen::Vector3d& first, const Eigen::Vector3d& vertex,
                                   const Eigen::Vector3d& second);

/// Distance of p from the line through a and b, ≥ 0. Order: p, a, b. Errors: kAxisWithoutLength.
[[nodiscard]] ShapeResult offset_from_line(const Eigen::Vector3d& p, const Eigen::Vector3d& a,
                                           const Eigen::Vector3d& b);

/// Signed distance of p from the plane through three points, or the least-squares plane of more
/// (smallest sum of squared offsets). Positive on the side to which (q1 − q0) × (q2 − q0) shows.
/// Order: p, then the plane's points. Errors: those of fit_plane().
[[nodiscard]] ShapeResult offset_from_plane(const Eigen::Vector3d& p,
                                            std::span<const Eigen::Vector3d> plane);

}  // namespace measure
