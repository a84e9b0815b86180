// What a calibration is computed from: where the points of a flat pattern lie in each photo.
#pragma once

#include <string>
#include <vector>

#include <Eigen/Core>

namespace calib {

/// A point of the board as found in one photo.
struct Corner {
  int point = 0;  ///< index into the board's points
  /// Sensor orientation, (0, 0) is the centre of the top left pixel.
  Eigen::Vector2d position_px = Eigen::Vector2d::Zero();
  /// A priori; only the ratios between corners matter where the residuals tell s0.
  Eigen::Matrix2d covariance_px2 = 0.01 * Eigen::Matrix2d::Identity();
};

/// One photo's corners, in any order; not every point of the board need be there.
struct CornerSet {
  std::string file;  ///< name for sentences
  std::vector<Corner> corners;
};

}  // namespace calib
