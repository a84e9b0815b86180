#include "measure/refine/crossing.h"

#include <gtest/gtest.h>
#include <opencv2/core.hpp>

#include "tests/measure/refine/error_sums.h"
#include "tests/measure/refine/marked_by_hand.h"
#include "tests/support/analytic_marks.h"

namespace measure {
namespace {

using testing_support::CrossingSpec;
using testing_support::make_crossing;

CrossingSpec random_crossing(cv::RNG& random, std::uint32_t seed, bool lines) {
  CrossingSpec spec;
  spec.lines = lines;
  spec.crossing_px += Eigen::Vector2d(random.uniform(-1.0, 1.0), random.uniform(-1.0, 1.0));
  spec.first_deg = random.uniform(0.0, 360.0);
  spec.second_deg = spec.first_deg + random.uniform(50.0, 130.0);
  spec.round_off_px = random.uniform(0.0, 4.0);
  spec.line_width_px = random.uniform(1.2, 3.0);
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

void check_crossings(bool lines, const char* name) {
  cv::RNG random(lines ? 15 : 16);
  ErrorSums errors, ordinary;
  int refused = 0;
  constexpr int kCases = 300;
  for (int i = 0; i < kCases; ++i) {
    const CrossingSpec spec = random_crossing(random, static_cast<std::uint32_t>(i + 1), lines);
    RefineOptions options;
    options.curve = {2.2, 0.0};
    const auto mark = refine_crossing({make_crossing(spec)},
                                      marked_by_hand(random, spec.crossing_px, 4.0), options);
    if (!mark) {
      ++refused;
      std::printf("%d: %s step %.0f blur %.2f noise %.1f open %.0f width %.1f\n", i,
                  std::string(short_reason(mark.error())).c_str(), spec.inside - spec.outside,
                  spec.development.blur_px, spec.development.noise_grey,
                  spec.second_deg - spec.first_deg, spec.line_width_px);
      continue;
    }
    errors.add(*mark, spec.crossing_px);
    if (is_ordinary(spec.inside - spec.outside, spec.development)) {
      ordinary.add(*mark, spec.crossing_px);
    }
  }
  ordinary.print("ordinary contrast");
  errors.print(name);
  EXPECT_LE(refused, kCases / 30);
  EXPECT_LE(ordinary.rms_px(), 0.08);
  EXPECT_GT(errors.true_over_claimed(), 0.8);
  EXPECT_LT(errors.true_over_claimed(), 1.25);
}

TEST(RefineCrossing, ProlongsTheEdgesOfARoundedCorner) {
  check_crossings(false, "rounded corners");
}

TEST(RefineCrossing, MeasuresNarrowLines) { check_crossings(true, "narrow lines"); }

TEST(RefineCrossing, RefusesWithItsReason) {
  const auto reason = [](const cv::Mat& pixels, const Eigen::Vector2d& at, double radius_px = 6.0) {
    RefineOptions options;
    options.radius_px = radius_px;
    const auto mark = refine_crossing({pixels}, at, options);
    return mark ? "none" : std::string(short_reason(mark.error()));
  };
  CrossingSpec plain;
  plain.lines = true;
  const cv::Mat lines = make_crossing(plain);
  EXPECT_EQ(reason(lines, {2.0, 60.0}), short_reason(MarkRefusal::kLeavesPhoto));
  EXPECT_EQ(reason(lines, {std::nan(""), 60.0}), short_reason(MarkRefusal::kLeavesPhoto));
  EXPECT_EQ(reason(cv::Mat(), {60.0, 60.0}), short_reason(MarkRefusal::kLeavesPhoto));
  EXPECT_EQ(reason(cv::Mat(120, 120, CV_8UC1, cv::Scalar(90)), {60.0, 60.0}),
            short_reason(MarkRefusal::kLowContrast));
  EXPECT_EQ(reason(lines, plain.crossing_px + Eigen::Vector2d(2.2, 0.0), 2.0),
            short_reason(MarkRefusal::kWouldJump));
  CrossingSpec straight;
  straight.second_deg = straight.first_deg + 179.0;
  straight.round_off_px = 0.0;
  EXPECT_EQ(reason(make_crossing(straight), straight.crossing_px),
            short_reason(MarkRefusal::kOneDirection));
  CrossingSpec bright;
  bright.inside = 255.0;
  bright.development.noise_grey = 0.5;
  EXPECT_EQ(reason(make_crossing(bright), bright.crossing_px),
            short_reason(MarkRefusal::kSaturated));
  // Two lines that run side by side, crossed by a third: which crossing is meant?
  testing_support::Development development;
  const cv::Mat ladder = testing_support::develop(
      {120, 120},
      [](const Eigen::Vector2d& at) {
        const bool on = std::abs(at.x() - 55.2) < 0.9 || std::abs(at.x() - 63.9) < 0.9 ||
                        std::abs(at.y() - 60.3 - 0.1 * at.x()) < 0.9;
        return on ? 0.05 : 0.3;
      },
      development);
  EXPECT_EQ(reason(ladder, {59.5, 66.0}), short_reason(MarkRefusal::kAmbiguous));
}

}  // namespace
}  // namespace measure
