// The sample photographs as 13 stereo pairs: relative orientation, and the board triangulated as a
// known object.
//
// Published rotation vector om, translation T and their ± (about three standard deviations): J.-Y.
// Bouguet, Camera Calibration Toolbox, fifth example (stereo), Caltech, c. 2004, after joint
// refinement; 30 mm squares. As in CHECKS 1.4. The triangulated board: CHECKS 1.6 (computed).
#include <array>
#include <cmath>
#include <memory>
#include <string>
#include <vector>

#include <Eigen/Geometry>
#include <Eigen/SVD>
#include <ceres/autodiff_cost_function.h>
#include <ceres/rotation.h>
#include <gtest/gtest.h>

#include "calib/adjust/observations.h"
#include "calib/adjust/solve.h"
#include "calib/adjust/variance_factors.h"
#include "calib/intrinsics/solve_intrinsics.h"
#include "tests/support/published_boards.h"

namespace calib {
namespace {

using namespace testing_support;

/// A corner seen by the right camera: right = relative ∘ left pose. Written anew here, so that it
/// also checks the analytic one.
struct RightMark {
  Eigen::Vector3d point_mm;
  Eigen::Vector2d position_px;
  double sigma_px;

  template <typename T>
  bool operator()(const T* relative, const T* pose, const T* camera, T* residual) const {
    const T point[3] = {T(point_mm.x()), T(point_mm.y()), T(point_mm.z())};
    T left[3], right[3];
    ceres::AngleAxisRotatePoint(pose, point, left);
    for (int k = 0; k < 3; ++k) left[k] += pose[3 + k];
    ceres::AngleAxisRotatePoint(relative, left, right);
    for (int k = 0; k < 3; ++k) right[k] += relative[3 + k];
    const T x = right[0] / right[2], y = right[1] / right[2];
    const T r2 = x * x + y * y;
    const T radial = 1.0 + r2 * (camera[4] + r2 * (camera[5] + r2 * camera[8]));
    const T xd = x * radial + 2.0 * camera[6] * x * y + camera[7] * (r2 + 2.0 * x * x);
    const T yd = y * radial + camera[6] * (r2 + 2.0 * y * y) + 2.0 * camera[7] * x * y;
    residual[0] = (camera[0] * xd + camera[2] - position_px.x()) / sigma_px;
    residual[1] = (camera[1] * yd + camera[3] - position_px.y()) / sigma_px;
    return true;
  }
};

struct StereoResult {
  Pose relative;
  Intrinsics left, right;
  std::vector<Pose> left_poses;
  double rms_px = 0.0;  ///< of both sides' distances
};

StereoResult solve_pairs(const std::vector<CornerSet>& left_sets,
                         const std::vector<CornerSet>& right_sets, bool refine_cameras) {
  const std::vector<Eigen::Vector3d> board_mm = published_board_mm();
  SolveIntrinsicsOptions options{.shape = BoardShape::kPerfect, .outlier_test = false};
  options.free[kK3] = false;
  const auto left = solve_intrinsics(board_mm, left_sets, kPublishedBoardSize, options);
  const auto right = solve_intrinsics(board_mm, right_sets, kPublishedBoardSize, options);
  if (!left || !right) throw std::runtime_error("a side has no solution");

  adjust::Network network;
  const auto marks = network.add_group({"corners", true, 1.0});
  std::vector<bool> held(kIntrinsicCount, !refine_cameras);
  held[kK3] = true;
  const auto left_camera = network.add_block({"left", left->intrinsics.vector(), held});
  const auto right_camera = network.add_block({"right", right->intrinsics.vector(), held});
  const Pose first_left = left->photos[0].pose, first_right = right->photos[0].pose;
  const Eigen::Matrix3d turn =
      first_right.rotation_matrix() * first_left.rotation_matrix().transpose();
  const auto relative = network.add_block(
      {"relative",
       Pose::from_matrix(turn, first_right.translation - turn * first_left.translation).vector(),
       {}});
  std::vector<adjust::BlockId> points, poses;
  for (const auto& point : board_mm) {
    points.push_back(
        network.add_block({"point", point, {true, true, true}, adjust::DatumRole::kPoint}));
  }
  constexpr double kSigma_px = 0.1;
  for (std::size_t p = 0; p < left_sets.size(); ++p) {
    poses.push_back(network.add_block(
        {left_sets[p].file, left->photos[p].pose.vector(), {}, adjust::DatumRole::kPose}));
    for (const Corner& corner : left_sets[p].corners) {
      network.add_observation(
          adjust::mark_observation(corner.position_px, kSigma_px),
          {poses.back(), left_camera, points[static_cast<std::size_t>(corner.point)]}, marks);
    }
    for (const Corner& corner : right_sets[p].corners) {
      network.add_observation(
          std::make_unique<ceres::AutoDiffCostFunction<RightMark, 2, 6, 6, 9>>(new RightMark{
              board_mm[static_cast<std::size_t>(corner.point)], corner.position_px, kSigma_px}),
          {relative, poses.back(), right_camera}, marks);
    }
  }
  const auto datum = adjust::find_datum(network);
  const auto adjusted = adjust::adjust(network, datum);
  if (!adjusted || adjusted->solve.termination != adjust::Termination::kConverged) {
    throw std::runtime_error("the pairs have no solution");
  }
  StereoResult result;
  result.relative = Pose::from_vector(network.block(relative).values);
  result.left = Intrinsics::from_vector(network.block(left_camera).values);
  result.right = Intrinsics::from_vector(network.block(right_camera).values);
  for (const auto pose : poses)
    result.left_poses.push_back(Pose::from_vector(network.block(pose).values));
  const adjust::GroupFit& fit = adjusted->fit.groups.front();
  result.rms_px = std::sqrt(fit.sum_of_squares * kSigma_px * kSigma_px / (fit.observations / 2));
  return result;
}

void expect_published(const Pose& relative) {
  const std::array<double, 3> om{0.00669, 0.00452, -0.00350}, om_u{0.00270, 0.00308, 0.00029};
  const std::array<double, 3> t{-99.80198, 1.12443, 0.05041}, t_u{0.14200, 0.11352, 0.49773};
  for (int k = 0; k < 3; ++k) {
    const auto i = static_cast<std::size_t>(k);
    EXPECT_NEAR(relative.rotation[k], om[i], om_u[i]);
    EXPECT_NEAR(relative.translation[k], t[i], t_u[i]);
  }
}

TEST(SampleStereo, IsInsideThePublishedUncertaintiesFromOurCorners) {
  expect_published(
      solve_pairs(corners_by_our_finder("left"), corners_by_our_finder("right"), false).relative);
  expect_published(
      solve_pairs(corners_by_our_finder("left"), corners_by_our_finder("right"), true).relative);
}

// CHECKS 1.4, rows "got": the same corners, solved by OpenCV's stereoCalibrate.
TEST(SampleStereo, EqualsTheTableFromTheTablesCorners) {
  const auto left = corners_by_fixed_window("left", 5), right = corners_by_fixed_window("right", 5);
  const StereoResult fixed = solve_pairs(left, right, false);
  expect_published(fixed.relative);
  EXPECT_NEAR(fixed.rms_px, 0.2168, 1e-4);
  // The library's iteration stops early: a hundredth of the published ±.
  EXPECT_LT((fixed.relative.rotation - Eigen::Vector3d(0.00699, 0.00396, -0.00374)).norm(), 3e-5);
  EXPECT_LT((fixed.relative.translation - Eigen::Vector3d(-99.8394, 1.1113, 0.3435)).norm(), 3e-3);
  const StereoResult refined = solve_pairs(left, right, true);
  expect_published(refined.relative);
  EXPECT_NEAR(refined.rms_px, 0.2153, 1e-4);
  EXPECT_LT((refined.relative.rotation - Eigen::Vector3d(0.00716, 0.00427, -0.00351)).norm(), 3e-5);
  EXPECT_LT((refined.relative.translation - Eigen::Vector3d(-99.8133, 1.1017, -0.1428)).norm(),
            5e-3);
  EXPECT_NEAR(refined.left.fx, 533.563, 0.01);
  EXPECT_NEAR(refined.left.cy, 234.765, 0.01);
  EXPECT_NEAR(refined.right.fx, 536.894, 0.01);
  EXPECT_NEAR(refined.right.cy, 249.948, 0.01);
}

TEST(SampleStereo, TriangulatesSquaresOfThirtyMillimetres) {
  const auto left = corners_by_fixed_window("left", 5), right = corners_by_fixed_window("right", 5);
  const StereoResult stereo = solve_pairs(left, right, true);
  double sum = 0;
  int sides = 0;
  for (std::size_t p = 0; p < left.size(); ++p) {
    std::vector<Eigen::Vector3d> points;
    for (std::size_t i = 0; i < left[p].corners.size(); ++i) {
      const auto a = unproject(stereo.left, left[p].corners[i].position_px);
      const auto b = unproject(stereo.right, right[p].corners[i].position_px);
      ASSERT_TRUE(a && b);
      Eigen::Matrix<double, 3, 4> onto_right;
      onto_right << stereo.relative.rotation_matrix(), stereo.relative.translation;
      Eigen::Matrix4d rows;
      rows << -1, 0, a->x(), 0, 0, -1, a->y(), 0, b->x() * onto_right.row(2) - onto_right.row(0),
          b->y() * onto_right.row(2) - onto_right.row(1);
      const Eigen::JacobiSVD<Eigen::Matrix4d> svd(rows, Eigen::ComputeFullV);
      points.emplace_back(svd.matrixV().col(3).hnormalized());
    }
    for (std::size_t row = 0; row < 6; ++row) {
      for (std::size_t column = 0; column < 9; ++column) {
        const std::size_t i = 9 * row + column;
        if (column + 1 < 9) sum += (points[i + 1] - points[i]).norm(), ++sides;
        if (row + 1 < 6) sum += (points[i + 9] - points[i]).norm(), ++sides;
      }
    }
  }
  EXPECT_EQ(sides, 1209);
  EXPECT_NEAR(sum / sides, 30.0, 0.030);    // the bar: 0.1 %
  EXPECT_NEAR(sum / sides, 30.010, 0.003);  // the table's figure
}

}  // namespace
}  // namespace calib
