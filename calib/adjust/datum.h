// What the observations leave free of position, rotation and scale of the whole, and how it is
// held.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include "calib/adjust/network.h"

namespace calib::adjust {

/// The motions of the whole that no active observation feels, found numerically from J·G.
struct Datum {
  /// 0 to 7.
  int defect = 0;
  /// Columns span the free motions in the basis (3 shifts, 3 turns, 1 scale), 7 × defect.
  Eigen::MatrixXd free_motions;
  /// Coordinates held to make a minimal datum: (block, coordinate), `defect` of them.
  std::vector<std::pair<BlockId, int>> held;
  bool scale_is_free = false;
  /// "position (3), rotation (3) and scale", or "nothing".
  std::string description;
  /// About which turns and scale are taken, object units.
  Eigen::Vector3d centre = Eigen::Vector3d::Zero();
  double radius = 1.0;  ///< makes turns and scale as large as shifts
};

/// Change of a block's values under the seven motions of the whole: (values) × 7. Zero for kNone.
/// Columns: shift x y z, turn about x y z through `centre` (divided by `radius`), scale (likewise).
[[nodiscard]] Eigen::MatrixXd datum_motions(const Block& block, const Eigen::Vector3d& centre,
                                            double radius);

/// Finds the datum defect and picks the coordinates of kept blocks to hold, best conditioned first.
[[nodiscard]] Datum find_datum(const Network& network);

}  // namespace calib::adjust
