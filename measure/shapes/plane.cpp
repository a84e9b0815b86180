#include "measure/shapes/plane.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Eigenvalues>
#include <Eigen/Geometry>

namespace measure {

using calib::Unexpected;
using Eigen::Matrix3d;
using Eigen::Vector3d;

namespace {

/// Points are in line when their middle extent is below this share of the largest: far below any
/// measurement. Its square, which the eigenvalues show, must stay above their rounding of 1e-16.
constexpr double kDegenerate = 1e-7;
/// The side is taken from a triangle, whose corners are measured: flatter than this it is left to
/// chance.
constexpr double kFlatTriangle = 1e-3;

}  // namespace

calib::Result<FittedPlane, ShapeError> fit_plane(std::span<const Vector3d> points) {
  if (points.size() < 3) return Unexpected(ShapeError::kTooFewPoints);
  const auto count = static_cast<double>(points.size());
  FittedPlane plane;
  plane.centroid.setZero();
  for (const Vector3d& q : points) plane.centroid += q / count;
  Matrix3d scatter = Matrix3d::Zero();
  for (const Vector3d& q : points)
    scatter += (q - plane.centroid) * (q - plane.centroid).transpose();
  const Eigen::SelfAdjointEigenSolver<Matrix3d> eigen(scatter);
  const Vector3d values = eigen.eigenvalues();
  // The middle extent tells a plane from a line.
  if (!(values[1] > kDegenerate * kDegenerate * values[2]) ||
      !(std::sqrt(values[2]) > kDegenerate * plane.centroid.norm())) {
    return Unexpected(ShapeError::kPointsInLine);
  }
  plane.normal = eigen.eigenvectors().col(0);
  const Vector3d first = points[1] - points[0], second = points[2] - points[0];
  const double side = plane.normal.dot(first.cross(second));
  // The longest of the three sides: two points close together and one far off are a line as well.
  const double longest2 =
      std::max({first.squaredNorm(), second.squaredNorm(), (second - first).squaredNorm()});
  const bool three_only =
      points.size() == 3;  // their own plane: as far as it exists it has that side
  if (!three_only && !(std::abs(side) > kFlatTriangle * longest2))
    return Unexpected(ShapeError::kSideUnknown);
  if (side < 0) plane.normal = -plane.normal;

  const auto n = static_cast<Eigen::Index>(points.size());
  plane.offsets.resize(n);
  plane.normal_by_points = Eigen::Matrix3Xd::Zero(3, 3 * n);
  for (Eigen::Index j = 0; j < n; ++j) {
    const Vector3d r = points[static_cast<std::size_t>(j)] - plane.centroid;
    plane.offsets[j] = plane.normal.dot(r);
    // dS = r dpᵀ + dp rᵀ: the centroid's own movement drops out, as the sum of all r is zero.
    for (int k = 1; k < 3; ++k) {
      const Vector3d v = eigen.eigenvectors().col(k);
      const Eigen::RowVector3d turning = plane.offsets[j] * v + v.dot(r) * plane.normal;
      plane.normal_by_points.middleCols<3>(3 * j) += v * turning / (values[0] - values[k]);
    }
  }
  if (!three_only) plane.form_deviation = std::sqrt(plane.offsets.squaredNorm() / (count - 3));
  return plane;
}

}  // namespace measure
