// Photographs of a checkerboard with exactly known corners, integrated over the area of each pixel.
#pragma once

#include <cstdint>
#include <vector>

#include <Eigen/Core>
#include <opencv2/core/mat.hpp>

#include "calib/board/checkerboard.h"
#include "calib/camera/projection.h"

namespace testing_support {

/// A photo of a board: name what the test is about and leave the rest.
struct AnalyticBoardSpec {
  calib::BoardSpec board{9, 6, 25.0};
  calib::ImageSize size{6000, 4000};
  calib::Intrinsics camera{.fx = 6000.0, .fy = 6000.0, .cx = 2999.5, .cy = 1999.5};
  double tilt_deg = 20.0;          ///< between the board's normal and the camera's axis
  double tilt_towards_deg = 30.0;  ///< in which direction it leans
  double roll_deg = 10.0;          ///< turned about the camera's axis
  double fill = 0.55;              ///< diagonal of the untilted board over the photo's shorter side
  Eigen::Vector2d centre_px{-1.0,
                            -1.0};  ///< where the board's middle lies; negative: the photo's middle
  double black = 40.0, white = 200.0;  ///< grey values
  double background = 120.0;
  double margin_squares = 1.0;  ///< white border about the outermost squares
  double shading = 0.0;         ///< light falls off by this part from left to right
  double shadow = 0.0;          ///< part of the light taken away in a half plane with a soft border
  double blur_px = 1.3;         ///< standard deviation of a Gaussian, besides the pixel's area
  double grey_curve = 1.0;      ///< above 1: dark tones lifted, as cameras do (a power of 1/curve)
  double noise_grey = 4.0;      ///< standard deviation, independent from pixel to pixel
  int jpeg_quality = 92;        ///< 0: none
  std::uint32_t seed = 1;       ///< fixed, so that a failure can be repeated
};

struct AnalyticBoard {
  cv::Mat pixels;                           ///< CV_8UC1
  std::vector<Eigen::Vector2d> corners_px;  ///< the inner corners, row by row
};

/// Every pixel that an edge crosses is the mean of 16 × 16 exact samples: with the two or more
/// pixels that a line takes to cross a row, its position is true to 0.001 px.
[[nodiscard]] AnalyticBoard make_analytic_board(const AnalyticBoardSpec& spec);

/// A flat picture without a board but full of structure: blobs of all sizes, stripes and small
/// squares.
[[nodiscard]] cv::Mat make_texture(calib::ImageSize size, std::uint32_t seed = 1);

/// A quartered disc, two opposite quadrants black, seen at a slant: exact area integration as
/// above.
struct QuarteredTargetSpec {
  calib::ImageSize size{120, 120};
  Eigen::Vector2d centre_px{60.3, 58.8};
  double diameter_px = 40.0;
  double squeeze = 1.0;  ///< shorter over longer axis of the disc's picture
  double squeeze_angle_deg = 20.0;
  double roll_deg = 12.0;  ///< of the quadrants
  double black = 45.0, white = 205.0, background = 130.0;
  double blur_px = 0.9, noise_grey = 3.0;
  int jpeg_quality = 92;
  std::uint32_t seed = 1;
};
[[nodiscard]] cv::Mat make_quartered_target(const QuarteredTargetSpec& spec);

}  // namespace testing_support
