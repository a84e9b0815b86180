#include "calib/adjust/snooping.h"

#include <algorithm>
#include <cmath>
#include <set>

#include <Eigen/Eigenvalues>
#include <gtest/gtest.h>

#include "calib/adjust/observations.h"
#include "tests/support/ring_network.h"

namespace calib::adjust {
namespace {

using testing_support::make_ring_network;
using testing_support::RingNetwork;

/// The network again, with some marks moved: observations cannot be altered, so a new one takes its
/// place.
std::set<int> spoil(RingNetwork& ring,
                    const std::vector<std::pair<std::size_t, Eigen::Vector2d>>& shifts) {
  std::set<int> spoilt;
  for (const auto& [at, shift] : shifts) {
    Suspect& mark = ring.marks[at];
    ring.network.set_active(mark.observation, false);
    mark.observation =
        ring.network.add_observation(mark_observation(ring.positions_px[at] + shift, 0.5),
                                     {ring.poses[mark.photo], ring.camera, mark.point}, GroupId{0});
    spoilt.insert(mark.observation.index);
  }
  return spoilt;
}

std::set<int> doubted(const SnoopingReport& report) {
  std::set<int> marks;
  for (const DoubtedMark& mark : report.doubted) marks.insert(mark.observation.index);
  return marks;
}

TEST(Snoop, FindsSeveralBlundersThatWouldMaskEachOther) {
  RingNetwork ring = make_ring_network({.photo_count = 6, .point_count = 40, .seed = 5});
  const auto spoilt = spoil(ring, {{8, {7, -4}}, {20, {-30, 12}}, {21, {6, 6}}, {120, {0, -40}}});
  const auto report = snoop(ring.network, find_datum(ring.network), ring.marks);
  ASSERT_TRUE(report) << report.error().item;
  EXPECT_EQ(doubted(*report), spoilt);
  EXPECT_FALSE(report->gave_up);
  for (const DoubtedMark& mark : report->doubted) EXPECT_GT(mark.w, mark.critical_w);
}

TEST(Snoop, ReportsASwappedPairAsASwap) {
  RingNetwork ring = make_ring_network({.photo_count = 6, .point_count = 40, .seed = 6});
  // Marks 60 and 66: points 10 and 11 in photo 0 (every photo sees every point, six marks a point).
  const std::size_t a = 60, b = 66;
  ASSERT_EQ(ring.marks[a].photo, ring.marks[b].photo);
  const Eigen::Vector2d between = ring.positions_px[b] - ring.positions_px[a];
  const auto spoilt = spoil(ring, {{a, between}, {b, -between}});
  const auto report = snoop(ring.network, find_datum(ring.network), ring.marks);
  ASSERT_TRUE(report);
  EXPECT_EQ(doubted(*report), spoilt);
  ASSERT_EQ(report->swaps.size(), 1u);
  EXPECT_EQ((std::set<int>{report->swaps[0].first.index, report->swaps[0].second.index}), spoilt);
}

TEST(Snoop, DoubtsAboutOneInAThousandOfGoodMarks) {
  int doubts = 0, marks = 0;
  for (std::uint32_t seed = 100; seed < 120; ++seed) {
    RingNetwork ring = make_ring_network({.photo_count = 6, .point_count = 40, .seed = seed});
    const auto report = snoop(ring.network, find_datum(ring.network), ring.marks);
    ASSERT_TRUE(report);
    doubts += static_cast<int>(report->doubted.size());
    marks += static_cast<int>(ring.marks.size());
    EXPECT_NEAR(report->expected_false_doubts, 0.24, 1e-9);
  }
  // 4,800 marks, 4.8 expected: Poisson, 99.9 % below 13. None at all would mean a test that cannot
  // fail.
  EXPECT_GE(doubts, 1);
  EXPECT_LE(doubts, 13);
}

TEST(Snoop, DoubtsAsOftenWhenSigmaWasGuessedThreeTimesTooSmall) {
  int doubts = 0;
  for (std::uint32_t seed = 200; seed < 220; ++seed) {
    RingNetwork ring = make_ring_network(
        {.photo_count = 6, .point_count = 40, .mark_noise_px = 1.5, .seed = seed});
    const auto report = snoop(ring.network, find_datum(ring.network), ring.marks);
    ASSERT_TRUE(report);
    doubts += static_cast<int>(report->doubted.size());
  }
  EXPECT_LE(doubts, 13);  // as above: the test rests on s0, not on the guess
}

/// Point 10 keeps its marks in photos 0 and 1 only, and the first of them is moved.
std::set<int> spoil_a_two_photo_point(RingNetwork& ring, const Eigen::Vector2d& shift) {
  for (std::size_t at = 62; at < 66; ++at)
    ring.network.set_active(ring.marks[at].observation, false);
  spoil(ring, {{60, shift}});
  return {ring.marks[60].observation.index, ring.marks[61].observation.index};
}

TEST(Snoop, BlamesNeitherOfTwoMarksThatCannotBeToldApart) {
  RingNetwork ring = make_ring_network({.photo_count = 6, .point_count = 40, .seed = 7});
  const auto pair = spoil_a_two_photo_point(ring, {14, 20});
  const auto report = snoop(ring.network, find_datum(ring.network), ring.marks);
  ASSERT_TRUE(report) << report.error().item;
  EXPECT_EQ(doubted(*report), std::set<int>{});
  ASSERT_EQ(report->inseparable.size(), 1u);
  std::set<int> group;
  for (const ObservationId id : report->inseparable[0]) group.insert(id.index);
  EXPECT_EQ(group, pair);
  EXPECT_TRUE(report->needed.empty());
}

TEST(Snoop, StillBlamesTheOneMarkThatOthersContradict) {
  RingNetwork ring = make_ring_network({.photo_count = 6, .point_count = 40, .seed = 7});
  const auto spoilt = spoil(ring, {{60, {14, 20}}});
  const auto report = snoop(ring.network, find_datum(ring.network), ring.marks);
  ASSERT_TRUE(report);
  EXPECT_EQ(doubted(*report), spoilt);
  EXPECT_TRUE(report->inseparable.empty());
}

/// The whole residual cofactor matrix I − J Q Jᵀ, two rows a mark, and the residuals.
struct DenseResiduals {
  Eigen::MatrixXd cofactor;
  Eigen::VectorXd values;
};

DenseResiduals dense_residuals(const RingNetwork& ring, const Covariance& covariance) {
  std::vector<BlockId> blocks;
  std::vector<Eigen::Index> first;
  Eigen::Index columns = 0;
  for (std::size_t b = 0; b < ring.network.blocks().size(); ++b) {
    blocks.push_back({static_cast<int>(b)});
    first.push_back(columns);
    columns += ring.network.blocks()[b].values.size();
  }
  const auto rows = static_cast<Eigen::Index>(2 * ring.marks.size());
  Eigen::MatrixXd jacobian = Eigen::MatrixXd::Zero(rows, columns);
  DenseResiduals dense;
  dense.values.resize(rows);
  for (std::size_t m = 0; m < ring.marks.size(); ++m) {
    const Observation& observation = ring.network.observation(ring.marks[m].observation);
    std::vector<const double*> parameters;
    std::vector<Eigen::Matrix<double, 2, Eigen::Dynamic, Eigen::RowMajor>> parts;
    for (const BlockId id : observation.blocks) {
      parameters.push_back(ring.network.block(id).values.data());
      parts.emplace_back(2, ring.network.block(id).values.size());
    }
    std::vector<double*> pointers;
    for (auto& part : parts) pointers.push_back(part.data());
    const auto row = static_cast<Eigen::Index>(2 * m);
    EXPECT_TRUE(
        observation.cost->Evaluate(parameters.data(), dense.values.data() + row, pointers.data()));
    for (std::size_t b = 0; b < parts.size(); ++b) {
      jacobian.block(row, first[static_cast<std::size_t>(observation.blocks[b].index)], 2,
                     parts[b].cols()) = parts[b];
    }
  }
  dense.cofactor = Eigen::MatrixXd::Identity(rows, rows) -
                   jacobian * covariance.joint(blocks) * jacobian.transpose();
  return dense;
}

TEST(InseparableFrom, FindsTheMarksWhoseNormalisedResidualsCorrelateByMoreThanNineTenths) {
  RingNetwork ring = make_ring_network({.photo_count = 3, .point_count = 9, .seed = 11});
  // Points 0 to 3 in two photos only: some pairs correlate fully, others hardly.
  for (std::size_t point = 0; point < 4; ++point)
    ring.network.set_active(ring.marks[3 * point + point % 3].observation, false);
  std::erase_if(ring.marks, [&](const Suspect& mark) {
    return !ring.network.observation(mark.observation).active;
  });
  const Datum datum = find_datum(ring.network);
  solve(ring.network, datum);
  const auto covariance = Covariance::compute(ring.network, datum);
  ASSERT_TRUE(covariance);
  const DenseResiduals dense = dense_residuals(ring, *covariance);
  // The eigen-directions of a mark's cofactor are those that its test uses: of 0.05 and more.
  const auto root = [&](Eigen::Index m) {
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> eigen(
        Eigen::Matrix2d(dense.cofactor.block<2, 2>(2 * m, 2 * m)));
    Eigen::Vector2d inverse;
    for (int k = 0; k < 2; ++k)
      inverse[k] = eigen.eigenvalues()[k] < 0.05 ? 0 : 1 / std::sqrt(eigen.eigenvalues()[k]);
    return Eigen::Matrix2d(eigen.eigenvectors() * inverse.asDiagonal() *
                           eigen.eigenvectors().transpose());
  };
  int inseparable = 0, separable = 0;
  const auto count = static_cast<Eigen::Index>(ring.marks.size());
  for (Eigen::Index i = 0; i < count; ++i) {
    const Eigen::Vector2d direction = (root(i) * dense.values.segment<2>(2 * i)).normalized();
    std::set<int> expected;
    for (Eigen::Index j = 0; j < count; ++j) {
      if (j == i) continue;
      const Eigen::Matrix2d k = root(i) * dense.cofactor.block<2, 2>(2 * i, 2 * j) * root(j);
      if ((k.transpose() * direction).norm() > 0.9)
        expected.insert(ring.marks[static_cast<std::size_t>(j)].observation.index);
    }
    inseparable += static_cast<int>(expected.size());
    separable += static_cast<int>(count - 1) - static_cast<int>(expected.size());
    std::set<int> found;
    for (const ObservationId id :
         inseparable_from(ring.network, *covariance, ring.marks,
                          ring.marks[static_cast<std::size_t>(i)].observation))
      found.insert(id.index);
    EXPECT_EQ(found, expected) << "mark " << i;
  }
  EXPECT_GT(inseparable, 0);
  EXPECT_GT(separable, 0);
}

TEST(InseparableFrom, SaysTheSameOfAMarkThatIsLeftOut) {
  RingNetwork ring = make_ring_network({.photo_count = 6, .point_count = 40, .seed = 7});
  spoil_a_two_photo_point(ring, {4, 6});
  // A third mark, so that one of them can be left out.
  ring.network.set_active(ring.marks[62].observation, true);
  const Datum datum = find_datum(ring.network);
  for (const std::size_t at : {std::size_t{60}, std::size_t{100}}) {
    const ObservationId id = ring.marks[at].observation;
    const auto judged = [&] {
      solve(ring.network, datum);
      const auto covariance = Covariance::compute(ring.network, datum);
      EXPECT_TRUE(covariance);
      std::set<int> group;
      for (const ObservationId other : inseparable_from(ring.network, *covariance, ring.marks, id))
        group.insert(other.index);
      return group;
    };
    const auto taking_part = judged();
    ring.network.set_active(id, false);
    EXPECT_EQ(judged(), taking_part) << at;
    ring.network.set_active(id, true);
  }
}

TEST(TestMark, CallsAMarkOfATwoPhotoPointUncontrolledAlongTheEpipolarLine) {
  RingNetwork ring =
      make_ring_network({.photo_count = 2, .point_count = 30, .camera_prior = false});
  const auto report = snoop(ring.network, find_datum(ring.network), ring.marks);
  ASSERT_TRUE(report);
  EXPECT_TRUE(report->doubted.empty());
  const auto covariance = Covariance::compute(ring.network, find_datum(ring.network));
  ASSERT_TRUE(covariance);
  const MarkTest test =
      test_mark(ring.network, *covariance, fit_statistics(ring.network, *covariance),
                ring.marks[10].observation);
  EXPECT_LT(test.redundancy, 0.3);  // one of four coordinates of the two marks is checked
}

}  // namespace
}  // namespace calib::adjust
