#include "calib/adjust/observations.h"

#include <random>

#include <gtest/gtest.h>

namespace calib::adjust {
namespace {

using RowMatrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

/// Largest difference of analytic and central-difference Jacobians, relative to the largest entry
/// of the block.
double derivative_error(const ceres::CostFunction& cost, std::vector<Eigen::VectorXd> values,
                        const std::vector<Eigen::VectorXd>& steps) {
  const auto& sizes = cost.parameter_block_sizes();
  std::vector<const double*> parameters;
  std::vector<RowMatrix> jacobians;
  std::vector<double*> pointers;
  for (std::size_t b = 0; b < sizes.size(); ++b) {
    parameters.push_back(values[b].data());
    jacobians.emplace_back(cost.num_residuals(), sizes[b]);
  }
  for (auto& jacobian : jacobians) pointers.push_back(jacobian.data());
  Eigen::VectorXd residuals(cost.num_residuals()), low(cost.num_residuals()),
      high(cost.num_residuals());
  EXPECT_TRUE(cost.Evaluate(parameters.data(), residuals.data(), pointers.data()));
  double worst = 0;
  for (std::size_t b = 0; b < sizes.size(); ++b) {
    for (int k = 0; k < sizes[b]; ++k) {
      const double kept = values[b][k];
      values[b][k] = kept + steps[b][k];
      EXPECT_TRUE(cost.Evaluate(parameters.data(), high.data(), nullptr));
      values[b][k] = kept - steps[b][k];
      EXPECT_TRUE(cost.Evaluate(parameters.data(), low.data(), nullptr));
      values[b][k] = kept;
      const Eigen::VectorXd numeric = (high - low) / (2 * steps[b][k]);
      worst = std::max(worst, (numeric - jacobians[b].col(k)).cwiseAbs().maxCoeff() /
                                  (1e-3 + jacobians[b].cwiseAbs().maxCoeff()));
    }
  }
  return worst;
}

TEST(MarkObservation, HasTheDerivativesThatDifferencesGive) {
  std::mt19937 random(3);
  std::normal_distribution<double> normal;
  for (int trial = 0; trial < 200; ++trial) {
    const auto draw = [&](int n, double scale) {
      Eigen::VectorXd v(n);
      for (int i = 0; i < n; ++i) v[i] = scale * normal(random);
      return v;
    };
    Eigen::VectorXd pose(6), camera(9);
    // Small turns too: there the closed form changes to its series.
    pose << draw(3, trial % 4 == 0 ? 1e-5 : 1.2), draw(2, 50), 600 + 20 * normal(random);
    camera << 3000, 3010, 2000, 1500, draw(1, 0.1), draw(1, 0.05), draw(2, 1e-3), draw(1, 0.02);
    const auto cost = mark_observation(Eigen::Vector2d(1800, 1400), 0.4);
    Eigen::VectorXd pose_step(6), camera_step(9);
    pose_step << 1e-6, 1e-6, 1e-6, 1e-3, 1e-3, 1e-3;
    camera_step << 1e-2, 1e-2, 1e-2, 1e-2, 1e-5, 1e-5, 1e-6, 1e-6, 1e-5;
    // Central differences in double precision agree to about 1e-7 of the largest entry.
    EXPECT_LT(derivative_error(*cost, {pose, camera, draw(3, 60)},
                               {pose_step, camera_step, Eigen::VectorXd::Constant(3, 1e-3)}),
              1e-6);
  }
}

TEST(BarObservation, HasTheDerivativesThatDifferencesGiveWithAndWithoutTemperature) {
  const Eigen::Vector3d from(1, 2, 3), to(300, 20, -5);
  const Eigen::VectorXd certificate = Eigen::VectorXd::Constant(1, 0.01),
                        alpha = Eigen::VectorXd::Constant(1, 11.5e-6),
                        temperature = Eigen::VectorXd::Constant(1, 26.0);
  const Eigen::VectorXd step3 = Eigen::VectorXd::Constant(3, 1e-3);
  const auto step = [](double h) { return Eigen::VectorXd::Constant(1, h); };
  EXPECT_LT(derivative_error(*bar_observation(300, 0.02, {}), {from, to}, {step3, step3}), 1e-6);
  EXPECT_LT(derivative_error(*bar_observation(300, 0.02, {true, true}),
                             {from, to, certificate, alpha, temperature},
                             {step3, step3, step(1e-3), step(1e-7), step(1e-2)}),
            1e-6);
}

TEST(BarObservation, LengthensAWarmBarByItsExpansion) {
  // L(t) = L(20)(1 + α (t − 20)): 500 mm of steel, 11.5e-6 /K, at 30 °C is 500.0575 mm (ISO 1 and
  // JCGM 100 H.1's α).
  const Eigen::Vector3d from(0, 0, 0), to(500.0575, 0, 0);
  const double alpha = 11.5e-6, temperature = 30;
  const double* parameters[] = {from.data(), to.data(), &alpha, &temperature};
  double residual = 1;
  ASSERT_TRUE(bar_observation(500, 0.01, {false, true})->Evaluate(parameters, &residual, nullptr));
  EXPECT_NEAR(residual, 0, 1e-6);
}

TEST(SquareRootInformation, GivesBackTheInverseOfTheFreePart) {
  Eigen::Matrix3d root;
  root << 2, 0, 0, 0.5, 1e-3, 0, 0, 2e-4, 5e-4;
  const Eigen::Matrix3d covariance = root * root.transpose();
  const Eigen::MatrixXd w = square_root_information(covariance, {false, false, true});
  ASSERT_EQ(w.rows(), 2);
  EXPECT_TRUE(w.col(2).isZero());
  EXPECT_TRUE((w.leftCols(2).transpose() * w.leftCols(2) * covariance.topLeftCorner(2, 2))
                  .isApprox(Eigen::Matrix2d::Identity(), 1e-9));
}

}  // namespace
}  // namespace calib::adjust
