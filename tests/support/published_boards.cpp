#include "tests/support/published_boards.h"

#include <filesystem>
#include <map>
#include <stdexcept>

#include <opencv2/calib3d.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "calib/board/board_photo.h"
#include "calib/intrinsics/calibrate.h"

namespace testing_support {

std::vector<Eigen::Vector3d> published_board_mm(double square_mm) {
  return calib::corner_positions_mm({9, 6, square_mm});
}

std::string opencv_data(const std::string& file) {
  const std::filesystem::path path = std::filesystem::path(SCANTLING_OPENCV_DATA) / file;
  if (!std::filesystem::exists(path)) {
    throw std::runtime_error(
        path.string() +
        " is missing: install Debian's package opencv-doc (slim images drop its photographs: "
        "tools/check unpacks them), or set SCANTLING_OPENCV_DATA");
  }
  return path.string();
}

std::vector<std::string> published_board_files(const std::string& side) {
  std::vector<std::string> files;
  for (int i = 1; i <= 14; ++i) {
    if (i != 10) files.push_back(side + (i < 10 ? "0" : "") + std::to_string(i) + ".jpg");
  }
  return files;
}

std::vector<calib::CornerSet> corners_by_fixed_window(const std::string& side, int half_window) {
  std::vector<calib::CornerSet> sets;
  for (const std::string& file : published_board_files(side)) {
    const cv::Mat grey = cv::imread(opencv_data(file), cv::IMREAD_GRAYSCALE);
    std::vector<cv::Point2f> corners;
    if (!cv::findChessboardCorners(grey, {9, 6}, corners,
                                   cv::CALIB_CB_ADAPTIVE_THRESH + cv::CALIB_CB_NORMALIZE_IMAGE)) {
      throw std::runtime_error(file + ": the library found no board");
    }
    if (half_window > 0) {
      cv::cornerSubPix(grey, corners, {half_window, half_window}, {-1, -1},
                       {cv::TermCriteria::EPS + cv::TermCriteria::MAX_ITER, 100, 1e-4});
    }
    calib::CornerSet set{file, {}};
    for (std::size_t i = 0; i < corners.size(); ++i) {
      set.corners.push_back({static_cast<int>(i), Eigen::Vector2d(corners[i].x, corners[i].y),
                             0.01 * Eigen::Matrix2d::Identity()});
    }
    sets.push_back(std::move(set));
  }
  return sets;
}

const std::vector<calib::CornerSet>& corners_by_our_finder(const std::string& side) {
  static std::map<std::string, std::vector<calib::CornerSet>> kept;
  std::vector<calib::CornerSet>& sets = kept[side];
  if (!sets.empty()) return sets;
  const double model_sigma_px = calib::CalibrateOptions{}.model_sigma_px;
  for (const std::string& file : published_board_files(side)) {
    const calib::BoardPhoto photo = calib::read_board_photo(opencv_data(file), {9, 6, 30.0});
    if (!photo.found) throw std::runtime_error(photo.reason());
    calib::CornerSet set{file, {}};
    for (std::size_t i = 0; i < photo.found->corners.size(); ++i) {
      const calib::BoardCorner& corner = photo.found->corners[i];
      set.corners.push_back(
          {static_cast<int>(i), corner.position_px,
           corner.covariance_px2 + model_sigma_px * model_sigma_px * Eigen::Matrix2d::Identity()});
    }
    sets.push_back(std::move(set));
  }
  return sets;
}

}  // namespace testing_support
