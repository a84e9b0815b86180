// Relative pose and plane homography of two photographs of a board (CHECKS 1.9).
//
// Input and printed results: Debian's opencv-doc, tutorial "Basic concepts of the homography
// explained with code", demos 3 and 4: left02.jpg (camera 1), left01.jpg (camera 2), square 0.025,
// left_intrinsics.yml as camera, findChessboardCorners without a sub-pixel step.
#include <vector>

#include <Eigen/Geometry>
#include <Eigen/LU>
#include <gtest/gtest.h>
#include <opencv2/core/persistence.hpp>

#include "calib/intrinsics/solve_intrinsics.h"
#include "tests/support/published_boards.h"

namespace calib {
namespace {

using namespace testing_support;

TEST(PlaneHomography, EqualsThePrintedOneThroughOurPoses) {
  cv::FileStorage stored(opencv_data("left_intrinsics.yml"), cv::FileStorage::READ);
  ASSERT_TRUE(stored.isOpened());
  cv::Mat matrix, distortion;
  stored["camera_matrix"] >> matrix;
  stored["distortion_coefficients"] >> distortion;
  Intrinsics camera{matrix.at<double>(0, 0), matrix.at<double>(1, 1), matrix.at<double>(0, 2),
                    matrix.at<double>(1, 2)};
  camera.k1 = distortion.at<double>(0);
  camera.k2 = distortion.at<double>(1);
  camera.p1 = distortion.at<double>(2);
  camera.p2 = distortion.at<double>(3);
  camera.k3 = distortion.at<double>(4);

  const std::vector<CornerSet> all = corners_by_fixed_window("left", 0);
  SolveIntrinsicsOptions options{
      .start = camera, .shape = BoardShape::kPerfect, .outlier_test = false};
  options.free.fill(false);
  const std::vector<CornerSet> two = {all[1], all[0]};
  const auto solution =
      solve_intrinsics(published_board_mm(0.025), two, kPublishedBoardSize, options);
  ASSERT_TRUE(solution) << solution.error().sentence;
  const Pose& one = solution->photos[0].pose;
  const Pose& other = solution->photos[1].pose;
  const Eigen::Matrix3d turn = other.rotation_matrix() * one.rotation_matrix().transpose();
  const Eigen::Vector3d shift = other.translation - turn * one.translation;
  // The library's pose iteration stops 3e-7 from the minimum; the text prints eight digits.
  constexpr double kPose = 2e-6;
  EXPECT_LT(
      (vector_from_rotation(turn) - Eigen::Vector3d(-0.09198299, -0.53725810, 1.31086886)).norm(),
      kPose);
  EXPECT_LT((shift - Eigen::Vector3d(0.15780916, 0.00560344, 0.13833790)).norm(), kPose);

  const Eigen::Vector3d normal = one.rotation_matrix().col(2);
  EXPECT_LT((normal - Eigen::Vector3d(0.19735131, -0.62834520, 0.75248573)).norm(), kPose);
  const double distance = normal.dot(one.translation);
  Eigen::Matrix3d k;
  k << camera.fx, 0, camera.cx, 0, camera.fy, camera.cy, 0, 0, 1;
  Eigen::Matrix3d homography = k * (turn + shift * normal.transpose() / distance) * k.inverse();
  homography /= homography(2, 2);
  Eigen::Matrix3d printed;
  printed << 0.41605700, -1.30688901, 553.70555, 0.79175843, -0.06341244, -108.27700, 0.00059263574,
      -0.00102065167, 1;
  for (int r = 0; r < 3; ++r) {
    for (int c = 0; c < 3; ++c)
      EXPECT_NEAR(homography(r, c) / printed(r, c), 1.0, 3e-5) << r << ' ' << c;
  }
}

}  // namespace
}  // namespace calib
