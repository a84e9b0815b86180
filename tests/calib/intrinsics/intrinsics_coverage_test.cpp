// Are the error bars of a camera honest? Many simulated calibrations, the board drawn from its
// prior each time.
#include <array>
#include <cmath>
#include <iostream>

#include <gtest/gtest.h>

#include "calib/intrinsics/solve_intrinsics.h"
#include "tests/support/board_simulation.h"

namespace calib {
namespace {

constexpr int kRuns = 300;
constexpr std::uint32_t kBaseSeed = 20001;

TEST(IntrinsicsCoverage, IntervalsHoldTheTruthAsOftenAsTheySay) {
  std::array<int, kIntrinsicCount> inside{};
  std::array<double, kIntrinsicCount> squares{};
  for (int run = 0; run < kRuns; ++run) {
    const auto board =
        testing_support::simulate_board({.photo_count = 10,
                                         .noise_px = 0.05,
                                         .sigma_px = 0.05,
                                         .draw_board = true,
                                         .seed = kBaseSeed + static_cast<std::uint32_t>(run)});
    const auto solution = solve_intrinsics(board.nominal_mm, board.sets, board.size);
    ASSERT_TRUE(solution) << solution.error().sentence << " seed " << kBaseSeed + run;
    for (std::size_t k = 0; k < kIntrinsicCount; ++k) {
      const int i = static_cast<int>(k);
      ASSERT_FALSE(solution->held[k]);
      const double z = (solution->intrinsics.vector()[i] - board.camera.vector()[i]) /
                       std::sqrt(solution->covariance(i, i));
      squares[k] += z * z;
      inside[k] += std::abs(z) <= 2 ? 1 : 0;
    }
  }
  int all_inside = 0;
  for (std::size_t k = 0; k < kIntrinsicCount; ++k) {
    const double rms = std::sqrt(squares[k] / kRuns);
    std::cout << kIntrinsicNames[k] << ": " << 100.0 * inside[k] / kRuns << " % within 2 u, rms z "
              << rms << " (base seed " << kBaseSeed << ")\n";
    // 99.9 % binomial band about 95.45 % for 300 runs: 91.5–99.4 %. rms z: 1 ± 3.3/√600.
    EXPECT_GE(inside[k], 0.915 * kRuns);
    EXPECT_GE(rms, 0.865);
    EXPECT_LE(rms, 1.135);
    all_inside += inside[k];
  }
  // Pooled: the parameters of one run hang together in some four groups, so count as 1200 trials.
  EXPECT_GE(all_inside, 0.934 * kRuns * kIntrinsicCount);
  EXPECT_LE(all_inside, 0.975 * kRuns * kIntrinsicCount);
}

}  // namespace
}  // namespace calib
