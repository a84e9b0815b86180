// The observations that calibration and survey share, with analytic derivatives, divided by their
// σ.
#pragma once

#include <memory>
#include <vector>

#include <Eigen/Core>
#include <ceres/cost_function.h>

#include "calib/camera/projection.h"

namespace calib::adjust {

/// A mark: pose (6: rotation vector, translation), camera (9), point (3) → 2 residuals,
/// (projected − marked) / σ. Outside the model's reach or behind the camera it evaluates as failed.
[[nodiscard]] std::unique_ptr<ceres::CostFunction> mark_observation(
    const Eigen::Vector2d& position_px, double sigma_px);
/// A mark with a full 2×2 covariance, px².
[[nodiscard]] std::unique_ptr<ceres::CostFunction> mark_observation(
    const Eigen::Vector2d& position_px, const Eigen::Matrix2d& covariance_px2);

/// Known values of a block: residuals W (x − x0), W square (n×n) with WᵀW the weight of the known
/// ones. `square_root_information` is m×n; give zero columns for coordinates that are not known.
[[nodiscard]] std::unique_ptr<ceres::CostFunction> prior_observation(
    const Eigen::VectorXd& expected, const Eigen::MatrixXd& square_root_information);

/// Square root information of the free coordinates from their covariance (n×n): zero columns where
/// held.
[[nodiscard]] Eigen::MatrixXd square_root_information(const Eigen::MatrixXd& covariance,
                                                      const std::vector<bool>& held);

/// Distance between two points: blocks A (3), B (3) → (‖A−B‖ − length)/u.
[[nodiscard]] std::unique_ptr<ceres::CostFunction> distance_observation(double length, double u);

/// A scale bar with shared error sources: blocks A (3), B (3), then those that are asked for, in
/// this order: certificate error (1: added to the length), expansion coefficient (1, per K),
/// temperature (1, °C).
///   ((L + e)(1 + α (t − 20)) − ‖A−B‖) / u, or without α: (L + e − ‖A−B‖)/u.
struct BarTerms {
  bool certificate_error = false;
  bool expansion = false;  ///< expansion and temperature blocks both
};
[[nodiscard]] std::unique_ptr<ceres::CostFunction> bar_observation(double length_mm,
                                                                   double u_own_mm, BarTerms terms);

}  // namespace calib::adjust
