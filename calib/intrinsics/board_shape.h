// The printed board as an unknown: what is known of its shape, and how flat it turned out.
#pragma once

#include <memory>
#include <span>
#include <vector>

#include <Eigen/Core>
#include <ceres/cost_function.h>

#include "calib/intrinsics/solve_intrinsics.h"

namespace calib {

/// Errors of a board as a whole: stretch of x against y, shear (pure numbers); bow along x, twist,
/// bow along y (mm at the rim).
inline constexpr int kBoardDeformations = 5;
using BoardDeformation = Eigen::Matrix<double, kBoardDeformations, 1>;

/// How each deformation moves each point; the rim lies half the pattern's larger side from its
/// middle.
class BoardModes {
 public:
  explicit BoardModes(std::span<const Eigen::Vector3d> nominal_mm);
  /// 3×5: mm of the point by unit of each deformation.
  [[nodiscard]] Eigen::Matrix<double, 3, kBoardDeformations> of(
      const Eigen::Vector3d& nominal_mm) const;

 private:
  Eigen::Vector3d middle_ = Eigen::Vector3d::Zero();
  double rim_mm_ = 1.0;
};

/// What is known of one point: blocks point (3), deformation (5) → 3 residuals of unit variance.
[[nodiscard]] std::unique_ptr<ceres::CostFunction> board_point_prior(
    const Eigen::Vector3d& nominal_mm, const Eigen::Matrix<double, 3, kBoardDeformations>& modes,
    const BoardPrior& prior);

/// Standard uncertainties of the deformations.
[[nodiscard]] BoardDeformation deformation_uncertainties(const BoardPrior& prior);

/// max − min of the distances from the best plane, with its gradient by every point (zero rows
/// where not determined). First order: max and min stay the same two points.
struct Flatness {
  double value_mm = 0.0;
  std::vector<Eigen::Vector3d> gradient;
};
[[nodiscard]] Flatness flatness_of(std::span<const Eigen::Vector3d> points_mm,
                                   const std::vector<bool>& determined);

}  // namespace calib
