// The least-squares plane: cases built from their answer.
#include "measure/shapes/plane.h"

#include <cmath>
#include <random>
#include <vector>

#include <Eigen/Geometry>
#include <gtest/gtest.h>

namespace measure {
namespace {

using Points = std::vector<Eigen::Vector3d>;

TEST(FitPlane, TakesItsSideFromTheOrderOfItsFirstThreePoints) {
  const Points corners{{0, 0, 5}, {1, 0, 5}, {0, 1, 5}, {1, 1, 5}};
  const auto up = fit_plane(corners);
  ASSERT_TRUE(up);
  EXPECT_NEAR(up->normal.z(), 1.0, 1e-15);
  const auto down = fit_plane(Points{corners[0], corners[2], corners[1], corners[3]});
  ASSERT_TRUE(down);
  EXPECT_NEAR(down->normal.z(), -1.0, 1e-15);
}

TEST(FitPlane, FindsTheFormDeviationOfARectangleTwistedByKnownOffsets) {
  // Offsets +1, −1, +1, −1 at the corners of a rectangle are at right angles to every plane: the
  // best plane stays z = 0, and Σ offset²/(n − 3) = 4/1.
  const auto plane = fit_plane(Points{{-30, -20, 1}, {30, -20, -1}, {30, 20, 1}, {-30, 20, -1}});
  ASSERT_TRUE(plane);
  EXPECT_NEAR(plane->normal.z(), 1.0, 1e-14);
  ASSERT_TRUE(plane->form_deviation);
  EXPECT_NEAR(*plane->form_deviation, 2.0, 1e-13);
  EXPECT_NEAR(plane->offsets[0], 1.0, 1e-13);
  EXPECT_NEAR(plane->offsets[1], -1.0, 1e-13);
}

TEST(FitPlane, HasNoFormDeviationThroughThreePoints) {
  const auto plane = fit_plane(Points{{0, 0, 0}, {3, 0, 1}, {0, 2, 0}});
  ASSERT_TRUE(plane);
  EXPECT_FALSE(plane->form_deviation);
  EXPECT_LT(plane->offsets.cwiseAbs().maxCoeff(), 1e-15);
}

TEST(FitPlane, DerivesItsNormalAsDifferencesDo) {
  std::mt19937 random(3);
  std::normal_distribution<double> normal;
  for (const int count : {3, 4, 7}) {
    Points points;
    for (int i = 0; i < count; ++i)
      points.emplace_back(100 + 40 * normal(random), 30 * normal(random), 3 * normal(random));
    const auto plane = fit_plane(points);
    ASSERT_TRUE(plane);
    for (Eigen::Index k = 0; k < 3 * count; ++k) {
      constexpr double kStep = 1e-4;  // of 40: truncation and rounding both below 1e-9
      Points above = points, below = points;
      above[k / 3][k % 3] += kStep;
      below[k / 3][k % 3] -= kStep;
      const Eigen::Vector3d difference =
          (fit_plane(above)->normal - fit_plane(below)->normal) / (2 * kStep);
      EXPECT_LT((plane->normal_by_points.col(k) - difference).norm(), 1e-8)
          << count << " points, coordinate " << k;
    }
  }
}

TEST(FitPlane, TurnsWithItsPoints) {
  const Points points{{0, 0, 0}, {40, 1, 0}, {2, 30, 1}, {41, 33, 2}, {20, 10, -1}};
  const Eigen::Matrix3d turn =
      Eigen::AngleAxisd(2.1, Eigen::Vector3d(1, -2, 0.5).normalized()).toRotationMatrix();
  Points turned;
  for (const auto& p : points) turned.push_back(turn * p + Eigen::Vector3d(500, -300, 200));
  const auto plane = fit_plane(points), moved = fit_plane(turned);
  ASSERT_TRUE(plane && moved);
  EXPECT_LT((moved->normal - turn * plane->normal).norm(), 1e-12);
  EXPECT_NEAR(*moved->form_deviation, *plane->form_deviation, 1e-12);
}

TEST(FitPlane, RefusesPointsInALine) {
  const auto line = fit_plane(Points{{0, 0, 0}, {1, 2, 3}, {2, 4, 6}, {5, 10, 15}});
  ASSERT_FALSE(line);
  EXPECT_EQ(line.error(), ShapeError::kPointsInLine);
  const auto diagonal = fit_plane(Points{{0, 0, 0}, {1, 1, 1}, {2, 2, 2}});
  ASSERT_FALSE(diagonal);
  EXPECT_EQ(diagonal.error(), ShapeError::kPointsInLine);
  const auto spot = fit_plane(Points{{7, 7, 7}, {7, 7, 7}, {7, 7, 7}});
  ASSERT_FALSE(spot);
  EXPECT_EQ(spot.error(), ShapeError::kPointsInLine);
}

TEST(FitPlane, RefusesToGuessTheSideFromThreePointsInALine) {
  const auto plane = fit_plane(Points{{0, 0, 0}, {100, 0.01, 0}, {200, 0, 0}, {100, 100, 0}});
  ASSERT_FALSE(plane);
  EXPECT_EQ(plane.error(), ShapeError::kSideUnknown);
}

TEST(FitPlane, RefusesTwoPoints) {
  const auto plane = fit_plane(Points{{0, 0, 0}, {1, 0, 0}});
  ASSERT_FALSE(plane);
  EXPECT_EQ(plane.error(), ShapeError::kTooFewPoints);
}

TEST(DescribeShapeError, GivesEveryErrorItsOwnRemedy) {
  for (const ShapeError error : {ShapeError::kAxisWithoutLength, ShapeError::kPointsInLine,
                                 ShapeError::kTooFewPoints, ShapeError::kSideUnknown}) {
    EXPECT_GT(describe(error).size(), 20u);
  }
}

}  // namespace
}  // namespace measure
