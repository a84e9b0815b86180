#include "measure/shapes/own_datum.h"

#include <cmath>

#include <Eigen/Eigenvalues>
#include <Eigen/Geometry>

namespace measure::internal {

using Eigen::Index;
using Eigen::Matrix3d;
using Eigen::MatrixXd;
using Eigen::Vector3d;

namespace {

/// −[v]×: turning by ω moves v by ω × v.
Matrix3d turned(const Vector3d& v) {
  Matrix3d m;
  m << 0, v.z(), -v.y(), -v.z(), 0, v.x(), v.y(), -v.x(), 0;
  return m;
}

/// A turn that moves the points by less than this share of their extent is none: all lie on its
/// axis.
constexpr double kNoTurn = 1e-9;

}  // namespace

OwnDatum::OwnDatum(Points points) : centroid_(centroid(points)) {
  const auto n = static_cast<Index>(points.size());
  motions_ = MatrixXd::Zero(3 * n, 7);
  Matrix3d turn_products = Matrix3d::Zero();
  double extent2 = 0;
  for (Index j = 0; j < n; ++j) {
    const Vector3d arm = points[static_cast<std::size_t>(j)] - centroid_;
    motions_.block<3, 3>(3 * j, 0).setIdentity();
    motions_.block<3, 3>(3 * j, 3) = turned(arm);
    motions_.block<3, 1>(3 * j, 6) = arm;
    turn_products += turned(arm).transpose() * turned(arm);
    extent2 += arm.squaredNorm();
  }
  // Shifts, turns and scale stand at right angles to one another, as the arms' sum is zero and a
  // turn moves a point across its arm; only the turns have to be made orthogonal among themselves.
  const Eigen::SelfAdjointEigenSolver<Matrix3d> turns(turn_products);
  from_points_ = MatrixXd::Zero(7, 3 * n);
  from_points_.topRows<3>() = motions_.leftCols<3>().transpose() / static_cast<double>(n);
  std::vector<Eigen::VectorXd> columns;
  for (int k = 0; k < 3; ++k) {
    columns.push_back(motions_.col(k) / std::sqrt(static_cast<double>(n)));
  }
  for (int k = 0; k < 3; ++k) {
    const double size2 = turns.eigenvalues()[k];
    if (!(size2 > kNoTurn * kNoTurn * extent2)) continue;
    const Vector3d axis = turns.eigenvectors().col(k);
    const Eigen::VectorXd movement = motions_.middleCols<3>(3) * axis;
    columns.emplace_back(movement / std::sqrt(size2));
    from_points_.middleRows<3>(3) += axis * movement.transpose() / size2;
  }
  if (extent2 > 0) {
    columns.emplace_back(motions_.col(6) / std::sqrt(extent2));
    from_points_.row(6) = motions_.col(6).transpose() / extent2;
  } else {
    columns.emplace_back(Eigen::VectorXd::Zero(3 * n));
  }
  basis_.resize(3 * n, static_cast<Index>(columns.size()));
  for (std::size_t k = 0; k < columns.size(); ++k) basis_.col(static_cast<Index>(k)) = columns[k];
}

MatrixXd OwnDatum::inner(const MatrixXd& covariance, bool keep_scale) const {
  const MatrixXd q = basis_.leftCols(basis_.cols() - (keep_scale ? 1 : 0));
  const MatrixXd across = covariance * q;          // 3n×7
  const MatrixXd within = q.transpose() * across;  // 7×7
  MatrixXd result = covariance - across * q.transpose();
  result.noalias() -= q * (across.transpose() - within * q.transpose());
  return 0.5 * (result + result.transpose());
}

MatrixXd OwnDatum::carried(const MatrixXd& approximate, const MatrixXd& by_motion) const {
  MatrixXd result = approximate - (approximate * basis_) * basis_.transpose();
  result.noalias() += by_motion * from_points_;
  return result;
}

Eigen::Matrix<double, kFormSize, 7> OwnDatum::motion_of(const Form& form) const {
  const Vector3d arm = form.position - centroid_;
  Eigen::Matrix<double, kFormSize, 7> result = Eigen::Matrix<double, kFormSize, 7>::Zero();
  result.topLeftCorner<3, 3>().setIdentity();
  result.block<3, 3>(0, 3) = turned(arm);
  result.block<3, 1>(0, 6) = arm;
  if (form.kind != FormKind::kSphere) result.block<3, 3>(3, 3) = turned(form.direction);
  result(6, 6) = form.radius;
  return result;
}

Eigen::Matrix<double, 3, 7> OwnDatum::motion_of_vector(const Vector3d& vector) {
  Eigen::Matrix<double, 3, 7> result = Eigen::Matrix<double, 3, 7>::Zero();
  result.middleCols<3>(3) = turned(vector);
  result.col(6) = vector;
  return result;
}

Eigen::Matrix<double, 1, 7> OwnDatum::motion_of_length(double length) {
  Eigen::Matrix<double, 1, 7> result = Eigen::Matrix<double, 1, 7>::Zero();
  result[6] = length;
  return result;
}

}  // namespace measure::internal
