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
  spec.change = change_of(random.uniform(-10.0, 10.0), random.uniform(0.88, 1.12),
                          random.uniform(0.85, 1.0));
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
  constexpr int kCases = 400;
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

}  // namespace
}  // namespace measure
