#include "measure/shapes/functions.h"

#include <cmath>
#include <functional>
#include <numbers>
#include <random>

#include <gtest/gtest.h>

namespace measure {
namespace {

using Eigen::Vector3d;
using Points = std::vector<Vector3d>;
using Function = std::function<ShapeResult(const Points&)>;

void expect_gradient_of_differences(const Function& function, int point_count) {
  std::mt19937 random(11);
  std::normal_distribution<double> normal;
  for (int trial = 0; trial < 100; ++trial) {
    Points points(static_cast<std::size_t>(point_count));
    for (auto& p : points) p = 50 * Vector3d(normal(random), normal(random), normal(random));
    const auto value = function(points);
    ASSERT_TRUE(value);
    ASSERT_EQ(value->gradient.size(), 3 * point_count);
    for (int k = 0; k < 3 * point_count; ++k) {
      const double step = 1e-5;
      Points high = points, low = points;
      high[static_cast<std::size_t>(k / 3)][k % 3] += step;
      low[static_cast<std::size_t>(k / 3)][k % 3] -= step;
      const double numeric = (function(high)->value - function(low)->value) / (2 * step);
      // Central differences of values near 100 keep about nine digits; gradients are of order one.
      EXPECT_NEAR(value->gradient[k], numeric, 2e-6 * (1 + std::abs(numeric)));
    }
  }
}

TEST(Gradient, OfEveryKindIsWhatDifferencesGive) {
  expect_gradient_of_differences([](const Points& p) { return ShapeResult(distance(p[0], p[1])); },
                                 2);
  expect_gradient_of_differences(
      [](const Points& p) { return distance_along(p[0], p[1], p[2], p[3]); }, 4);
  expect_gradient_of_differences([](const Points& p) { return angle_at(p[0], p[1], p[2]); }, 3);
  expect_gradient_of_differences([](const Points& p) { return offset_from_line(p[0], p[1], p[2]); },
                                 3);
  for (const int plane_points : {3, 4, 7}) {
    expect_gradient_of_differences(
        [](const Points& p) {
          return offset_from_plane(p[0], std::span<const Vector3d>(p).subspan(1));
        },
        plane_points + 1);
  }
}

TEST(AngleAt, KeepsItsDigitsNearZeroAndAStraightAngle) {
  const double small = 1e-7;
  EXPECT_NEAR(angle_at({1, 0, 0}, {0, 0, 0}, {std::cos(small), std::sin(small), 0})->value, small,
              1e-15);
  EXPECT_NEAR(angle_at({-1, 0, 0}, {0, 0, 0}, {std::cos(small), std::sin(small), 0})->value,
              std::numbers::pi - small, 1e-15);
}

TEST(OffsetFromPlane, IsPositiveOnTheSideOfTheFirstThreePointsNormal) {
  const Points plane{{0, 0, 0}, {10, 0, 0}, {0, 10, 0}};
  EXPECT_NEAR(offset_from_plane({3, 3, 2}, plane)->value, 2, 1e-12);
  const Points turned{{0, 0, 0}, {0, 10, 0}, {10, 0, 0}};
  EXPECT_NEAR(offset_from_plane({3, 3, 2}, turned)->value, -2, 1e-12);
}

TEST(OffsetFromPlane, OfFourPointsIsFromTheLeastSquaresPlane) {
  const Points plane{
      {-1, -1, 0.1}, {1, -1, -0.1}, {1, 1, 0.1}, {-1, 1, -0.1}};  // a saddle about z = 0
  EXPECT_NEAR(offset_from_plane({0, 0, 5}, plane)->value, 5, 1e-12);
}

TEST(Functions, RefuseWhatHasNoDirection) {
  const Vector3d a(1, 2, 3);
  EXPECT_EQ(distance_along({0, 0, 0}, {1, 0, 0}, a, a).error(), ShapeError::kAxisWithoutLength);
  EXPECT_EQ(offset_from_line({0, 0, 0}, a, a).error(), ShapeError::kAxisWithoutLength);
  EXPECT_EQ(angle_at(a, a, {0, 0, 0}).error(), ShapeError::kAxisWithoutLength);
  const Points line{{0, 0, 0}, {1, 1, 1}, {2, 2, 2}};
  EXPECT_EQ(offset_from_plane({0, 0, 1}, line).error(), ShapeError::kPointsInLine);
  EXPECT_EQ(offset_from_plane({0, 0, 1}, std::span<const Vector3d>(line).first(2)).error(),
            ShapeError::kTooFewPoints);
}

TEST(Distance, OfCoincidingPointsIsZeroWithoutNan) {
  const auto d = distance({1, 2, 3}, {1, 2, 3});
  EXPECT_EQ(d.value, 0);
  EXPECT_TRUE(d.gradient.isZero());
}

}  // namespace
}  // namespace measure
