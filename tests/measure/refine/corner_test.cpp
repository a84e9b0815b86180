#include "measure/refine/corner.h"

#include <gtest/gtest.h>
#include <opencv2/core.hpp>

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

}  // namespace
}  // namespace measure
