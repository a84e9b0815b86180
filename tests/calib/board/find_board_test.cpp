#include "calib/board/find_board.h"

#include <string>

#include <gtest/gtest.h>
#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "tests/support/analytic_board.h"

namespace calib {
namespace {

using testing_support::AnalyticBoardSpec;
using testing_support::make_analytic_board;
using testing_support::make_texture;

// 1.5 Mpx: the reduced copies of a larger photo look the same.
AnalyticBoardSpec small_photo() {
  AnalyticBoardSpec spec;
  spec.size = {1500, 1000};
  spec.camera = {.fx = 1500.0, .fy = 1500.0, .cx = 749.5, .cy = 499.5};
  spec.fill = 0.8;
  return spec;
}

// Corner errors beyond this are another corner, not noise.
constexpr double kSameCorner_px = 0.5;

void expect_found(const AnalyticBoardSpec& spec, const std::string& what) {
  const auto photo = make_analytic_board(spec);
  const auto found = find_board(photo.pixels, spec.board);
  ASSERT_TRUE(found) << what << ": " << describe(found.error(), "photo");
  ASSERT_EQ(found->corners.size(), photo.corners_px.size()) << what;
  if (!spec.board.tells_up_from_down()) {
    return;  // either end may be the first
  }
  for (std::size_t i = 0; i < found->corners.size(); ++i) {
    ASSERT_LT((found->corners[i].position_px - photo.corners_px[i]).norm(), kSameCorner_px)
        << what << ", corner " << i;
  }
}

TEST(FindBoard, FindsA24MegapixelBoardInItsOwnOrder) { expect_found({}, "24 Mpx"); }

TEST(FindBoard, FindsBoardsFrom3x3To20x20) {
  for (const auto& [columns, rows] :
       {std::pair(3, 3), std::pair(4, 3), std::pair(3, 4), std::pair(6, 9), std::pair(9, 6),
        std::pair(11, 8), std::pair(20, 13), std::pair(20, 20)}) {
    auto spec = small_photo();
    spec.board = {columns, rows, 15.0};
    expect_found(spec, std::to_string(columns) + "x" + std::to_string(rows));
  }
}

TEST(FindBoard, FindsBoardsUnderStrongTiltFromAllSides) {
  for (const double towards_deg : {0.0, 75.0, 160.0, 250.0}) {
    auto spec = small_photo();
    spec.tilt_deg = 65.0;
    spec.tilt_towards_deg = towards_deg;
    spec.roll_deg = 20.0 - towards_deg;
    expect_found(spec, "towards " + std::to_string(towards_deg));
  }
}

TEST(FindBoard, FindsPartlyShadowedBoards) {
  for (const double tilt_deg : {0.0, 50.0, 65.0}) {
    auto spec = small_photo();
    spec.tilt_deg = tilt_deg;
    spec.shadow = 0.8;
    spec.shading = 0.3;
    expect_found(spec, "tilt " + std::to_string(tilt_deg));
  }
}

TEST(FindBoard, FindsASmallBoardInALargePhoto) {
  AnalyticBoardSpec spec;
  spec.board = {20, 13, 10.0};
  spec.fill = 0.3;
  spec.tilt_deg = 55.0;
  spec.centre_px = {1200.0, 3100.0};
  expect_found(spec, "20x13 on a third of 24 Mpx");
}

TEST(FindBoard, CountsFromTheSamePhysicalCornerHoweverTheBoardIsTurned) {
  for (const double roll_deg : {0.0, 60.0, 120.0, 180.0, 240.0, 300.0}) {
    auto spec = small_photo();
    spec.roll_deg = roll_deg;
    expect_found(spec, "roll " + std::to_string(roll_deg));
  }
}

TEST(FindBoard, FindsTheSameInSixteenBits) {
  const auto spec = small_photo();
  const auto photo = make_analytic_board(spec);
  cv::Mat deep;
  photo.pixels.convertTo(deep, CV_16U, 257.0);
  const auto found = find_board(photo.pixels, spec.board),
             found_deep = find_board(deep, spec.board);
  ASSERT_TRUE(found);
  ASSERT_TRUE(found_deep);
  for (std::size_t i = 0; i < found->corners.size(); ++i) {
    // The prior's noise floor is given in grey values: the least squares are not scaled to the last
    // digit.
    EXPECT_LT((found->corners[i].position_px - found_deep->corners[i].position_px).norm(), 0.002);
    EXPECT_NEAR(found->corners[i].sigma_px(), found_deep->corners[i].sigma_px(),
                0.1 * found->corners[i].sigma_px());
  }
}

TEST(FindBoard, FindsAllBoardsOfTheSamplePhotographs) {
  const std::string folder = SCANTLING_OPENCV_DATA;
  for (const std::string side : {"left", "right"}) {
    for (int number = 1; number <= 14; ++number) {
      if (number == 10) {
        continue;  // the package has none
      }
      const std::string file =
          folder + "/" + side + (number < 10 ? "0" : "") + std::to_string(number) + ".jpg";
      const cv::Mat pixels = cv::imread(file, cv::IMREAD_GRAYSCALE | cv::IMREAD_IGNORE_ORIENTATION);
      ASSERT_FALSE(pixels.empty())
          << file << " is missing: install Debian's opencv-doc, or give its photographs' "
          << "folder as SCANTLING_OPENCV_DATA";
      const auto found = find_board(pixels, {9, 6, 30.0});
      ASSERT_TRUE(found) << describe(found.error(), file);
      for (const auto& corner : found->corners) {
        EXPECT_TRUE(corner.refined) << file;
        EXPECT_LT(corner.sigma_px(), 0.1)
            << file;  // 640 × 480, squares of 20 px and more, little noise
      }
    }
  }
}

TEST(FindBoard, SaysThatThereIsNoBoard) {
  const auto refused = find_board(make_texture({3000, 2000}), {9, 6, 25.0});
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, PhotoRefusalKind::kNotFound);
  EXPECT_NE(describe(refused.error(), "wall.jpg")
                .find("wall.jpg: no board of 9x6 inner corners was found"),
            std::string::npos);
  const auto plain = find_board(cv::Mat(600, 800, CV_8UC1, cv::Scalar(128)), {9, 6, 25.0});
  ASSERT_FALSE(plain);
  EXPECT_EQ(plain.error().kind, PhotoRefusalKind::kNotFound);
  EXPECT_FALSE(find_board(cv::Mat(), {9, 6, 25.0}));
  EXPECT_FALSE(find_board(cv::Mat(3, 4, CV_8UC1, cv::Scalar(1)), {9, 6, 25.0}));
}

TEST(FindBoard, SaysThatTheBoardIsCutOff) {
  for (const Eigen::Vector2d& centre_px :
       {Eigen::Vector2d(1325.0, 500.0), Eigen::Vector2d(750.0, 50.0),
        Eigen::Vector2d(150.0, 900.0)}) {
    auto spec = small_photo();
    spec.centre_px = centre_px;
    const auto refused = find_board(make_analytic_board(spec).pixels, spec.board);
    ASSERT_FALSE(refused) << centre_px.transpose();
    EXPECT_EQ(refused.error().kind, PhotoRefusalKind::kCutOff) << centre_px.transpose();
    EXPECT_NE(describe(refused.error(), "photo").find("leave the photo"), std::string::npos);
  }
}

TEST(FindBoard, SaysWhichBoardIsThereInsteadOfTheWantedOne) {
  auto spec = small_photo();
  spec.board = {8, 5, 25.0};
  const auto refused = find_board(make_analytic_board(spec).pixels, {9, 6, 25.0});
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, PhotoRefusalKind::kNotFound);
  EXPECT_NE(describe(refused.error(), "photo").find("but one of 8x5"), std::string::npos)
      << describe(refused.error(), "photo");
}

