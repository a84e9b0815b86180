// Pictures of corners, rounds, crossings and textures with exactly known places: light integrated
// over the area of each pixel, then blur, grey curve, noise and JPEG.
#pragma once

#include <cstdint>
#include <functional>
#include <vector>

#include <Eigen/Core>
#include <opencv2/core/mat.hpp>

#include "calib/camera/projection.h"

namespace testing_support {

/// What happens to the light on its way to the file.
struct Development {
  double blur_px = 1.0;      ///< standard deviation of the lens, besides the pixel's area
  double exponent = 2.2;     ///< grey = 255 (light)^(1/exponent)
  double noise_grey = 2.5;   ///< standard deviation, before JPEG
  double grain_px = 0.0;     ///< above 0: noise smoothed by this, as demosaicing does
  int jpeg_quality = 92;     ///< 0: none
  bool sixteen_bit = false;  ///< without JPEG only
  std::uint32_t seed = 1;
};

/// Light for a grey value under the development's curve.
[[nodiscard]] double light_of(double grey, double exponent);

/// @param light  at a place in pixels, 0 to 1 for black to white; each pixel that is not even takes
///               the mean of subsamples² places.
[[nodiscard]] cv::Mat develop(cv::Size size,
                              const std::function<double(const Eigen::Vector2d&)>& light,
                              const Development& development, int subsamples = 16);

/// A corner of two straight edges, perhaps rounded off.
struct CornerSpec {
  cv::Size size{120, 120};
  Eigen::Vector2d apex_px{60.3, 58.8};
  double first_deg = 20.0, opening_deg = 90.0;
  double inside = 150.0, outside = 90.0;  ///< grey values
  double shading = 0.0;                   ///< light changes by this part over the picture's width
  double round_off_px = 0.0;              ///< radius of the corner
  Development development;
};
[[nodiscard]] cv::Mat make_corner(const CornerSpec& spec);

/// A flat disc in space, seen by a camera.
struct DiscSpec {
  cv::Size size{140, 140};
  calib::Intrinsics camera{.fx = 2900.0, .fy = 2900.0, .cx = 69.5, .cy = 69.5};
  Eigen::Vector2d centre_px{70.3, 68.8};  ///< picture of the disc's centre
  double radius_px = 15.0;                ///< about; at the centre's distance
  double tilt_deg = 30.0, tilt_towards_deg = 40.0;
  double inside = 60.0, outside = 130.0;
  double shading = 0.0;
  /// Something of this grey value covers this part of the rim (0: none).
  double shine_turn = 0.0, shine = 230.0;
  Development development;
};
struct Disc {
  cv::Mat pixels;
  Eigen::Vector3d normal;  ///< camera frame
};
[[nodiscard]] Disc make_disc(const DiscSpec& spec);

/// Two straight things that cross: steps, or narrow lines; the corner may be rounded off.
struct CrossingSpec {
  cv::Size size{120, 120};
  Eigen::Vector2d crossing_px{60.3, 58.8};
  double first_deg = 12.0, second_deg = 95.0;
  bool lines = false;  ///< narrow lines through and through; else a rounded corner
  double line_width_px = 1.5;
  double round_off_px = 4.0;              ///< of the corner
  double inside = 150.0, outside = 90.0;  ///< line and ground, for lines
  double shading = 0.0;
  Development development;
};
[[nodiscard]] cv::Mat make_crossing(const CrossingSpec& spec);

/// A face with paint on it seen in two photos that differ by a homography.
struct MatchSpec {
  cv::Size size{72, 72};
  Eigen::Vector2d pattern_px{35.3, 35.6};
  Eigen::Vector2d place_px{36.8, 35.2};
  Eigen::Matrix2d change = Eigen::Matrix2d::Identity();  ///< photo_from_pattern
  Eigen::Vector2d perspective{0.0, 0.0};  ///< 1/px: divides by 1 + perspective · offset
  double contrast = 25.0;                 ///< standard deviation of the paint, grey values
  double grain_px = 4.0;                  ///< size of the paint's structure
  double brightness = 0.8;                ///< light of the photo over that of the pattern view
  Development pattern, photo;
  std::uint32_t seed = 1;  ///< of the paint
};
struct MatchPair {
  cv::Mat pattern, photo;
};
[[nodiscard]] MatchPair make_match(const MatchSpec& spec);

}  // namespace testing_support
