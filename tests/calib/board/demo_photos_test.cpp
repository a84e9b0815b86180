// The demo's ray-traced photographs against their truth (datasets/README.md): other pixels than
// those that the finder was made with, with depth of field, a grey curve, vignetting and
// sharpening.
#include <cmath>
#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <vector>

#include <Eigen/LU>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>
#include <opencv2/calib3d.hpp>

#include "calib/board/board_photo.h"
#include "calib/board/photo_file.h"
#include "calib/board/refine_corner.h"
#include "calib/camera/projection.h"

namespace calib {
namespace {

const std::string kFolder = std::string(SCANTLING_DATASETS) + "/hauler/";

class DemoPhotos : public ::testing::Test {
 protected:
  void SetUp() override {
    std::ifstream stream(kFolder + "truth.json");
    ASSERT_TRUE(stream) << kFolder
                        << "truth.json is missing: SCANTLING_DATASETS names the wrong folder";
    truth_ = nlohmann::json::parse(stream);
    const auto& camera = truth_["camera"];
    IntrinsicVector values;
    for (int i = 0; i < kIntrinsicCount; ++i) {
      values[i] = camera[std::string(kIntrinsicNames[static_cast<std::size_t>(i)])].get<double>();
    }
    camera_ = Intrinsics::from_vector(values);
  }

  static Eigen::Vector3d vector_of(const nlohmann::json& values) {
    return {values[0].get<double>(), values[1].get<double>(), values[2].get<double>()};
  }

  nlohmann::json truth_;
  Intrinsics camera_;
};

// STATISTICS.md: on ray-traced photos |mean| ≤ 0.01 and rms ≤ 0.07 px. The board's pose is not in
// the truth: it is fitted with the true camera, 6 of 176 numbers a photo.
TEST_F(DemoPhotos, HaveTheirBoardCornersFoundToTheBar) {
  std::vector<cv::Point3d> at_mm;
  for (const auto& corner : truth_["board"]["corners_mm"]) {
    const Eigen::Vector3d position_mm = vector_of(corner);
    at_mm.emplace_back(position_mm.x(), position_mm.y(), position_mm.z());
  }
  const auto& record = truth_["board"];
  const BoardSpec board{record["inner_corners"][0].get<int>(),
                        record["inner_corners"][1].get<int>(), record["square_mm"].get<double>()};
  const cv::Matx33d matrix(camera_.fx, 0.0, camera_.cx, 0.0, camera_.fy, camera_.cy, 0.0, 0.0, 1.0);
  const std::vector<double> distortion = {camera_.k1, camera_.k2, camera_.p1, camera_.p2,
                                          camera_.k3};
  Eigen::Vector2d sum = Eigen::Vector2d::Zero(), squares = Eigen::Vector2d::Zero();
  double normalised = 0.0;
  int count = 0;
  for (int number = 1; number <= 12; ++number) {
    const std::string file =
        kFolder + "board/board_" + (number < 10 ? "0" : "") + std::to_string(number) + ".jpg";
    const auto photo = read_board_photo(file, board);
    ASSERT_TRUE(photo.found) << photo.reason();
    std::vector<cv::Point2d> at_px, fitted_px;
    for (const auto& corner : photo.found->corners) {
      EXPECT_TRUE(corner.refined) << file;
      at_px.emplace_back(corner.position_px.x(), corner.position_px.y());
    }
    cv::Vec3d rotation, translation;
    cv::solvePnP(at_mm, at_px, matrix, distortion, rotation, translation);
    cv::solvePnPRefineLM(at_mm, at_px, matrix, distortion, rotation, translation);
    cv::projectPoints(at_mm, rotation, translation, matrix, distortion, fitted_px);
    for (std::size_t i = 0; i < at_px.size(); ++i) {
      const Eigen::Vector2d error(at_px[i].x - fitted_px[i].x, at_px[i].y - fitted_px[i].y);
      sum += error;
      squares += error.cwiseAbs2();
      normalised += 0.5 * error.dot(photo.found->corners[i].covariance_px2.inverse() * error);
      ++count;
    }
  }
  const Eigen::Vector2d rms = (squares / count).cwiseSqrt();
  std::printf("  rms %.4f %.4f px, true/claimed %.2f\n", rms.x(), rms.y(),
              std::sqrt(normalised / count));
  EXPECT_LT((sum / count).cwiseAbs().maxCoeff(), 0.01);
  EXPECT_LT(rms.maxCoeff(), 0.07);
  EXPECT_GT(std::sqrt(normalised / count), 0.8);
  EXPECT_LT(std::sqrt(normalised / count), 1.25);
}

TEST_F(DemoPhotos, HaveTheirTargetsMeasuredFromRoughClicks) {
  std::ifstream clicks(kFolder + "targets.csv");
  ASSERT_TRUE(clicks) << kFolder << "targets.csv is missing";
  std::map<std::string, cv::Mat> photos;
  Eigen::Vector2d sum = Eigen::Vector2d::Zero(), squares = Eigen::Vector2d::Zero();
  int count = 0, refused = 0;
  std::string line;
  std::getline(clicks, line);  // the header
  while (std::getline(clicks, line)) {
    std::stringstream cells(line);
    std::string photo, point, x, y;
    std::getline(cells, photo, ',');
    std::getline(cells, point, ',');
    std::getline(cells, x, ',');
    std::getline(cells, y, ',');
    if (!truth_["targets_mm"].contains(point)) {
      continue;  // the ends of the bars are in the same table
    }
    if (!photos.contains(photo)) {
      auto read = read_grey_photo(kFolder + "photos/" + photo);
      ASSERT_TRUE(read) << read.error().sentence;
      photos[photo] = read->pixels;
    }
    const auto& orientation = truth_["photos"][photo];
    Eigen::Matrix3d rotation;
    for (int row = 0; row < 3; ++row) {
      rotation.row(row) = vector_of(orientation["rotation"][static_cast<std::size_t>(row)]);
    }
    const Eigen::Vector3d in_camera = rotation * vector_of(truth_["targets_mm"][point]) +
                                      vector_of(orientation["translation_mm"]);
    const auto refined = refine_cross(photos[photo], {std::stod(x), std::stod(y)});
    if (!refined) {
      ++refused;
      continue;
    }
    const Eigen::Vector2d error = refined->position_px - project(camera_, in_camera);
    EXPECT_LT(error.norm(), 0.1) << point << " in " << photo;  // further off is something else
    sum += error;
    squares += error.cwiseAbs2();
    ++count;
  }
  const Eigen::Vector2d rms = (squares / count).cwiseSqrt();
  std::printf("  %d targets, %d refused, rms %.4f %.4f px\n", count, refused, rms.x(), rms.y());
  EXPECT_GE(count, 20);
  EXPECT_LE(refused, count / 20);
  EXPECT_LT((sum / count).cwiseAbs().maxCoeff(), 0.005);
  EXPECT_LT(rms.maxCoeff(), 0.03);
}

}  // namespace
}  // namespace calib
