// Gradients of the functions of points against differences, many positions; and what they are at a
// kink.
#include "measure/shapes/functions.h"

#include <functional>
#include <numbers>
#include <random>
#include <span>
#include <vector>

#include <gtest/gtest.h>

namespace measure {
namespace {

using Points = std::vector<Eigen::Vector3d>;
using PointFunction = std::function<ValueGradient(const Points&)>;

void expect_gradient_as_differences(const PointFunction& function, int count, std::uint32_t seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> coordinate(-100, 100);
  for (int trial = 0; trial < 50; ++trial) {
    Points points;
    for (int i = 0; i < count; ++i)
      points.emplace_back(coordinate(random), coordinate(random), coordinate(random));
    const ValueGradient at = function(points);
    ASSERT_EQ(at.gradient.size(), 3 * count);
    for (Eigen::Index k = 0; k < 3 * count; ++k) {
      constexpr double kStep = 1e-4;
      Points above = points, below = points;
      above[k / 3][k % 3] += kStep;
      below[k / 3][k % 3] -= kStep;
      const double difference = (function(above).value - function(below).value) / (2 * kStep);
      // Gradients are of order 1 (per mm of lengths) or 0.01 (angles); positions near a degenerate
      // one curve more.
      EXPECT_NEAR(at.gradient[k], difference, 1e-6 * (1 + at.gradient.norm() * at.gradient.norm()))
          << "trial " << trial << ", coordinate " << k;
    }
    // Moving everything alike changes nothing.
    Eigen::Vector3d sum = Eigen::Vector3d::Zero();
    for (int i = 0; i < count; ++i) sum += at.gradient.segment<3>(3 * i);
    EXPECT_LT(sum.norm(), 1e-10 * (1 + at.gradient.norm()));
  }
}

TEST(Distance, HasTheGradientOfDifferences) {
  expect_gradient_as_differences([](const Points& p) { return distance(p[0], p[1]); }, 2, 1);
}
TEST(DistanceAlong, HasTheGradientOfDifferences) {
  expect_gradient_as_differences(
      [](const Points& p) { return *distance_along(p[0], p[1], p[2], p[3]); }, 4, 2);
}
TEST(AngleAt, HasTheGradientOfDifferences) {
  expect_gradient_as_differences([](const Points& p) { return *angle_at(p[0], p[1], p[2]); }, 3, 3);
}
TEST(OffsetFromLine, HasTheGradientOfDifferences) {
  expect_gradient_as_differences(
      [](const Points& p) { return *offset_from_line(p[0], p[1], p[2]); }, 3, 4);
}
TEST(OffsetFromPlane, HasTheGradientOfDifferencesThroughThreePoints) {
  expect_gradient_as_differences(
      [](const Points& p) { return *offset_from_plane(p[0], std::span(p).subspan(1)); }, 4, 5);
}
TEST(OffsetFromPlane, HasTheGradientOfDifferencesThroughManyPoints) {
  std::mt19937 random(6);
  std::uniform_real_distribution<double> coordinate(-100, 100);
  // Flat ones, as planes are; a cloud has no side to speak of.
  const auto flattened = [](const Points& p) {
    Points flat = p;
    for (std::size_t i = 0; i < flat.size(); ++i) flat[i].z() *= i == 0 ? 1.0 : 0.02;
    flat[1] += Eigen::Vector3d(-300, -300, 0);
    flat[2] += Eigen::Vector3d(300, -300, 0);
    flat[3] += Eigen::Vector3d(0, 300, 0);
    ValueGradient result = *offset_from_plane(flat[0], std::span(flat).subspan(1));
    for (std::size_t i = 1; i < flat.size(); ++i)
      result.gradient[3 * static_cast<Eigen::Index>(i) + 2] *= 0.02;
    return result;
  };
  for (int trial = 0; trial < 50; ++trial) {
    Points points;
    for (int i = 0; i < 7; ++i)
      points.emplace_back(coordinate(random), coordinate(random), coordinate(random));
    const ValueGradient at = flattened(points);
    for (Eigen::Index k = 0; k < 21; ++k) {
      constexpr double kStep = 1e-3;
      Points above = points, below = points;
      above[k / 3][k % 3] += kStep;
      below[k / 3][k % 3] -= kStep;
      EXPECT_NEAR(at.gradient[k], (flattened(above).value - flattened(below).value) / (2 * kStep),
                  1e-8);
    }
  }
}

TEST(AngleAt, KeepsItsDigitsNextToZeroAndToAStraightLine) {
  // The arc cosine of 1 − 5e-19 would give 0.
  const auto sharp = angle_at({1, 0, 0}, {0, 0, 0}, {1, 1e-9, 0});
  ASSERT_TRUE(sharp);
  EXPECT_NEAR(sharp->value, 1e-9, 1e-22);
  const auto straight = angle_at({1, 0, 0}, {0, 0, 0}, {-1, 1e-9, 0});
  ASSERT_TRUE(straight);
  EXPECT_NEAR(std::numbers::pi - straight->value, 1e-9, 1e-15);
}

TEST(Functions, GiveZeroAndNoNotANumberAtTheirKink) {
  EXPECT_EQ(distance({1, 2, 3}, {1, 2, 3}).value, 0.0);
  EXPECT_TRUE(distance({1, 2, 3}, {1, 2, 3}).gradient.allFinite());
  const auto on_line = offset_from_line({2, 0, 0}, {0, 0, 0}, {4, 0, 0});
  ASSERT_TRUE(on_line);
  EXPECT_EQ(on_line->value, 0.0);
  EXPECT_TRUE(on_line->gradient.allFinite());
  const auto closed = angle_at({1, 0, 0}, {0, 0, 0}, {2, 0, 0});
  ASSERT_TRUE(closed);
  EXPECT_EQ(closed->value, 0.0);
  EXPECT_TRUE(closed->gradient.allFinite());
}

TEST(Functions, RefuseADirectionThatTwoCoincidentPointsShouldGive) {
  const Eigen::Vector3d a(1, 2, 3), b(4, 4, 4);
  EXPECT_EQ(distance_along(a, b, a, a).error(), ShapeError::kAxisWithoutLength);
  EXPECT_EQ(angle_at(a, a, b).error(), ShapeError::kAxisWithoutLength);
  EXPECT_EQ(offset_from_line(a, b, b).error(), ShapeError::kAxisWithoutLength);
}

}  // namespace
}  // namespace measure