// Detectors do return a part of a larger board when it is blurred or tilted, and the focal length
// of such a set is as good as any: it must not get that far.
TEST(FindBoard, DoesNotTakeAPartOfALargerBoardForTheBoard) {
  for (const double blur_px : {1.3, 4.0, 10.0}) {
    for (const double tilt_deg : {10.0, 60.0}) {
      auto spec = small_photo();
      spec.board = {11, 8, 20.0};
      spec.blur_px = blur_px;
      spec.tilt_deg = tilt_deg;
      const auto photo = make_analytic_board(spec);
      for (const BoardSpec& wanted :
           {BoardSpec{9, 6, 20.0}, BoardSpec{10, 8, 20.0}, BoardSpec{11, 7, 20.0}}) {
        const auto refused = find_board(photo.pixels, wanted);
        ASSERT_FALSE(refused) << blur_px << " " << tilt_deg << " " << wanted.inner_columns;
        EXPECT_EQ(refused.error().kind, PhotoRefusalKind::kNotFound);
      }
    }
  }
}

TEST(FindBoard, SaysThatTheBoardIsTooBlurred) {
  auto spec = small_photo();
  spec.blur_px = 19.0;  // squares of some 61 px: twice as much and nothing is seen at all
  const auto refused = find_board(make_analytic_board(spec).pixels, spec.board);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().kind, PhotoRefusalKind::kTooBlurred);
  EXPECT_NE(describe(refused.error(), "photo").find("too blurred"), std::string::npos);
}

TEST(FindBoard, StopsWhenCancelled) {
  const auto photo = make_texture({1600, 1200});
  for (const int allowed : {0, 1, 2}) {
    int asked = 0;
    const auto refused = find_board(photo, {9, 6, 25.0}, [&] { return asked++ >= allowed; });
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().kind, PhotoRefusalKind::kCancelled) << allowed;
  }
}

}  // namespace
}  // namespace calib
