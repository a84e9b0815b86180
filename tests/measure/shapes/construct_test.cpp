// Constructed forms: cases by hand, derivatives against differences, refusals.
#include "measure/shapes/construct.h"

#include <cmath>
#include <functional>
#include <random>

#include <Eigen/Geometry>
#include <gtest/gtest.h>

namespace measure {
namespace {

using Eigen::Vector3d;
using Forms = std::vector<Form>;

constexpr FormKind kPoint = FormKind::kPoint, kLine = FormKind::kLine, kPlane = FormKind::kPlane,
                   kCircle = FormKind::kCircle, kSphere = FormKind::kSphere,
                   kCylinder = FormKind::kCylinder, kCone = FormKind::kCone;

Form form(FormKind kind, const Vector3d& place, const Vector3d& direction) {
  return {.kind = kind, .position = place, .direction = direction.normalized()};
}

void expect_derivatives(const std::function<ConstructResult(const Forms&)>& make,
                        const std::vector<FormKind>& kinds,
                        const std::function<void(Forms&, std::mt19937&)>& arrange = {}) {
  std::mt19937 random(5);
  std::normal_distribution<double> normal;
  const auto any = [&] { return Vector3d(normal(random), normal(random), normal(random)); };
  for (int trial = 0; trial < 25; ++trial) {
    Forms forms;
    for (const FormKind kind : kinds) forms.push_back(form(kind, 50 * any(), any()));
    if (arrange) arrange(forms, random);
    const auto at = make(forms);
    if (!at) continue;  // nearly parallel by chance
    ASSERT_EQ(at->by_input.size(), forms.size());
    EXPECT_NEAR(at->form.direction.norm(), 1, 1e-14);
    for (std::size_t i = 0; i < forms.size(); ++i) {
      for (int k = 0; k < 6; ++k) {
        const double step = k < 3 ? 1e-4 : 1e-6;
        FormVector ends[2];
        for (int side = 0; side < 2; ++side) {
          Forms moved = forms;
          FormVector numbers = vector(moved[i]);
          numbers[k] += side == 0 ? -step : step;
          moved[i] = with_vector(moved[i], numbers);
          const auto there = make(moved);
          ASSERT_TRUE(there);
          ends[side] = vector(there->form);
        }
        const FormVector difference = (ends[1] - ends[0]) / (2 * step);
        const double size = 1 + at->by_input[i].norm();
        // Crossings at a small angle curve by the square of how much they magnify.
        EXPECT_LT((at->by_input[i].col(k) - difference).norm(), 2e-8 * size * size)
            << "trial " << trial << ", input " << i << ", number " << k;
      }
    }
  }
}

ConstructResult crossing_of(const Forms& f) { return crossing(f[0], f[1]); }

TEST(Crossing, FollowsItsInputsAsDifferencesDo) {
  for (const auto& kinds : std::vector<std::vector<FormKind>>{{kLine, kLine},
                                                              {kCone, kCylinder},
                                                              {kLine, kPlane},
                                                              {kCircle, kLine},
                                                              {kPlane, kPlane},
                                                              {kCircle, kPlane}})
    expect_derivatives(crossing_of, kinds);
}

TEST(Crossing, OfTwoLinesLiesInTheMiddleOfTheirGap) {
  const auto at = crossing(form(kLine, {7, 0, 1}, {1, 0, 0}), form(kLine, {2, 5, 4}, {0, 1, 0}));
  ASSERT_TRUE(at);
  EXPECT_EQ(at->form.kind, kPoint);
  EXPECT_LT((at->form.position - Vector3d(2, 0, 2.5)).norm(), 1e-14);
  EXPECT_NEAR(at->gap, 3, 1e-14);
}

TEST(Crossing, OfLineAndPlaneIsAPoint) {
  const auto at = crossing(form(kPlane, {3, 3, 5}, {0, 0, 1}), form(kLine, {0, 0, 0}, {1, 2, 2}));
  ASSERT_TRUE(at);
  EXPECT_LT((at->form.position - Vector3d(2.5, 5, 5)).norm(), 1e-14);
}

TEST(Crossing, OfTwoPlanesIsALineBesideTheirMiddle) {
  const auto at = crossing(form(kPlane, {4, 8, 0}, {0, 0, 1}), form(kPlane, {0, 6, 9}, {1, 0, 0}));
  ASSERT_TRUE(at);
  EXPECT_EQ(at->form.kind, kLine);
  EXPECT_LT((at->form.direction - Vector3d(0, 1, 0)).norm(), 1e-14);
  EXPECT_LT((at->form.position - Vector3d(0, 7, 0)).norm(), 1e-14);
  EXPECT_NEAR(at->form.from, -1, 1e-14);
  EXPECT_NEAR(at->form.to, 1, 1e-14);
}

TEST(Crossing, IsRefusedWhereNearlyParallel) {
  const Form x = form(kLine, {0, 0, 0}, {1, 0, 0});
  EXPECT_EQ(crossing(x, form(kLine, {0, 1, 0}, {1, 0.01, 0})).error(), ShapeError::kLinesParallel);
  EXPECT_EQ(crossing(x, form(kPlane, {0, 0, 1}, {0.01, 0, 1})).error(),
            ShapeError::kLineAlongPlane);
  EXPECT_EQ(
      crossing(form(kPlane, {0, 0, 0}, {0, 0, 1}), form(kPlane, {0, 0, 5}, {0, 0.01, -1})).error(),
      ShapeError::kPlanesParallel);
  EXPECT_EQ(crossing(x, Form{}).error(), ShapeError::kNoCrossing);
  EXPECT_EQ(crossing(form(kSphere, {0, 0, 0}, {1, 0, 0}), x).error(), ShapeError::kNoCrossing);
}

ConstructResult mid_of(const Forms& f) { return mid_plane(f[0], f[1]); }

TEST(MidPlane, FollowsItsInputsAsDifferencesDo) {
  expect_derivatives(mid_of, {kPlane, kCircle});
  expect_derivatives(mid_of, {kPlane, kPlane}, [](Forms& f, std::mt19937&) {
    f[1].direction = (f[1].direction * 0.05 - f[0].direction).normalized();
  });
}

TEST(MidPlane, LiesHalfwayBetweenFaces) {
  for (const double side : {1.0, -1.0}) {  // whichever way the normals were marked
    const auto at =
        mid_plane(form(kPlane, {0, 0, 2}, {0, 0, 1}), form(kPlane, {30, 5, 8}, {0, 0, side}));
    ASSERT_TRUE(at);
    EXPECT_NEAR(at->form.position.z(), 5, 1e-14);
    EXPECT_NEAR(at->form.direction.z(), 1, 1e-14);
  }
}

TEST(MidPlane, HalvesTheAngleBetweenThePlaces) {
  // Floor and wall marked at (10, ·, 0) and (0, ·, 10): the plane between them is x = z, and its
  // position the foot of their middle, which lies in it.
  for (const double side : {1.0, -1.0}) {
    const auto at =
        mid_plane(form(kPlane, {10, 0, 0}, {0, 0, 1}), form(kPlane, {0, 4, 10}, {side, 0, 0}));
    ASSERT_TRUE(at);
    EXPECT_LT((at->form.direction - Vector3d(-1, 0, 1).normalized()).norm(), 1e-14);
    EXPECT_LT((at->form.position - Vector3d(5, 2, 5)).norm(), 1e-14);
  }
  // The same two, marked on the other side of the corner.
  const auto other =
      mid_plane(form(kPlane, {-10, 0, 0}, {0, 0, 1}), form(kPlane, {0, 4, 10}, {1, 0, 0}));
  ASSERT_TRUE(other);
  EXPECT_LT((other->form.direction - Vector3d(1, 0, 1).normalized()).norm(), 1e-14);
  EXPECT_EQ(
      mid_plane(form(kPlane, {0, 0, 0}, {0, 0, 1}), form(kPlane, {0, 4, 10}, {1, 0, 0})).error(),
      ShapeError::kMiddleUndecided);
  EXPECT_EQ(mid_plane(Form{}, form(kPlane, {0, 0, 0}, {0, 0, 1})).error(), ShapeError::kNeedsPlane);
}

TEST(ParallelPlane, IsMovedByAnOffsetOrThroughAPoint) {
  expect_derivatives([](const Forms& f) { return parallel_plane(f[0], 12.5); }, {kPlane});
  expect_derivatives([](const Forms& f) { return parallel_plane(f[0], f[1]); }, {kPlane, kSphere});
  const Form floor = form(kPlane, {1, 2, 3}, {0, 0, -1});
  EXPECT_LT((parallel_plane(floor, 4)->form.position - Vector3d(1, 2, -1)).norm(), 1e-14);
  const auto through = parallel_plane(floor, form(kPoint, {50, 60, 70}, {1, 0, 0}));
  EXPECT_LT((through->form.position - Vector3d(1, 2, 70)).norm(), 1e-14);
  EXPECT_LT((through->form.direction - floor.direction).norm(), 1e-15);
  EXPECT_EQ(parallel_plane(form(kLine, {0, 0, 0}, {1, 0, 0}), 4).error(), ShapeError::kNeedsPlane);
  EXPECT_EQ(parallel_plane(floor, floor).error(), ShapeError::kNeedsPlace);
}

}  // namespace
}  // namespace measure
