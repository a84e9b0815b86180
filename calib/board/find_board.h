// The inner corners of a checkerboard in one photo.
#pragma once

#include <functional>
#include <vector>

#include <Eigen/Core>
#include <opencv2/core/mat.hpp>

#include "calib/base/result.h"
#include "calib/board/checkerboard.h"
#include "calib/board/photo_refusal.h"
#include "calib/camera/intrinsics.h"

namespace calib {

struct BoardCorner {
  Eigen::Vector2d position_px;  ///< sensor orientation, (0, 0) is the centre of the top left pixel
  Eigen::Matrix2d
      covariance_px2;      ///< from the fit's residuals; wide where the corner could not be refined
  double square_px = 0.0;  ///< the narrower extent of the squares about it
  double blur_px = 0.0;    ///< standard deviation
  bool refined = false;

  /// Standard uncertainty of a coordinate, root mean square over x and y.
  [[nodiscard]] double sigma_px() const;
};

/// The board in one photo; corner i is the point corner_positions_mm(board)[i].
///
/// The order is the board's own: columns to the right and rows downwards as seen from the front,
/// the square outside corner 0 black. Where colours do not tell the board from itself turned (see
/// BoardSpec::tells_up_from_down), the corner nearest to the photo's top left is taken as the
/// first.
struct FoundBoard {
  BoardSpec board;
  ImageSize size;
  std::vector<BoardCorner> corners;  ///< row by row
  double blur_px = 0.0;              ///< median over the corners
};

/// Asked between steps of at most some tenths of a second; true means stop.
using Cancelled = std::function<bool()>;

/// Finds the board on reduced copies (a grid of crossings at 800 px, the sector-based detector at
/// 800 and 1600 px, further attempts where part of a grid is in sight), refines its corners at full
/// size (refine_corner.h).
///
/// Bounded: on 24 Mpx under 0.3 s on two cores for a board that is plainly there and for none; up
/// to about a second for one that is only partly in sight.
/// @param grey  CV_8UC1 or CV_16UC1, sensor orientation.
/// Errors: kNotFound, kCutOff, kTooBlurred, kCancelled.
[[nodiscard]] Result<FoundBoard, PhotoRefusal> find_board(const cv::Mat& grey,
                                                          const BoardSpec& board,
                                                          const Cancelled& cancelled = {});

}  // namespace calib
