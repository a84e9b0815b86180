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
    const auto mark =
        refine_crossing({make_crossing(spec)}, marked_by_hand(random, spec.crossing_px, 4.0), options);
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

TEST(RefineCrossing, ProlongsTheEdgesOfARoundedCorner) { check_crossings(false, "rounded corners"); }

TEST(RefineCrossing, MeasuresNarrowLines) { check_crossings(true, "narrow lines"); }

}  // namespace
}  // namespace measure
