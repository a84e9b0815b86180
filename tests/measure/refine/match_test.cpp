#include "measure/refine/match.h"

#include <Eigen/Dense>
#include <gtest/gtest.h>
#include <opencv2/core.hpp>

#include "tests/measure/refine/error_sums.h"
#include "tests/measure/refine/marked_by_hand.h"
#include "tests/support/analytic_marks.h"

namespace measure {
namespace {

using testing_support::make_match;
using testing_support::MatchSpec;

Eigen::Matrix2d change_of(double turn_deg, double size, double squeeze) {
  const Eigen::Rotation2Dd turn(turn_deg * 0.0174533);
  return turn.toRotationMatrix() * Eigen::Vector2d(size, size * squeeze).asDiagonal();
}

MatchSpec random_match(cv::RNG& random, std::uint32_t seed) {
  MatchSpec spec;
  spec.seed = seed;
  spec.place_px += Eigen::Vector2d(random.uniform(-1.0, 1.0), random.uniform(-1.0, 1.0));
  spec.pattern_px += Eigen::Vector2d(random.uniform(-0.5, 0.5), random.uniform(-0.5, 0.5));
  spec.change =
      change_of(random.uniform(-10.0, 10.0), random.uniform(0.88, 1.12), random.uniform(0.85, 1.0));
  spec.perspective = {random.uniform(-3e-4, 3e-4), random.uniform(-3e-4, 3e-4)};
  spec.contrast = random.uniform(10.0, 30.0);
  spec.grain_px = random.uniform(2.5, 5.0);
  spec.brightness = random.uniform(0.7, 1.3);
  spec.pattern.blur_px = random.uniform(0.7, 1.5);
  spec.photo.blur_px = spec.pattern.blur_px * random.uniform(0.8, 1.25);
  for (auto* development : {&spec.pattern, &spec.photo}) {
    development->noise_grey = random.uniform(1.5, 4.0);
    development->grain_px = random.uniform(0, 2) == 0 ? 0.0 : 0.6;
  }
  spec.pattern.seed = seed * 2U;
  spec.photo.seed = seed * 2U + 1U;
  return spec;
}

TEST(RefineMatch, IsWithinATenthOfAPixelAndKnowsHowWell) {
  cv::RNG random(23);
  ErrorSums errors;
  int refused = 0;
  constexpr int kCases = 300;
  for (int i = 0; i < kCases; ++i) {
    const MatchSpec spec = random_match(random, static_cast<std::uint32_t>(i + 1));
    const auto pair = make_match(spec);
    const PatternView pattern{{pair.pattern}, spec.pattern_px};
    const auto mark =
        refine_match({pair.photo}, marked_by_hand(random, spec.place_px, 4.0), pattern);
    if (!mark) {
      ++refused;
      std::printf("%d: %s contrast %.0f grain %.1f\n", i,
                  std::string(short_reason(mark.error())).c_str(), spec.contrast, spec.grain_px);
      continue;
    }
    errors.add(*mark, spec.place_px);
  }
  errors.print("matches");
  EXPECT_LE(refused, kCases / 20);
  EXPECT_LE(errors.rms_px(), 0.1);
  EXPECT_GT(errors.true_over_claimed(), 0.8);
  EXPECT_LT(errors.true_over_claimed(), 1.25);
}

MatchSpec clear_match() {
  MatchSpec spec;
  spec.pattern.seed = 5;
  spec.photo.seed = 6;
  return spec;
}

std::string reason(const cv::Mat& pattern, const Eigen::Vector2d& pattern_px, const cv::Mat& photo,
                   const Eigen::Vector2d& at, double radius_px = 6.0) {
  RefineOptions options;
  options.radius_px = radius_px;
  const auto mark = refine_match({photo}, at, {{pattern}, pattern_px}, options);
  return mark ? "none" : std::string(short_reason(mark.error()));
}

TEST(RefineMatch, RefusesWithItsReason) {
  const MatchSpec spec = clear_match();
  const auto pair = make_match(spec);
  const auto& p = spec.pattern_px;
  const auto& at = spec.place_px;
  EXPECT_EQ(reason(pair.pattern, p, pair.photo, at), "none");
  EXPECT_EQ(reason(pair.pattern, {4.0, 30.0}, pair.photo, at),
            short_reason(MarkRefusal::kPatternLeavesPicture));
  EXPECT_EQ(reason(pair.pattern, p, pair.photo, {4.0, 30.0}),
            short_reason(MarkRefusal::kLeavesPhoto));
  EXPECT_EQ(reason(pair.pattern, p, cv::Mat(), at), short_reason(MarkRefusal::kLeavesPhoto));
  EXPECT_EQ(reason(pair.pattern, p, pair.photo, {std::nan(""), 30.0}),
            short_reason(MarkRefusal::kLeavesPhoto));
  EXPECT_EQ(reason(cv::Mat(72, 72, CV_8UC1, cv::Scalar(90)), p, pair.photo, at),
            short_reason(MarkRefusal::kLowContrast));
  EXPECT_EQ(reason(pair.pattern, p, pair.photo, at + Eigen::Vector2d(2.4, 0.0), 2.0),
            short_reason(MarkRefusal::kWouldJump));
  MatchSpec other = spec;
  other.seed = 77;
  other.grain_px = 1.5;
  EXPECT_EQ(reason(pair.pattern, p, make_match(other).photo, at),
            short_reason(MarkRefusal::kUnlike));
  cv::Mat burnt = pair.pattern.clone();
  burnt.setTo(cv::Scalar(255), burnt > 125);
  EXPECT_EQ(reason(burnt, p, burnt, p), short_reason(MarkRefusal::kSaturated));
}

TEST(RefineMatch, RefusesAStraightEdgeAndRepeatedPaint) {
  testing_support::Development development;
  const auto edge = [&](std::uint32_t seed) {
    development.seed = seed;
    return testing_support::develop(
        {72, 72},
        [](const Eigen::Vector2d& at) { return at.x() + 0.3 * at.y() > 46.0 ? 0.1 : 0.4; },
        development);
  };
  EXPECT_EQ(reason(edge(1), {35.0, 36.0}, edge(2), {35.0, 36.0}),
            short_reason(MarkRefusal::kOneDirection));
  const auto waves = [&](std::uint32_t seed) {
    development.seed = seed;
    return testing_support::develop(
        {72, 72},
        [](const Eigen::Vector2d& at) {
          return 0.2 + 0.1 * std::sin(at.x() * 0.9) * std::sin(at.y() * 0.8 + 0.2 * at.x());
        },
        development);
  };
  EXPECT_EQ(reason(waves(1), {35.0, 36.0}, waves(2), {35.0, 36.0}),
            short_reason(MarkRefusal::kAmbiguous));
}

TEST(WindowChange, IsTheFacesOwnBetweenTwoOrientedPhotos) {
  const calib::Intrinsics camera{
      .fx = 2900.0, .fy = 2890.0, .cx = 1200.0, .cy = 800.0, .k1 = -0.1, .k2 = 0.03};
  const WindowView pattern{camera, {{0.1, -0.2, 0.3}, {10.0, -5.0, 800.0}}};
  const WindowView photo{camera, {{-0.2, 0.3, 0.1}, {-15.0, 8.0, 700.0}}};
  const Eigen::Vector3d point(12.0, 30.0, -8.0), normal(0.2, -0.3, -1.0);
  const auto change = window_change(pattern, photo, point, normal);
  ASSERT_TRUE(change);
  // A step of a tenth of a millimetre within the face, seen in both.
  const Eigen::Vector3d u = normal.unitOrthogonal();
  for (const Eigen::Vector3d& step :
       {Eigen::Vector3d(0.1 * u), Eigen::Vector3d(0.1 * normal.normalized().cross(u))}) {
    const auto moved = [&](const WindowView& view) -> Eigen::Vector2d {
      return calib::project(view.camera, view.pose, Eigen::Vector3d(point + step)) -
             calib::project(view.camera, view.pose, Eigen::Vector3d(point - step));
    };
    EXPECT_LT((*change * moved(pattern) - moved(photo)).norm(), 1e-4);
  }
  EXPECT_FALSE(window_change(pattern, photo, point, Eigen::Vector3d::Zero()));
  EXPECT_FALSE(window_change(pattern, photo, Eigen::Vector3d(0.0, 0.0, -5000.0), normal));
}

TEST(WindowChange, FollowsNeighbouringMarks) {
  const Eigen::Matrix2d truth = change_of(25.0, 1.2, 0.8);
  std::vector<MarkPair> marks;
  for (const auto& at : {Eigen::Vector2d(100.0, 120.0), Eigen::Vector2d(180.0, 130.0),
                         Eigen::Vector2d(150.0, 60.0), Eigen::Vector2d(90.0, 200.0)}) {
    marks.push_back({at, truth * at + Eigen::Vector2d(40.0, -10.0)});
  }
  const auto change = window_change(marks, {140.0, 110.0});
  ASSERT_TRUE(change);
  EXPECT_LT((*change - truth).norm(), 1e-9);
  marks.resize(2);
  EXPECT_FALSE(window_change(marks, {140.0, 110.0}));
  marks = {{{0.0, 0.0}, {0.0, 0.0}}, {{50.0, 50.0}, {50.0, 50.0}}, {{90.0, 90.0}, {90.0, 90.0}}};
  EXPECT_FALSE(window_change(marks, {10.0, 10.0}));
}

}  // namespace
}  // namespace measure
