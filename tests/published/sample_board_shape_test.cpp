// The board of the sample photographs as 54 unknown points: one-camera free bundles and two cameras
// against each other (CHECKS 1.7 and 1.8). Corners: findChessboardCorners, cornerSubPix with
// half-window 5. Model k1 k2 p1 p2. Scale: corner 0 to corner 8 = 240 mm. Method: K. H. Strobl & G.
// Hirzinger, ICCV Workshops 2011.
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include <Eigen/Eigenvalues>
#include <Eigen/Geometry>
#include <gtest/gtest.h>
#include <opencv2/calib3d.hpp>

#include "calib/intrinsics/solve_intrinsics.h"
#include "tests/support/published_boards.h"

namespace calib {
namespace {

using namespace testing_support;

SolveIntrinsicsOptions free_board() {
  SolveIntrinsicsOptions options{.hold_undetermined = false,
                                 .shape = BoardShape::kFree,
                                 .outlier_test = false,
                                 .want_board_covariance = true};
  options.free[kK3] = false;
  options.scale = ScaleDistance{0, 8, 240.0};
  return options;
}

/// Table 1.7 "camera fixed": the camera of CHECKS 1.3, k3 = 0.
Intrinsics fixed_camera(const std::string& side) {
  return side == "left" ? Intrinsics{533.0912, 533.2162, 342.4868,  233.8699, -0.289987,
                                     0.100367, 0.001210, -0.000155, 0.0}
                        : Intrinsics{537.2047, 536.7374,  327.5439, 248.9880, -0.289316,
                                     0.105262, -0.000775, 0.000294, 0.0};
}

std::vector<CornerSet> photos(const std::string& side, const std::vector<std::size_t>& which = {}) {
  const std::vector<CornerSet> all = corners_by_fixed_window(side, 5);
  if (which.empty()) return all;
  std::vector<CornerSet> some;
  for (const std::size_t i : which) some.push_back(all[i]);
  return some;
}

double distance(const SolvedBoard& board, int a, int b) {
  return (board.points_mm[static_cast<std::size_t>(a)] -
          board.points_mm[static_cast<std::size_t>(b)])
      .norm();
}

/// Gradient of a distance by all coordinates.
Eigen::VectorXd distance_gradient(const SolvedBoard& board, int a, int b) {
  Eigen::VectorXd gradient =
      Eigen::VectorXd::Zero(static_cast<Eigen::Index>(3 * board.points_mm.size()));
  const Eigen::Vector3d direction =
      (board.points_mm[static_cast<std::size_t>(a)] - board.points_mm[static_cast<std::size_t>(b)])
          .normalized();
  gradient.segment<3>(3 * a) = direction;
  gradient.segment<3>(3 * b) = -direction;
  return gradient;
}

double distance_u(const SolvedBoard& board, int a, int b) {
  const Eigen::VectorXd gradient = distance_gradient(board, a, b);
  return std::sqrt(gradient.dot(board.covariance_mm2 * gradient));
}

double plane_rms(const SolvedBoard& board) {
  Eigen::Vector3d middle = Eigen::Vector3d::Zero();
  for (const auto& point : board.points_mm)
    middle += point / static_cast<double>(board.points_mm.size());
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (const auto& point : board.points_mm)
    scatter += (point - middle) * (point - middle).transpose();
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> axes(scatter);
  return std::sqrt(axes.eigenvalues()[0] / static_cast<double>(board.points_mm.size()));
}

struct TableRow {
  std::string name, side;
  bool camera_fixed;
  std::vector<std::size_t> which;
  double s0_px;
  std::array<double, 5> distance_mm, u_mm;
  double rms_of_distances_mm, rms_of_plane_mm;
};

class FreeBoard : public testing::TestWithParam<TableRow> {};

TEST_P(FreeBoard, GivesTheTablesDistancesAndUncertainties) {
  const TableRow& row = GetParam();
  SolveIntrinsicsOptions options = free_board();
  if (row.camera_fixed) {
    options.free.fill(false);
    options.start = fixed_camera(row.side);
  }
  const auto solution = solve_intrinsics(published_board_mm(), photos(row.side, row.which),
                                         kPublishedBoardSize, options);
  ASSERT_TRUE(solution) << solution.error().sentence;
  // Seven without the distance, six with it (S4).
  EXPECT_EQ(solution->board.datum_defect, 6) << solution->board.datum;
  EXPECT_NEAR(solution->residual_sigma_px, row.s0_px, 1.5e-4);
  constexpr std::array<std::array<int, 2>, 5> kPairs = {
      {{0, 45}, {8, 53}, {45, 53}, {0, 53}, {8, 45}}};
  for (std::size_t i = 0; i < kPairs.size(); ++i) {
    // Half a digit, and as much again for the fixed camera's own rounding.
    EXPECT_NEAR(distance(solution->board, kPairs[i][0], kPairs[i][1]), row.distance_mm[i], 1.5e-3);
    EXPECT_NEAR(distance_u(solution->board, kPairs[i][0], kPairs[i][1]), row.u_mm[i], 1.5e-3);
  }
  const std::vector<Eigen::Vector3d> nominal = published_board_mm();
  double squares = 0;
  int count = 0;
  for (int a = 0; a < 54; ++a) {
    for (int b = a + 1; b < 54; ++b, ++count) {
      const double expected =
          (nominal[static_cast<std::size_t>(a)] - nominal[static_cast<std::size_t>(b)]).norm();
      squares += std::pow(distance(solution->board, a, b) - expected, 2);
    }
  }
  // 1,431 pairs, one of which sets the scale.
  EXPECT_NEAR(std::sqrt(squares / (count - 1)), row.rms_of_distances_mm, 1e-3);
  EXPECT_NEAR(plane_rms(solution->board), row.rms_of_plane_mm, 1e-3);
}

INSTANTIATE_TEST_SUITE_P(Checks17, FreeBoard,
                         testing::Values(TableRow{"LeftFixed",
                                                  "left",
                                                  true,
                                                  {},
                                                  0.1062,
                                                  {149.727, 150.026, 240.076, 283.047, 282.925},
                                                  {0.041, 0.044, 0.053, 0.039, 0.049},
                                                  0.109,
                                                  0.107},
                                         TableRow{"LeftRefined",
                                                  "left",
                                                  false,
                                                  {},
                                                  0.0998,
                                                  {149.703, 150.098, 240.144, 283.093, 282.962},
                                                  {0.041, 0.045, 0.056, 0.038, 0.050},
                                                  0.126,
                                                  0.113},
                                         TableRow{"RightFixed",
                                                  "right",
                                                  true,
                                                  {},
                                                  0.1079,
                                                  {149.928, 150.148, 240.136, 283.181, 283.013},
                                                  {0.046, 0.047, 0.056, 0.041, 0.055},
                                                  0.129,
                                                  0.113},
                                         TableRow{"LeftFour",
                                                  "left",
                                                  true,
                                                  {0, 2, 4, 6},
                                                  0.1053,
                                                  {149.643, 150.046, 239.934, 282.959, 282.857},
                                                  {0.077, 0.096, 0.130, 0.068, 0.129},
                                                  0.173,
                                                  0.197},
                                         TableRow{"LeftTwo",
                                                  "left",
                                                  true,
                                                  {0, 1},
                                                  0.0894,
                                                  {149.798, 150.197, 240.082, 283.201, 282.903},
                                                  {0.175, 0.299, 0.414, 0.148, 0.450},
                                                  0.177,
                                                  0.180}),
                         [](const auto& row) { return row.param.name; });

// The same problem solved by OpenCV in this very run.
TEST(FreeBoard, EqualsCalibrateCameraRo) {
  const std::vector<Eigen::Vector3d> nominal = published_board_mm();
  for (const std::string side : {"left", "right"}) {
    std::vector<cv::Point3f> object;
    for (const auto& p : nominal)
      object.emplace_back(static_cast<float>(p.x()), static_cast<float>(p.y()), 0.0F);
    std::vector<std::vector<cv::Point3f>> objects;
    std::vector<std::vector<cv::Point2f>> images;
    const std::vector<CornerSet> sets = photos(side);
    for (const CornerSet& set : sets) {
      objects.push_back(object);
      auto& image = images.emplace_back();
      for (const Corner& corner : set.corners) {
        image.emplace_back(static_cast<float>(corner.position_px.x()),
                           static_cast<float>(corner.position_px.y()));
      }
    }
    cv::Mat matrix, distortion;
    std::vector<cv::Mat> rotations, translations;
    std::vector<cv::Point3f> board;
    const double rms =
        cv::calibrateCameraRO(objects, images, {640, 480}, 8, matrix, distortion, rotations,
                              translations, board, cv::CALIB_FIX_K3 + cv::CALIB_USE_LU,
                              {cv::TermCriteria::EPS + cv::TermCriteria::MAX_ITER, 200, 1e-12});
    const auto solution = solve_intrinsics(nominal, sets, kPublishedBoardSize, free_board());
    ASSERT_TRUE(solution) << solution.error().sentence;
    EXPECT_NEAR(solution->rms_px, rms, 1e-5);
    const Intrinsics& c = solution->intrinsics;
    EXPECT_NEAR(c.fx, matrix.at<double>(0, 0), 1e-2);
    EXPECT_NEAR(c.fy, matrix.at<double>(1, 1), 1e-2);
    EXPECT_NEAR(c.cx, matrix.at<double>(0, 2), 1e-2);
    EXPECT_NEAR(c.cy, matrix.at<double>(1, 2), 1e-2);
    EXPECT_NEAR(c.k1, distortion.at<double>(0), 1e-4);
    EXPECT_NEAR(c.k2, distortion.at<double>(1), 1e-3);
    EXPECT_NEAR(c.p1, distortion.at<double>(2), 1e-5);
    EXPECT_NEAR(c.p2, distortion.at<double>(3), 1e-5);
    const double scale =
        240.0 / cv::norm(board[0] - board[8]);  // it fixes the two points, we their distance
    double worst = 0;
    for (int a = 0; a < 54; ++a) {
      for (int b = a + 1; b < 54; ++b) {
        const double theirs = scale * cv::norm(board[static_cast<std::size_t>(a)] -
                                               board[static_cast<std::size_t>(b)]);
        worst = std::max(worst, std::abs(theirs - distance(solution->board, a, b)));
      }
    }
    // Its board is in single precision and its iteration stops a little early.
    EXPECT_LT(worst, 2e-3) << side;
  }
}

// CHECKS 1.8, "camera refined in each bundle", and the bar of STATISTICS: NEES per degree of
// freedom.
TEST(FreeBoard, IsFoundAlikeByTwoCamerasWithinTheirErrorBars) {
  const auto left =
      solve_intrinsics(published_board_mm(), photos("left"), kPublishedBoardSize, free_board());
  const auto right =
      solve_intrinsics(published_board_mm(), photos("right"), kPublishedBoardSize, free_board());
  ASSERT_TRUE(left && right);
  double squares = 0, difference_squares = 0;
  int count = 0, within = 0;
  for (int a = 0; a < 54; ++a) {
    for (int b = a + 1; b < 54; ++b) {
      if (a == 0 && b == 8) continue;  // sets the scale of both
      const double difference = distance(left->board, a, b) - distance(right->board, a, b);
      const double z =
          difference / std::hypot(distance_u(left->board, a, b), distance_u(right->board, a, b));
      difference_squares += difference * difference;
      squares += z * z;
      within += std::abs(z) <= 1.96 ? 1 : 0;
      ++count;
    }
  }
  ASSERT_EQ(count, 1430);
  const double rms_z = std::sqrt(squares / count);
  RecordProperty("rms_z", std::to_string(rms_z));
  EXPECT_GT(rms_z, 0.8);
  EXPECT_LT(rms_z, 1.25);
  EXPECT_GE(within, 0.90 * count);
  EXPECT_LE(within, 0.98 * count);
  EXPECT_NEAR(std::sqrt(difference_squares / count), 0.058, 0.002);  // as the table's

  // The two shapes as a whole: turned and shifted onto each other (scale is set), d over 3·54 − 6 −
  // 1 directions.
  const std::size_t n = left->board.points_mm.size();
  Eigen::Matrix3Xd from(3, n), to(3, n);
  for (std::size_t i = 0; i < n; ++i) {
    from.col(static_cast<Eigen::Index>(i)) = right->board.points_mm[i];
    to.col(static_cast<Eigen::Index>(i)) = left->board.points_mm[i];
  }
  const Eigen::Matrix4d onto = Eigen::umeyama(from, to, false);
  Eigen::MatrixXd turning =
      Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(3 * n), static_cast<Eigen::Index>(3 * n));
  Eigen::VectorXd d(static_cast<Eigen::Index>(3 * n));
  for (std::size_t i = 0; i < n; ++i) {
    const auto at = static_cast<Eigen::Index>(3 * i);
    turning.block<3, 3>(at, at) = onto.topLeftCorner<3, 3>();
    d.segment<3>(at) = to.col(static_cast<Eigen::Index>(i)) -
                       onto.topLeftCorner<3, 3>() * from.col(static_cast<Eigen::Index>(i)) -
                       onto.topRightCorner<3, 1>();
  }
  const Eigen::MatrixXd joint =
      left->board.covariance_mm2 + turning * right->board.covariance_mm2 * turning.transpose();
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(joint);
  double nees = 0;
  int rank = 0;
  for (Eigen::Index k = 0; k < d.size(); ++k) {
    if (eigen.eigenvalues()[k] < 1e-6 * eigen.eigenvalues().maxCoeff()) continue;
    nees += std::pow(eigen.eigenvectors().col(k).dot(d), 2) / eigen.eigenvalues()[k];
    ++rank;
  }
  EXPECT_EQ(rank, 3 * 54 - 7);
  RecordProperty("nees_per_dof", std::to_string(nees / rank));
  // 99.9 % of χ²(155)/155 lie in 0.66–1.42; STATISTICS asks for 0.78–1.22.
  EXPECT_GT(nees / rank, 0.78);
  EXPECT_LT(nees / rank, 1.22);
}

}  // namespace
}  // namespace calib
