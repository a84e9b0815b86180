#include "calib/adjust/covariance.h"

#include <ceres/covariance.h>
#include <ceres/manifold.h>
#include <ceres/problem.h>
#include <gtest/gtest.h>

#include "calib/adjust/budget.h"
#include "calib/adjust/solve.h"
#include "calib/adjust/variance_factors.h"
#include "tests/support/ring_network.h"

namespace calib::adjust {
namespace {

using testing_support::make_ring_network;
using testing_support::RingNetwork;

/// The same network in Ceres' own hands: a second implementation of the covariance.
Eigen::MatrixXd ceres_covariance(RingNetwork& ring, const Datum& datum,
                                 const std::vector<BlockId>& blocks) {
  ceres::Problem::Options options;
  options.cost_function_ownership = ceres::DO_NOT_TAKE_OWNERSHIP;
  ceres::Problem problem(options);
  auto& net = ring.network;
  std::vector<std::vector<int>> held(net.blocks().size());
  for (const auto& [block, coordinate] : datum.held) held[block.index].push_back(coordinate);
  for (std::size_t b = 0; b < net.blocks().size(); ++b) {
    Block& block = net.block(BlockId{static_cast<int>(b)});
    const int size = static_cast<int>(block.values.size());
    problem.AddParameterBlock(block.values.data(), size);
    for (int k = 0; k < size; ++k) {
      if (block.held[k]) held[b].push_back(k);
    }
    std::sort(held[b].begin(), held[b].end());
    if (static_cast<int>(held[b].size()) == size) {
      problem.SetParameterBlockConstant(block.values.data());
    } else if (!held[b].empty()) {
      problem.SetManifold(block.values.data(), new ceres::SubsetManifold(size, held[b]));
    }
  }
  for (const Observation& observation : net.observations()) {
    std::vector<double*> parameters;
    for (const BlockId id : observation.blocks) parameters.push_back(net.block(id).values.data());
    problem.AddResidualBlock(observation.cost.get(), nullptr, parameters);
  }
  ceres::Covariance::Options covariance_options;
  covariance_options.algorithm_type = ceres::SPARSE_QR;
  ceres::Covariance covariance(covariance_options);
  std::vector<const double*> wanted;
  for (const BlockId id : blocks) wanted.push_back(net.block(id).values.data());
  EXPECT_TRUE(covariance.Compute(wanted, &problem));
  Eigen::Index total = 0;
  for (const BlockId id : blocks) total += net.block(id).values.size();
  Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> result(total, total);
  EXPECT_TRUE(covariance.GetCovarianceMatrix(wanted, result.data()));
  return result;
}

struct Case {
  const char* name;
  testing_support::RingNetworkSpec spec;
};

class AgainstCeres : public testing::TestWithParam<Case> {};

TEST_P(AgainstCeres, EveryElementAgreesToOnePartInAHundredMillion) {
  RingNetwork ring = make_ring_network(GetParam().spec);
  const Datum datum = find_datum(ring.network);
  ASSERT_EQ(solve(ring.network, datum).termination, Termination::kConverged);
  const auto covariance = Covariance::compute(ring.network, datum);
  ASSERT_TRUE(covariance) << covariance.error().item;
  std::vector<BlockId> blocks;
  for (std::size_t b = 0; b < ring.network.blocks().size(); ++b)
    blocks.push_back({static_cast<int>(b)});
  const Eigen::MatrixXd expected = ceres_covariance(ring, datum, blocks);
  const Eigen::MatrixXd got = covariance->joint(blocks);
  double worst = 0;
  for (Eigen::Index i = 0; i < got.rows(); ++i) {
    for (Eigen::Index j = 0; j < got.cols(); ++j) {
      const double scale = std::sqrt(expected(i, i) * expected(j, j));
      const double difference = std::abs(got(i, j) - expected(i, j));
      worst = std::max(worst, scale > 0 ? difference / scale : difference);
    }
  }
  EXPECT_LT(worst, 1e-8);
}

INSTANTIATE_TEST_SUITE_P(
    Networks, AgainstCeres,
    testing::Values(
        Case{"BarAndSharedPriorCamera", {}}, Case{"NoBar", {.bar = false}},
        Case{"CameraHeld", {.camera_prior = false}},
        Case{"SixRandomMarksAPoint", {.photo_count = 12, .point_count = 60, .marks_a_point = 6}},
        Case{"NeighboursAroundARing",
             {.photo_count = 36, .point_count = 150, .marks_a_point = 4, .neighbours_only = true}},
        Case{"NeighboursAroundARingWithoutBar",
             {.photo_count = 36,
              .point_count = 150,
              .marks_a_point = 4,
              .neighbours_only = true,
              .bar = false}}),
    [](const testing::TestParamInfo<Case>& test) { return std::string(test.param.name); });

TEST(Datum, IsFreeInSevenWaysWithoutABarAndInSixWithOne) {
  // Textbook ranks of a free network (CHECKS S4).
  const Datum without = find_datum(make_ring_network({.bar = false}).network);
  EXPECT_EQ(without.defect, 7);
  EXPECT_TRUE(without.scale_is_free);
  EXPECT_EQ(without.description, "position (3), rotation (3) and scale");
  const Datum with = find_datum(make_ring_network({.bar = true}).network);
  EXPECT_EQ(with.defect, 6);
  EXPECT_FALSE(with.scale_is_free);
  EXPECT_EQ(with.description, "position (3) and rotation (3)");
}

TEST(Datum, LosesOneFreedomWithEachKnownCoordinate) {
  // Six coordinates of three points out of line fix a body; five leave one motion free.
  RingNetwork ring = make_ring_network();
  const std::pair<int, int> known[] = {{5, 0}, {5, 1}, {5, 2}, {9, 1}, {9, 2}, {14, 2}};
  for (int count = 1; count <= 6; ++count) {
    const auto [point, coordinate] = known[count - 1];
    ring.network.block(ring.points[point]).held[coordinate] = true;
    EXPECT_EQ(find_datum(ring.network).defect, 6 - count);
  }
}

TEST(Covariance, OfADistanceIsTheSameInEveryDatum) {
  RingNetwork ring = make_ring_network();
  const Datum datum = find_datum(ring.network);
  solve(ring.network, datum);
  Datum other = datum;  // another minimal datum: three points out of line
  other.held = {{ring.points[3], 0}, {ring.points[3], 1}, {ring.points[3], 2},
                {ring.points[7], 0}, {ring.points[7], 1}, {ring.points[12], 2}};
  const auto first = Covariance::compute(ring.network, datum);
  const auto second = Covariance::compute(ring.network, other);
  ASSERT_TRUE(first && second);
  for (int trial = 0; trial < 20; ++trial) {
    const BlockId a = ring.points[trial], b = ring.points[trial + 5];
    const Eigen::Vector3d span = ring.network.block(b).values - ring.network.block(a).values;
    const Eigen::Vector3d direction = span.normalized();
    const Gradient gradient{{a, b}, {-direction, direction}};
    const double u = std::sqrt(variance_of(*first, gradient));
    EXPECT_NEAR(std::sqrt(variance_of(*second, gradient)), u, 1e-7 * u);
    Eigen::VectorXd f(6);
    f << -direction, direction;
    const std::array<BlockId, 2> pair{a, b};
    EXPECT_NEAR(std::sqrt(f.dot(first->joint_inner(pair) * f)), u, 1e-7 * u);
  }
}

TEST(Covariance, OfInnerConstraintsIsTheSameFromEveryMinimalDatumAndHasTheSmallestTrace) {
  RingNetwork ring = make_ring_network({.bar = false});
  const Datum datum = find_datum(ring.network);
  solve(ring.network, datum);
  Datum other = datum;
  other.held = {{ring.points[3], 0}, {ring.points[3], 1}, {ring.points[3], 2}, {ring.points[7], 0},
                {ring.points[7], 1}, {ring.points[7], 2}, {ring.points[12], 2}};
  const auto first = Covariance::compute(ring.network, datum);
  const auto second = Covariance::compute(ring.network, other);
  ASSERT_TRUE(first && second);
  const Eigen::MatrixXd a = first->joint_inner(ring.points), b = second->joint_inner(ring.points);
  EXPECT_LT((a - b).cwiseAbs().maxCoeff(), 1e-7 * a.cwiseAbs().maxCoeff());
  EXPECT_LT(a.trace(), first->joint(ring.points).trace());
  EXPECT_LT(a.trace(), second->joint(ring.points).trace());
  // Inner constraints: GᵀΣ' = 0 for every free motion.
  Eigen::MatrixXd g(a.rows(), 7);
  for (std::size_t i = 0; i < ring.points.size(); ++i) {
    g.middleRows(static_cast<Eigen::Index>(3 * i), 3) =
        datum_motions(ring.network.block(ring.points[i]), datum.centre, datum.radius);
  }
  EXPECT_LT((g.transpose() * a).cwiseAbs().maxCoeff(),
            1e-7 * a.cwiseAbs().maxCoeff() * static_cast<double>(a.rows()));
}

TEST(Covariance, NamesThePointThatOneMarkCannotFix) {
  RingNetwork ring = make_ring_network();
  for (const Suspect& mark : ring.marks) {
    if (mark.point == ring.points[4] && mark.photo > 0)
      ring.network.set_active(mark.observation, false);
  }
  const auto covariance = Covariance::compute(ring.network, find_datum(ring.network));
  ASSERT_FALSE(covariance);
  EXPECT_EQ(covariance.error().item, "point 4");
}

TEST(VarianceBudget, SharesSumToTheVarianceItself) {
  RingNetwork ring = make_ring_network();
  const Datum datum = find_datum(ring.network);
  ASSERT_TRUE(adjust(ring.network, datum));
  const auto covariance = Covariance::compute(ring.network, datum);
  ASSERT_TRUE(covariance);
  const Eigen::Vector3d direction =
      (ring.network.block(ring.points[9]).values - ring.network.block(ring.points[2]).values)
          .normalized();
  const Gradient gradient{{ring.points[2], ring.points[9]}, {-direction, direction}};
  const VarianceBudget budget = variance_budget(ring.network, *covariance, gradient);
  EXPECT_NEAR(budget.variance, variance_of(*covariance, gradient), 1e-9 * budget.variance);
  for (const double part : budget.by_group) EXPECT_GT(part, 0);
}

TEST(FitStatistics, RedundancyOfTheGroupsSumsToObservationsLessUnknowns) {
  RingNetwork ring = make_ring_network();
  const Datum datum = find_datum(ring.network);
  const auto adjusted = adjust(ring.network, datum);
  ASSERT_TRUE(adjusted);
  double sum = 0;
  for (const GroupFit& group : adjusted->fit.groups) sum += group.redundancy;
  EXPECT_NEAR(sum, adjusted->fit.redundancy, 1e-6);
  // 6 photos × 30 points × 2 + prior of 8 + bar − (6·6 + 30·3 + 8 − 6 of the datum)
  EXPECT_EQ(adjusted->fit.redundancy, 6 * 30 * 2 + 8 + 1 - (36 + 90 + 8 - 6));
}

TEST(Adjust, FindsTheFactorOfMarksWhoseSigmaWasGuessedTwiceTooLarge) {
  RingNetwork ring = make_ring_network(
      {.photo_count = 8, .point_count = 80, .mark_noise_px = 0.25, .sigma_px = 0.5});
  const auto adjusted = adjust(ring.network, find_datum(ring.network));
  ASSERT_TRUE(adjusted);
  EXPECT_TRUE(adjusted->fit.converged);
  // Redundancy about 1,000: s0 is known to 1/√(2·1000) = 2.2 %, three of these.
  EXPECT_NEAR(ring.network.groups()[0].scale, 0.5, 0.5 * 0.07);
  EXPECT_TRUE(adjusted->fit.sigma0_too_low);
  EXPECT_EQ(ring.network.groups()[2].scale, 1.0);
}

}  // namespace
}  // namespace calib::adjust
