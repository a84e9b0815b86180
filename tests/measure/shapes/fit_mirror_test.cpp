// The plane of symmetry: cases built from their answer, differences, datums, refusals.
#include "measure/shapes/fit_mirror.h"

#include <Eigen/Geometry>
#include <gtest/gtest.h>

#include "tests/support/shape_points.h"

namespace measure {
namespace {

using Eigen::MatrixXd;
using Eigen::Vector3d;
using testing_support::PointList;

std::vector<MirrorPair> pairs_of(const PointList& list) {
  std::vector<MirrorPair> pairs;
  for (std::size_t i = 0; i < list.size(); i += 2) pairs.push_back({list[i], list[i + 1]});
  return pairs;
}

/// Pairs on both sides of a plane that lies anyhow, exactly symmetric.
struct Symmetric {
  Vector3d normal, place;
  PointList points;
};
Symmetric make_symmetric(std::size_t pairs) {
  const auto plane = testing_support::make_shape_points(FormKind::kPlane, int(pairs), 3);
  Symmetric result{plane.truth.direction, plane.truth.position, {}};
  for (std::size_t i = 0; i < pairs; ++i) {
    const double reach = 12 + 5 * double(i % 4);
    result.points.push_back(plane.points[i] - reach * result.normal);
    result.points.push_back(plane.points[i] + reach * result.normal);
  }
  return result;
}

TEST(FitMirror, FindsThePlaneOfASymmetricOriginal) {
  const Symmetric made = make_symmetric(6);
  const auto pairs = pairs_of(made.points);
  const auto fit = fit_mirror({.pairs = pairs});
  ASSERT_TRUE(fit) << describe(fit.error());
  EXPECT_EQ(fit->plane.form.kind, FormKind::kPlane);
  EXPECT_LT((fit->plane.form.direction - made.normal).norm(), 1e-12);
  EXPECT_NEAR(made.normal.dot(fit->plane.form.position - made.place), 0, 1e-10);
  EXPECT_LT(fit->plane.departures.maxCoeff(), 1e-10);
  EXPECT_FALSE(fit->plane.test);
}

TEST(FitMirror, FollowsItsPointsAsDifferencesDo) {
  const Symmetric made = make_symmetric(4);
  const MatrixXd covariance = testing_support::correlated_covariance(made.points, 0.05, 4);
  const auto pairs = pairs_of(made.points);
  const auto fit = fit_mirror({.pairs = pairs, .covariance = covariance});
  ASSERT_TRUE(fit);
  for (Eigen::Index k = 0; k < 24; ++k) {
    constexpr double kStep = 1e-4;
    FormVector numbers[2];
    Vector3d departures[2];
    for (int side = 0; side < 2; ++side) {
      PointList moved = made.points;
      moved[static_cast<std::size_t>(k / 3)][k % 3] += side == 0 ? -kStep : kStep;
      const auto moved_pairs = pairs_of(moved);
      const auto there = fit_mirror({.pairs = moved_pairs, .covariance = covariance});
      ASSERT_TRUE(there);
      numbers[side] = vector(there->plane.form);
      departures[side] = there->pairs[2].vector;
    }
    EXPECT_LT((fit->plane.by_points.col(k) - (numbers[1] - numbers[0]) / (2 * kStep)).norm(), 1e-6);
    EXPECT_LT(
        (fit->pairs[2].by_points.col(k) - (departures[1] - departures[0]) / (2 * kStep)).norm(),
        1e-6);
  }
}

TEST(FitMirror, FindsThePairThatIsOff) {
  const Symmetric made = make_symmetric(8);
  PointList points = made.points;
  const Vector3d off(0.4, -0.3, 0.2);
  points[7] += off;  // the other one of the fourth pair
  const auto pairs = pairs_of(points);
  const auto fit =
      fit_mirror({.pairs = pairs, .covariance = 0.05 * 0.05 * MatrixXd::Identity(48, 48)});
  ASSERT_TRUE(fit && fit->plane.test);
  EXPECT_FALSE(fit->plane.test->within);
  EXPECT_GT(fit->plane.test->form_sigma, 0.05);
  EXPECT_GT(fit->plane.definition_covariance.norm(), 0);
  Eigen::Index worst = 0;
  fit->plane.departures.maxCoeff(&worst);
  EXPECT_EQ(worst, 3);
  EXPECT_NEAR(fit->plane.test->deviation, fit->plane.departures[3], 1e-12);
  // The plane takes up part of what stands along its normal, and little of what lies in it.
  const Vector3d within = off - off.dot(made.normal) * made.normal;
  const Vector3d& found = fit->pairs[3].vector;
  EXPECT_LT((found + within - found.dot(made.normal) * made.normal).norm(), 0.1);
  EXPECT_NEAR(fit->plane.u_departures[3], 0.05 * std::sqrt(2.0), 0.02);
}

TEST(FitMirror, DependsOnNoDatum) {
  const Symmetric made = make_symmetric(6);
  std::mt19937 random(3);
  const MatrixXd covariance = testing_support::correlated_covariance(made.points, 0.1, 6);
  PointList points = testing_support::Draws(covariance).moved(made.points, random);
  points[4] += Vector3d(1, 2, -1);
  const auto pairs = pairs_of(points);
  Eigen::VectorXd seven = Eigen::VectorXd::Zero(36);
  seven.head<6>().setOnes();
  seven[20] = 1;
  const auto variances = [&](const MatrixXd& here) {
    const auto fit = fit_mirror({.pairs = pairs, .covariance = here});
    EXPECT_TRUE(fit);
    // Lengths of the departures of two pairs, as a ratio, which no datum's scale touches.
    Eigen::RowVectorXd ratio = Eigen::RowVectorXd::Zero(36);
    double sign = 1;
    for (const std::size_t at : {2U, 4U}) {
      const auto& pair = fit->pairs[at];
      ratio += sign * pair.vector.transpose() / pair.vector.squaredNorm() * pair.by_points;
      sign = -1;
    }
    return std::pair(vector(fit->plane.form), double(ratio * here * ratio.transpose()));
  };
  const auto inner =
      variances(testing_support::in_datum(covariance, points, Eigen::VectorXd::Ones(36)));
  const auto held = variances(testing_support::in_datum(covariance, points, seven));
  EXPECT_LT((inner.first - held.first).norm(), 1e-8);
  EXPECT_NEAR(inner.second, held.second, 1e-7 * inner.second);
}

TEST(FitMirror, TakesOnePairWithNothingLeftToTest) {
  const std::vector<MirrorPair> pair{{{-5, 1, 1}, {7, 1, 1}}};
  const auto fit = fit_mirror({.pairs = pair, .covariance = 0.01 * MatrixXd::Identity(6, 6)});
  ASSERT_TRUE(fit) << describe(fit.error());
  EXPECT_NEAR(fit->plane.form.position.x(), 1, 1e-12);
  EXPECT_NEAR(fit->plane.form.direction.x(), 1, 1e-12);
  EXPECT_FALSE(fit->plane.test);
  EXPECT_LT(fit->pairs[0].vector.norm(), 1e-12);
}

TEST(FitMirror, BearsPointsThatLieInThePlaneThemselves) {
  Symmetric made = make_symmetric(3);
  made.points.push_back(made.place);  // its own image
  made.points.push_back(made.place);
  const auto pairs = pairs_of(made.points);
  MatrixXd covariance = 0.01 * MatrixXd::Identity(24, 24);
  covariance.block<3, 3>(18, 21) = covariance.block<3, 3>(21, 18) =
      0.01 * Eigen::Matrix3d::Identity();
  const auto fit = fit_mirror({.pairs = pairs, .covariance = covariance});
  ASSERT_TRUE(fit) << describe(fit.error());
  EXPECT_LT((fit->plane.form.direction - made.normal).norm(), 1e-9);
  EXPECT_TRUE(fit->plane.test->within);
  EXPECT_TRUE(fit->plane.u_departures.allFinite());
}

TEST(FitMirror, RefusesPairsThatTellNoPlane) {
  const auto none = fit_mirror({});
  ASSERT_FALSE(none);
  EXPECT_EQ(none.error(), ShapeError::kTooFewPairs);
  const std::vector<MirrorPair> same{{{1, 2, 3}, {1, 2, 3}}, {{4, 5, 6}, {4, 5, 6}}};
  const auto together = fit_mirror({.pairs = same});
  ASSERT_FALSE(together);
  EXPECT_EQ(together.error(), ShapeError::kPairsWithoutLength);
  const std::vector<MirrorPair> close{{{1, 2, 3}, {1.1, 2, 3}}, {{4, 5, 60}, {4, 5.1, 60}}};
  const auto vague = fit_mirror({.pairs = close, .covariance = 0.01 * MatrixXd::Identity(12, 12)});
  ASSERT_FALSE(vague);
  EXPECT_EQ(vague.error(), ShapeError::kPairsWithoutLength);
  const auto wrong = fit_mirror({.pairs = close, .covariance = MatrixXd::Identity(6, 6)});
  ASSERT_FALSE(wrong);
  EXPECT_EQ(wrong.error(), ShapeError::kCovarianceSize);
}

}  // namespace
}  // namespace measure
