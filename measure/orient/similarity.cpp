#include "measure/orient/similarity.h"

#include <cassert>

#include <Eigen/Geometry>
#include <Eigen/SVD>

namespace measure {

calib::Pose Similarity::apply(const calib::Pose& pose) const {
  // R_c X + t ~ R_c Rᵀ X' + (s t − R_c Rᵀ T), as s·X = Rᵀ(X' − T); the photo does not feel the
  // factor s.
  const Eigen::Matrix3d turned = pose.rotation_matrix() * rotation.transpose();
  return calib::Pose::from_matrix(turned, scale * pose.translation - turned * translation);
}

std::optional<Similarity> fit_similarity(std::span<const Eigen::Vector3d> source,
                                         std::span<const Eigen::Vector3d> target) {
  assert(source.size() == target.size());
  if (source.size() < 3) return std::nullopt;
  const auto n = static_cast<double>(source.size());
  Eigen::Vector3d source_mean = Eigen::Vector3d::Zero(), target_mean = Eigen::Vector3d::Zero();
  for (std::size_t i = 0; i < source.size(); ++i) {
    source_mean += source[i] / n;
    target_mean += target[i] / n;
  }
  Eigen::Matrix3d cross = Eigen::Matrix3d::Zero(), spread = Eigen::Matrix3d::Zero();
  for (std::size_t i = 0; i < source.size(); ++i) {
    const Eigen::Vector3d from = source[i] - source_mean;
    cross += (target[i] - target_mean) * from.transpose() / n;
    spread += from * from.transpose() / n;
  }
  const Eigen::JacobiSVD<Eigen::Matrix3d> extents(spread);
  if (!(extents.singularValues()[1] > 1e-12 * extents.singularValues()[0])) return std::nullopt;
  const Eigen::JacobiSVD<Eigen::Matrix3d> svd(cross, Eigen::ComputeFullU | Eigen::ComputeFullV);
  Eigen::Vector3d signs = Eigen::Vector3d::Ones();
  if ((svd.matrixU() * svd.matrixV().transpose()).determinant() < 0) signs.z() = -1;
  Similarity result;
  result.rotation = svd.matrixU() * signs.asDiagonal() * svd.matrixV().transpose();
  result.scale = svd.singularValues().dot(signs) / spread.trace();
  if (!(result.scale > 0)) return std::nullopt;
  result.translation = target_mean - result.scale * (result.rotation * source_mean);
  return result;
}

void transform(Orientation& orientation, const Similarity& target_from_source) {
  for (auto& pose : orientation.poses) {
    if (pose) pose = target_from_source.apply(*pose);
  }
  for (auto& point : orientation.points) {
    if (point) point = target_from_source * *point;
  }
}

void scale_by(Orientation& orientation, double factor) {
  assert(factor > 0);
  for (auto& pose : orientation.poses) {
    if (pose) pose->translation *= factor;
  }
  for (auto& point : orientation.points) {
    if (point) *point *= factor;
  }
}

}  // namespace measure
