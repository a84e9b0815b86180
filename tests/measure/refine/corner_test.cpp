#include "measure/refine/corner.h"

#include <gtest/gtest.h>
#include <opencv2/core.hpp>

#include "calib/camera/projection.h"
#include "tests/measure/refine/error_sums.h"
#include "tests/measure/refine/marked_by_hand.h"
#include "tests/support/analytic_marks.h"

namespace measure {
namespace {

using testing_support::CornerSpec;
using testing_support::make_corner;

CornerSpec random_corner(cv::RNG& random, std::uint32_t seed) {
  CornerSpec spec;
  spec.apex_px += Eigen::Vector2d(random.uniform(-1.0, 1.0), random.uniform(-1.0, 1.0));
  spec.first_deg = random.uniform(0.0, 360.0);
  spec.opening_deg = random.uniform(40.0, 140.0);
  const double step = random.uniform(40.0, 120.0);
  spec.outside = random.uniform(30.0, 220.0 - step);
  spec.inside = spec.outside + step;
  if (random.uniform(0, 2) == 0) {
    std::swap(spec.inside, spec.outside);
  }
  spec.shading = random.uniform(-0.3, 0.3);
  spec.development.blur_px = random.uniform(0.6, 2.0);
  spec.development.noise_grey = random.uniform(1.5, 4.0);
  spec.development.grain_px = random.uniform(0, 2) == 0 ? 0.0 : 0.6;
  spec.development.seed = seed;
  return spec;
}

// The grey curve is known here: what is left is noise, and σ must say how much.
TEST(RefineCorner, IsWithinATenthOfAPixelAndKnowsHowWell) {
  cv::RNG random(4);
  ErrorSums errors, ordinary;
  int refused = 0;
  constexpr int kCases = 400;
  for (int i = 0; i < kCases; ++i) {
    const CornerSpec spec = random_corner(random, static_cast<std::uint32_t>(i + 1));
    RefineOptions options;
    options.curve = {2.2, 0.0};
    const auto mark =
        refine_corner({make_corner(spec)}, marked_by_hand(random, spec.apex_px, 4.0), options);
    if (!mark) {
      ++refused;
      std::printf("%d: %s step %.0f blur %.2f noise %.1f open %.0f\n", i,
                  std::string(short_reason(mark.error())).c_str(), spec.inside - spec.outside,
                  spec.development.blur_px, spec.development.noise_grey, spec.opening_deg);
      continue;
    }
    errors.add(*mark, spec.apex_px);
    if (is_ordinary(spec.inside - spec.outside, spec.development)) {
      ordinary.add(*mark, spec.apex_px);
    }
  }
  ordinary.print("ordinary contrast");
  errors.print("corners");
  EXPECT_LE(refused, kCases / 50);
  EXPECT_LE(ordinary.rms_px(), 0.1);
  EXPECT_GT(errors.true_over_claimed(), 0.8);
  EXPECT_LT(errors.true_over_claimed(), 1.25);
}

// A camera whose curve is not known to a third moves every edge towards its dark side; σ holds
// that.
TEST(RefineCorner, HoldsInItsSigmaThatTheGreyCurveIsNotWellKnown) {
  cv::RNG random(31);
  ErrorSums errors;
  for (int i = 0; i < 300; ++i) {
    CornerSpec spec = random_corner(random, static_cast<std::uint32_t>(i + 1));
    spec.development.exponent = 2.2 + random.gaussian(0.3);
    spec.development.noise_grey = 1.0;
    const auto mark = refine_corner({make_corner(spec)}, marked_by_hand(random, spec.apex_px, 3.0));
    if (mark) {
      errors.add(*mark, spec.apex_px);
    }
  }
  errors.print("unknown curves");
  EXPECT_GE(errors.count(), 285);
  EXPECT_GT(errors.true_over_claimed(), 0.8);
  EXPECT_LT(errors.true_over_claimed(), 1.25);
}

TEST(RefineCorner, TakesSixteenBitsAndPartsOfAPhotoAlike) {
  CornerSpec spec;
  spec.development.jpeg_quality = 0;
  const auto eight = refine_corner({make_corner(spec)}, spec.apex_px);
  spec.development.sixteen_bit = true;
  const cv::Mat pixels = make_corner(spec);
  const auto sixteen = refine_corner({pixels}, spec.apex_px);
  const Eigen::Vector2i from(1000, 2000);
  const auto part = refine_corner({pixels, from}, spec.apex_px + from.cast<double>());
  ASSERT_TRUE(eight && sixteen && part);
  // Rounding to whole grey values is the only difference.
  EXPECT_LT((eight->position_px - sixteen->position_px).norm(), 0.01);
  EXPECT_LT((part->position_px - sixteen->position_px - from.cast<double>()).norm(), 1e-6);
  EXPECT_NEAR(sixteen->contrast, 60.0, 3.0);
}

TEST(RefineCorner, FollowsEdgesThatTheLensBends) {
  // 0.4 px over the window; as straight edges they would pull the corner along.
  const calib::Intrinsics camera{
      .fx = 300.0, .fy = 300.0, .cx = -40.0, .cy = -30.0, .k1 = -0.12, .k2 = 0.02};
  const Eigen::Vector2d apex_px(60.3, 58.8);
  const Eigen::Vector2d apex = *calib::unproject(camera, apex_px);
  testing_support::Development development;
  development.noise_grey = 0.5;
  development.jpeg_quality = 0;
  const cv::Mat pixels = testing_support::develop(
      {120, 120},
      [&](const Eigen::Vector2d& at) {
        const Eigen::Vector2d offset = *calib::unproject(camera, at) - apex;
        return offset.x() + 0.2 * offset.y() > 0.0 && offset.y() - 0.3 * offset.x() > 0.0 ? 0.4
                                                                                          : 0.1;
      },
      development);
  RefineOptions options;
  options.curve.u = 0.0;
  const auto straight = refine_corner({pixels}, apex_px, options);
  options.camera = camera;
  const auto bent = refine_corner({pixels}, apex_px, options);
  ASSERT_TRUE(bent);
  EXPECT_LT((bent->position_px - apex_px).norm(), 0.03);
  if (straight) {
    EXPECT_GT((straight->position_px - apex_px).norm(), (bent->position_px - apex_px).norm());
  }
}

TEST(RefineCorner, RefusesWithItsReason) {
  const auto reason = [](const cv::Mat& pixels, const Eigen::Vector2d& at, double radius_px = 6.0) {
    RefineOptions options;
    options.radius_px = radius_px;
    const auto mark = refine_corner({pixels}, at, options);
    return mark ? "none" : std::string(short_reason(mark.error()));
  };
  const CornerSpec plain;
  const cv::Mat corner = make_corner(plain);
  EXPECT_EQ(reason(corner, {2.0, 60.0}), short_reason(MarkRefusal::kLeavesPhoto));
  EXPECT_EQ(reason(corner, {std::nan(""), 60.0}), short_reason(MarkRefusal::kLeavesPhoto));
  EXPECT_EQ(reason(cv::Mat(), {60.0, 60.0}), short_reason(MarkRefusal::kLeavesPhoto));
  EXPECT_EQ(reason(cv::Mat(120, 120, CV_8UC1, cv::Scalar(90)), {60.0, 60.0}),
            short_reason(MarkRefusal::kLowContrast));
  EXPECT_EQ(reason(corner, plain.apex_px + Eigen::Vector2d(3.0, 0.0), 2.0),
            short_reason(MarkRefusal::kWouldJump));
  CornerSpec straight;
  straight.opening_deg = 179.0;
  EXPECT_EQ(reason(make_corner(straight), straight.apex_px),
            short_reason(MarkRefusal::kOneDirection));
  CornerSpec bright;
  bright.inside = 255.0;
  bright.opening_deg = 120.0;
  bright.development.noise_grey = 0.5;
  EXPECT_EQ(reason(make_corner(bright), bright.apex_px), short_reason(MarkRefusal::kSaturated));
  CornerSpec faint;
  faint.opening_deg = 30.0;
  faint.inside = faint.outside + 14.0;
  faint.development.blur_px = 2.5;
  faint.development.noise_grey = 5.0;
  EXPECT_NE(reason(make_corner(faint), faint.apex_px), "none");
  // A checkerboard's corner is no corner of one thing.
  testing_support::Development development;
  const cv::Mat board = testing_support::develop(
      {120, 120},
      [](const Eigen::Vector2d& at) { return (at.x() - 60.2) * (at.y() - 59.7) > 0.0 ? 0.1 : 0.5; },
      development);
  EXPECT_NE(reason(board, {60.0, 60.0}), "none");
  // Nor is a row of blots.
  const cv::Mat ragged = testing_support::develop(
      {120, 120},
      [](const Eigen::Vector2d& at) {
        return std::sin(0.9 * at.x()) + std::sin(0.7 * at.y() + 0.4 * at.x()) > 0.6 ? 0.1 : 0.5;
      },
      development);
  EXPECT_EQ(reason(ragged, {60.0, 60.0}), short_reason(MarkRefusal::kOtherShape));
}

}  // namespace
}  // namespace measure
