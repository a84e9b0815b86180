// The left and right cameras of the sample photographs in Debian's opencv-doc.
//
// Published values and their ± (about three standard deviations): J.-Y. Bouguet, Camera Calibration
// Toolbox, fifth example (stereo), Caltech, c. 2004, the same 14 pairs, his own corner finder, k3 =
// 0, board taken as perfect. As in CHECKS 1.3.
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include <gtest/gtest.h>
#include <opencv2/core/persistence.hpp>

#include "calib/intrinsics/solve_intrinsics.h"
#include "tests/support/published_boards.h"

namespace calib {
namespace {

using namespace testing_support;

struct PublishedCamera {
  std::string side;
  std::array<double, 8> value, plus_minus;  // fx fy cx cy k1 k2 p1 p2
};

const PublishedCamera kLeft = {
    "left",
    {533.004, 533.153, 341.586, 234.259, -0.28947, 0.10326, 0.00103, -0.00029},
    {1.076, 1.109, 1.240, 1.331, 0.0060, 0.0206, 0.0003, 0.0004}};
const PublishedCamera kRight = {
    "right",
    {536.983, 536.569, 326.472, 249.333, -0.28936, 0.10677, -0.00078, 0.00020},
    {1.208, 1.157, 1.366, 1.343, 0.0049, 0.0087, 0.0003, 0.0006}};

SolveIntrinsicsOptions as_published(bool with_k3 = false) {
  SolveIntrinsicsOptions options{
      .hold_undetermined = false, .shape = BoardShape::kPerfect, .outlier_test = false};
  options.free[kK3] = with_k3;
  return options;
}

void expect_inside(const PublishedCamera& published, const std::vector<CornerSet>& sets) {
  const auto solution =
      solve_intrinsics(published_board_mm(), sets, kPublishedBoardSize, as_published());
  ASSERT_TRUE(solution) << solution.error().sentence;
  EXPECT_TRUE(solution->held[kK3]);
  for (int k = kFx; k <= kP2; ++k) {
    const auto i = static_cast<std::size_t>(k);
    EXPECT_NEAR(solution->intrinsics.vector()[k], published.value[i], published.plus_minus[i])
        << published.side << ' ' << kIntrinsicNames[i];
  }
}

TEST(SampleCameras, AreInsideThePublishedUncertaintiesFromOurCorners) {
  expect_inside(kLeft, corners_by_our_finder("left"));
  expect_inside(kRight, corners_by_our_finder("right"));
}

TEST(SampleCameras, AreInsideThePublishedUncertaintiesFromTheTablesCorners) {
  expect_inside(kLeft, corners_by_fixed_window("left", 5));
  expect_inside(kRight, corners_by_fixed_window("right", 5));
}

// The package's stored result, left_intrinsics.yml (f = 535.9, view left02: rms 1.18 px), comes
// from a corner window of 11 px that reaches beyond the foreshortened squares of left02: f is 7 σ
// too long. Ours must not be.
TEST(SampleCameras, DoNotFallIntoTheTrapOfTheFixedWindow) {
  cv::FileStorage stored(opencv_data("left_intrinsics.yml"), cv::FileStorage::READ);
  ASSERT_TRUE(stored.isOpened());
  cv::Mat matrix;
  stored["camera_matrix"] >> matrix;
  EXPECT_GT(matrix.at<double>(0, 0) - kLeft.value[kFx], 2 * kLeft.plus_minus[kFx]);

  const auto ours = solve_intrinsics(published_board_mm(), corners_by_our_finder("left"),
                                     kPublishedBoardSize, as_published());
  ASSERT_TRUE(ours);
  ASSERT_EQ(ours->photos[1].file, "left02.jpg");
  EXPECT_LT(ours->photos[1].rms_px, 0.25);
  EXPECT_NEAR(ours->intrinsics.fx, kLeft.value[kFx], kLeft.plus_minus[kFx]);

  // Given the bad corners all the same, the outlier test finds them and nothing is pulled.
  SolveIntrinsicsOptions with_test = as_published();
  with_test.outlier_test = true;
  const auto saved = solve_intrinsics(published_board_mm(), corners_by_fixed_window("left", 11),
                                      kPublishedBoardSize, with_test);
  ASSERT_TRUE(saved);
  EXPECT_LT(saved->photos[1].rms_px, 0.5);
  EXPECT_NEAR(saved->intrinsics.fx, kLeft.value[kFx], 1.5 * kLeft.plus_minus[kFx]);
  int left_out = 0;
  for (const CornerResidual& corner : saved->photos[1].corners) left_out += corner.left_out ? 1 : 0;
  EXPECT_GT(left_out, 3);
}

// CHECKS 1.3 and 1.5, rows "left, 5 coefficients", "σ (corrected)", "left, k3 = 0" and right:
// OpenCV's optimum on the same corners, and its standard deviations brought to the divisor 2N − p
// (OpenCV 4.6 itself divides by N − p: its pull request 22992). Tolerance: a few of the last
// printed digits, since each stops at its own minimum.
TEST(SampleCameras, EqualTheOptimumOfTheTableAndItsCorrectedStandardDeviations) {
  struct Row {
    std::string side;
    bool with_k3;
    double rms;
    std::array<double, 9> value;
    std::array<double, 9> sigma;
  };
  const std::vector<Row> rows = {
      {"left",
       true,
       0.195420,
       {532.8272, 532.9460, 342.4868, 233.8557, -0.280882, 0.025178, 0.001217, -0.000136, 0.163435},
       {0.438, 0.459, 0.462, 0.510, 0.0054, 0.0416, 0.00011, 0.00014, 0.0887}},
      {"left",
       false,
       0.195671,
       {533.0912, 533.2162, 342.4868, 233.8699, -0.289987, 0.100367, 0.001210, -0.000155, 0},
       {}},
      {"right",
       true,
       0.207020,
       {537.4531, 536.9690, 327.5857, 248.8819, -0.297547, 0.149680, -0.000760, 0.000326,
        -0.066013},
       {0.482, 0.468, 0.521, 0.525, 0.0034, 0.0156, 0.00011, 0.00025, 0.0227}},
      {"right",
       false,
       0.207683,
       {537.2047, 536.7374, 327.5439, 248.9880, -0.289316, 0.105262, -0.000775, 0.000294, 0},
       {}}};
  const std::array<double, 9> value_digit = {1e-3, 1e-3, 1e-3, 1e-3, 1e-5, 1e-4, 1e-6, 1e-6, 3e-4};
  const std::array<double, 9> sigma_digit = {6e-4, 6e-4, 6e-4, 6e-4, 6e-5, 6e-5, 6e-6, 6e-6, 6e-5};
  for (const Row& row : rows) {
    const auto solution =
        solve_intrinsics(published_board_mm(), corners_by_fixed_window(row.side, 5),
                         kPublishedBoardSize, as_published(row.with_k3));
    ASSERT_TRUE(solution) << solution.error().sentence;
    EXPECT_NEAR(solution->rms_px, row.rms, 2e-6);
    EXPECT_EQ(solution->redundancy, 2 * 13 * 54 - (13 * 6 + (row.with_k3 ? 9 : 8)));
    for (int k = 0; k < kIntrinsicCount; ++k) {
      const auto i = static_cast<std::size_t>(k);
      EXPECT_NEAR(solution->intrinsics.vector()[k], row.value[i], value_digit[i])
          << row.side << ' ' << kIntrinsicNames[i];
      if (row.sigma[i] > 0) {
        EXPECT_NEAR(std::sqrt(solution->covariance(k, k)), row.sigma[i], sigma_digit[i])
            << row.side << ' ' << kIntrinsicNames[i];
      }
    }
  }
}

}  // namespace
}  // namespace calib
