#include "calib/intrinsics/board_shape.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <ceres/sized_cost_function.h>

namespace calib {
namespace {

class BoardPointPrior final : public ceres::SizedCostFunction<3, 3, kBoardDeformations> {
 public:
  BoardPointPrior(const Eigen::Vector3d& nominal_mm,
                  const Eigen::Matrix<double, 3, kBoardDeformations>& modes,
                  const Eigen::Vector3d& inverse_sigma)
      : nominal_mm_(nominal_mm), modes_(modes), inverse_sigma_(inverse_sigma) {}

  bool Evaluate(double const* const* parameters, double* residuals,
                double** jacobians) const override {
    const Eigen::Map<const Eigen::Vector3d> point(parameters[0]);
    const Eigen::Map<const BoardDeformation> deformation(parameters[1]);
    Eigen::Map<Eigen::Vector3d>(residuals, 3) =
        inverse_sigma_.cwiseProduct(point - nominal_mm_ - modes_ * deformation);
    if (!jacobians) return true;
    if (jacobians[0]) {
      Eigen::Map<Eigen::Matrix<double, 3, 3, Eigen::RowMajor>> by_point(jacobians[0]);
      by_point = inverse_sigma_.asDiagonal();
    }
    if (jacobians[1]) {
      Eigen::Map<Eigen::Matrix<double, 3, kBoardDeformations, Eigen::RowMajor>> by_deformation(
          jacobians[1]);
      by_deformation = -(inverse_sigma_.asDiagonal() * modes_);
    }
    return true;
  }

 private:
  Eigen::Vector3d nominal_mm_;
  Eigen::Matrix<double, 3, kBoardDeformations> modes_;
  Eigen::Vector3d inverse_sigma_;
};

}  // namespace

BoardModes::BoardModes(std::span<const Eigen::Vector3d> nominal_mm) {
  Eigen::Vector3d low = nominal_mm.front(), high = nominal_mm.front();
  for (const Eigen::Vector3d& point : nominal_mm) {
    low = low.cwiseMin(point);
    high = high.cwiseMax(point);
  }
  middle_ = (low + high) / 2;
  rim_mm_ = (high - low).head<2>().maxCoeff() / 2;
}

Eigen::Matrix<double, 3, kBoardDeformations> BoardModes::of(
    const Eigen::Vector3d& nominal_mm) const {
  const double x = nominal_mm.x() - middle_.x(), y = nominal_mm.y() - middle_.y();
  const double u = x / rim_mm_, v = y / rim_mm_;
  Eigen::Matrix<double, 3, kBoardDeformations> modes;
  modes << x / 2, y / 2, 0, 0, 0,  //
      -y / 2, x / 2, 0, 0, 0,      //
      0, 0, u * u, u * v, v * v;
  return modes;
}

std::unique_ptr<ceres::CostFunction> board_point_prior(
    const Eigen::Vector3d& nominal_mm, const Eigen::Matrix<double, 3, kBoardDeformations>& modes,
    const BoardPrior& prior) {
  return std::make_unique<BoardPointPrior>(
      nominal_mm, modes,
      Eigen::Vector3d(1 / prior.in_plane_mm, 1 / prior.in_plane_mm, 1 / prior.out_of_plane_mm));
}

BoardDeformation deformation_uncertainties(const BoardPrior& prior) {
  BoardDeformation u;
  u << prior.in_plane_relative, prior.in_plane_relative, prior.out_of_plane_mm,
      prior.out_of_plane_mm, prior.out_of_plane_mm;
  return u;
}

Flatness flatness_of(std::span<const Eigen::Vector3d> points_mm,
                     const std::vector<bool>& determined) {
  Flatness result;
  result.gradient.assign(points_mm.size(), Eigen::Vector3d::Zero());
  Eigen::Vector3d middle = Eigen::Vector3d::Zero();
  int count = 0;
  for (std::size_t i = 0; i < points_mm.size(); ++i) {
    if (!determined[i]) continue;
    middle += points_mm[i];
    ++count;
  }
  if (count < 4) return result;  // three points always lie in a plane
  middle /= count;
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (std::size_t i = 0; i < points_mm.size(); ++i) {
    if (determined[i]) scatter += (points_mm[i] - middle) * (points_mm[i] - middle).transpose();
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> axes(scatter);
  const Eigen::Vector3d normal = axes.eigenvectors().col(0);
  // The plane follows its points: a point's own distance changes by what the fit leaves of its
  // shift.
  const auto in_plane = [&](std::size_t i) {
    const Eigen::Vector3d arm = points_mm[i] - middle;
    return Eigen::Vector3d(1.0, axes.eigenvectors().col(1).dot(arm),
                           axes.eigenvectors().col(2).dot(arm));
  };
  Eigen::Matrix3d normal_matrix = Eigen::Matrix3d::Zero();
  std::size_t highest = points_mm.size(), lowest = points_mm.size();
  double high = 0, low = 0;
  for (std::size_t i = 0; i < points_mm.size(); ++i) {
    if (!determined[i]) continue;
    normal_matrix += in_plane(i) * in_plane(i).transpose();
    const double distance = normal.dot(points_mm[i] - middle);
    if (highest == points_mm.size() || distance > high) {
      high = distance;
      highest = i;
    }
    if (lowest == points_mm.size() || distance < low) {
      low = distance;
      lowest = i;
    }
  }
  result.value_mm = high - low;
  const Eigen::Vector3d share = normal_matrix.ldlt().solve(in_plane(highest) - in_plane(lowest));
  for (std::size_t i = 0; i < points_mm.size(); ++i) {
    if (!determined[i]) continue;
    const double own = (i == highest ? 1.0 : 0.0) - (i == lowest ? 1.0 : 0.0);
    result.gradient[i] = (own - share.dot(in_plane(i))) * normal;
  }
  return result;
}

}  // namespace calib
