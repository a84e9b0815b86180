// From a corner known to a few pixels to one known to a hundredth: checkerboard corners and
// quartered targets.
#pragma once

#include <array>
#include <string>
#include <string_view>
#include <vector>

#include <Eigen/Core>
#include <opencv2/core/mat.hpp>

#include "calib/base/result.h"

namespace calib {

/// What is known of a crossing of two edges before it is refined. All in pixels of the image given.
struct CornerShape {
  Eigen::Vector2d position_px = Eigen::Vector2d::Zero();
  /// Along each of the two edges, as far as only this crossing is in sight: the window reaches from
  /// −reach to +reach on both, a parallelogram that follows the squares.
  std::array<Eigen::Vector2d, 2> reach_px;
  /// Of each edge (1/px, see Saddle in blurred_saddle.h): lens distortion bends edges by a known
  /// amount, which the neighbouring corners tell better than the window does.
  std::array<double, 2> curvature_per_px{};
  double position_sigma_px = 1.0;  ///< how far off the position may be
  double blur_px = 1.5;            ///< expected blur, a standard deviation
  double log_blur_sigma = 1.0;     ///< how well that is known: ln of a factor
  double angle_sigma_rad = 0.2;    ///< how well the directions of reach_px are known
};

/// A refined crossing.
struct RefinedCorner {
  Eigen::Vector2d position_px;  ///< (0, 0) is the centre of the top left pixel
  Eigen::Matrix2d
      covariance_px2;     ///< from the residuals, with their correlation, and 0.004 px beyond
  double blur_px = 0.0;   ///< mean over both edges
  double contrast = 0.0;  ///< between bright and dark, grey values, positive
  double noise = 0.0;     ///< standard deviation, grey values, without what a grey curve leaves
  std::array<double, 2>
      angle_rad{};  ///< directions of the two edges, from the x axis towards the y axis
  std::array<double, 2> reach_px{};  ///< how far along each edge the window went
};

enum class RefineRefusal {
  kLeavesPhoto,  ///< the window would not lie wholly in the photo
  kLowContrast,  ///< the edges do not stand out from the noise
  kNoCross,      ///< something else is there, or nothing
  kWouldJump,    ///< the best crossing lies further off than the position can be
};

/// The sentence for a person; subject names photo and item, for example "mark A7 in hauler_03.jpg".
[[nodiscard]] std::string describe(RefineRefusal refusal, std::string_view subject);

/// Refines one crossing by fitting a blurred crossing of two edges to the grey values
/// (blurred_saddle.h).
///
/// Measured on boards integrated analytically (24 Mpx, noise 4, blur 1.3 px, JPEG 92, tilt 0 to
/// 65°): 0.009 px a coordinate, mean below 0.001 px, true over claimed standard deviation 0.9; on
/// ray-traced photos 0.006 px.
/// @param image CV_8UC1, CV_16UC1 or CV_32FC1.
[[nodiscard]] Result<RefinedCorner, RefineRefusal> refine_corner(const cv::Mat& image,
                                                                 const CornerShape& shape);

/// Refines a position near the middle of a quartered target (a disc with two opposite quadrants
/// black) or of any other crossing of two edges; finds directions, size and blur itself.
///
/// Suits targets of 16 px diameter and more, 25 to 60 px best.
/// @param position_px    within search_radius_px of the crossing.
/// @param search_radius_px  how far the result may lie from position_px; at most 30.
[[nodiscard]] Result<RefinedCorner, RefineRefusal> refine_cross(const cv::Mat& image,
                                                                const Eigen::Vector2d& position_px,
                                                                double search_radius_px = 6.0);

/// A corner of a grid after refinement; where it was refused, the position it came with and a wide
/// covariance.
struct GridCorner {
  Eigen::Vector2d position_px;
  Eigen::Matrix2d covariance_px2;
  double square_px =
      0.0;  ///< shortest distance between the edge lines through neighbouring corners
  double blur_px = 0.0;
  /// Grey values; positive where the square towards the next column and row is the brighter one.
  double contrast = 0.0;
  bool refined = false;
};

enum class GridEffort {
  kQuick,  ///< to some tenths of a pixel, edges taken as straight, covariance without meaning
  kFull,
};

struct GridOptions {
  double position_sigma_px = 1.0;  ///< how far off the positions may be
  double blur_px = 1.5;            ///< expected blur, within a factor of three
  GridEffort effort = GridEffort::kFull;
};

/// Refines a whole grid, row by row, each window shaped by the corner's neighbours; bent edges are
/// followed, blur and noise are pooled over the grid. Runs on all cores.
///
/// @param columns, rows  at least 3 each; positions_px has columns · rows entries.
[[nodiscard]] std::vector<GridCorner> refine_grid(const cv::Mat& image, int columns, int rows,
                                                  const std::vector<Eigen::Vector2d>& positions_px,
                                                  const GridOptions& options = {});

}  // namespace calib
