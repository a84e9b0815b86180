// NIST Statistical Reference Datasets, nonlinear regression (www.itl.nist.gov/div898/strd):
// Misra1a, Rat42, DanWood, BoxBOD. Certified to 10–11 digits; asked here to 1e-6 relative. The
// certified standard deviation is √diag((JᵀJ)⁻¹ · RSS/(n − p)). Public domain. Figures as in
// CHECKS 1.1.
#include <array>
#include <cmath>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include <ceres/autodiff_cost_function.h>
#include <gtest/gtest.h>

#include "calib/adjust/covariance.h"
#include "calib/adjust/datum.h"
#include "calib/adjust/network.h"
#include "calib/adjust/solve.h"
#include "calib/adjust/variance_factors.h"

namespace calib::adjust {
namespace {

struct Reading {
  double y, x;
};

struct Misra1a {
  template <typename T>
  static T value(const T* b, double x) {
    return b[0] * (1.0 - exp(-b[1] * x));
  }
};
struct Rat42 {
  template <typename T>
  static T value(const T* b, double x) {
    return b[0] / (1.0 + exp(b[1] - b[2] * x));
  }
};
struct DanWood {
  template <typename T>
  static T value(const T* b, double x) {
    return b[0] * pow(T(x), b[1]);
  }
};

template <typename Model>
struct Misfit {
  Reading reading;
  template <typename T>
  bool operator()(const T* b, T* residual) const {
    residual[0] = Model::value(b, reading.x) - reading.y;
    return true;
  }
};

struct Certified {
  std::vector<double> estimate, sd;
  double rss = 0.0;
};

template <typename Model, int N>
void expect_certified(const std::vector<Reading>& readings, const std::array<double, N>& start,
                      const Certified& certified) {
  Network network;
  const GroupId group = network.add_group({"readings", true, 1.0});
  const BlockId block =
      network.add_block({"b", Eigen::Map<const Eigen::VectorXd>(start.data(), N), {}});
  for (const Reading& reading : readings) {
    network.add_observation(std::make_unique<ceres::AutoDiffCostFunction<Misfit<Model>, 1, N>>(
                                new Misfit<Model>{reading}),
                            {block}, group);
  }
  const Datum datum = find_datum(network);
  EXPECT_EQ(datum.defect, 0);
  SolveOptions options;
  options.max_iterations = 500;
  const auto result = adjust(network, datum, options);
  ASSERT_TRUE(result);
  EXPECT_EQ(result->solve.termination, Termination::kConverged);
  const GroupFit& fit = result->fit.groups.front();
  EXPECT_NEAR(fit.sum_of_squares / certified.rss, 1.0, 1e-6);
  EXPECT_EQ(result->fit.redundancy, static_cast<int>(readings.size()) - N);
  const auto covariance = Covariance::compute(network, datum);
  ASSERT_TRUE(covariance);
  const std::array<BlockId, 1> only{block};
  // Groups with little redundancy keep their a-priori σ of 1: the certified values always scale by
  // s0.
  const double scale = fit.factor_estimated ? 1.0 : fit.s0;
  for (int k = 0; k < N; ++k) {
    const auto i = static_cast<std::size_t>(k);
    EXPECT_NEAR(network.block(block).values[k] / certified.estimate[i], 1.0, 1e-6);
    EXPECT_NEAR(scale * std::sqrt(covariance->joint(only)(k, k)) / certified.sd[i], 1.0, 1e-6);
  }
}

TEST(NistStrd, Misra1a) {
  const std::vector<Reading> readings = {
      {10.07, 77.6},  {14.73, 114.9}, {17.94, 141.1}, {23.93, 190.8}, {29.61, 239.9},
      {35.18, 289.0}, {40.02, 332.8}, {44.82, 378.4}, {50.76, 434.8}, {55.05, 477.3},
      {61.01, 536.8}, {66.40, 593.1}, {75.47, 689.1}, {81.78, 760.0}};
  const Certified certified{
      {2.3894212918E+02, 5.5015643181E-04}, {2.7070075241E+00, 7.2668688436E-06}, 1.2455138894E-01};
  expect_certified<Misra1a, 2>(readings, {500, 0.0001}, certified);
  expect_certified<Misra1a, 2>(readings, {250, 0.0005}, certified);
}

TEST(NistStrd, Rat42) {
  const std::vector<Reading> readings = {{8.93, 9},   {10.80, 14}, {18.59, 21},
                                         {22.33, 28}, {39.35, 42}, {56.11, 57},
                                         {61.73, 63}, {64.62, 70}, {67.08, 79}};
  const Certified certified{{7.2462237576E+01, 2.6180768402E+00, 6.7359200066E-02},
                            {1.7340283401E+00, 8.8295217536E-02, 3.4465663377E-03},
                            8.0565229338E+00};
  expect_certified<Rat42, 3>(readings, {100, 1, 0.1}, certified);
  expect_certified<Rat42, 3>(readings, {75, 2.5, 0.07}, certified);
}

TEST(NistStrd, DanWood) {
  const std::vector<Reading> readings = {{2.138, 1.309}, {3.421, 1.471}, {3.597, 1.490},
                                         {4.340, 1.565}, {4.882, 1.611}, {5.660, 1.680}};
  const Certified certified{
      {7.6886226176E-01, 3.8604055871E+00}, {1.8281973860E-02, 5.1726610913E-02}, 4.3173084083E-03};
  expect_certified<DanWood, 2>(readings, {1, 5}, certified);
  expect_certified<DanWood, 2>(readings, {0.7, 4}, certified);
}

TEST(NistStrd, BoxBod) {
  const std::vector<Reading> readings = {{109, 1}, {149, 2}, {149, 3},
                                         {191, 5}, {213, 7}, {224, 10}};
  const Certified certified{
      {2.1380940889E+02, 5.4723748542E-01}, {1.2354515176E+01, 1.0455993237E-01}, 1.1680088766E+03};
  // Start 1 (1, 1) is NIST's hard one; start 2 is asked here.
  expect_certified<Misra1a, 2>(readings, {100, 0.75}, certified);
}

}  // namespace
}  // namespace calib::adjust
