#include "measure/orient/triangulate.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include <Eigen/Geometry>
#include <Eigen/LU>
#include <Eigen/SVD>

namespace measure {

calib::Result<Eigen::Vector3d, TriangulationError> triangulate(
    std::span<const OrientedMark> marks, const TriangulationOptions& options) {
  if (marks.size() < 2) return calib::Unexpected(TriangulationError::kTooFewPhotos);

  std::vector<Eigen::Vector3d> rays;
  rays.reserve(marks.size());
  Eigen::Matrix<double, Eigen::Dynamic, 4> rows(2 * marks.size(), 4);
  for (std::size_t i = 0; i < marks.size(); ++i) {
    const auto& p = marks[i].image_from_object;
    const Eigen::Matrix3d left = p.leftCols<3>();
    rays.push_back((left.inverse() * marks[i].position_px.homogeneous()).normalized());
    // Rows of unit length: else the photo with the longest focal length would decide alone.
    rows.row(2 * i) = (marks[i].position_px.x() * p.row(2) - p.row(0)).normalized();
    rows.row(2 * i + 1) = (marks[i].position_px.y() * p.row(2) - p.row(1)).normalized();
  }
  double widest_sine = 0;
  for (std::size_t i = 0; i < rays.size(); ++i) {
    for (std::size_t j = i + 1; j < rays.size(); ++j) {
      // The sine: rays that run straight towards each other are no better than parallel ones.
      widest_sine = std::max(widest_sine, rays[i].cross(rays[j]).norm());
    }
  }
  if (widest_sine < std::sin(options.min_intersection_angle_rad)) {
    return calib::Unexpected(TriangulationError::kRaysNearlyParallel);
  }

  const Eigen::Vector4d homogeneous =
      Eigen::JacobiSVD<Eigen::MatrixXd>(rows, Eigen::ComputeFullV).matrixV().col(3);
  if (std::abs(homogeneous.w()) < 1e-14 * homogeneous.norm()) {
    return calib::Unexpected(TriangulationError::kRaysNearlyParallel);
  }
  const Eigen::Vector3d point = homogeneous.hnormalized();
  for (const OrientedMark& mark : marks) {
    const auto& p = mark.image_from_object;
    const double side = p.leftCols<3>().determinant() > 0 ? 1.0 : -1.0;
    if (!(side * p.row(2).dot(point.homogeneous()) > 0)) {
      return calib::Unexpected(TriangulationError::kBehindCamera);
    }
  }
  return point;
}

std::string describe(TriangulationError error, const std::string& point_name) {
  const std::string subject = "Point “" + point_name + "”";
  switch (error) {
    case TriangulationError::kTooFewPhotos:
      return subject + " is marked in one photo only: mark it in a second one.";
    case TriangulationError::kRaysNearlyParallel:
      return subject +
             " is seen from one direction only: mark it in a photo taken from further to the side.";
    case TriangulationError::kBehindCamera:
      return subject +
             " would lie behind a camera: one of its marks shows another point, check them.";
  }
  return subject;
}

}  // namespace measure
