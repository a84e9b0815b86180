// Inside the room: one straight edge or narrow line, found and fitted along its length.
#pragma once

#include <optional>
#include <vector>

#include <Eigen/Core>

#include "measure/refine/grey_patch.h"
#include "measure/refine/refined_mark.h"

namespace measure {

/// A straight line near an origin: offset = left · (x − origin), left = (−sin, cos) of the
/// direction.
struct StraightLine {
  Eigen::Vector2d origin_px;
  double direction_rad = 0.0;  ///< 0 to π, from the x axis towards the y axis
  double offset_px = 0.0;
  double votes = 0.0;

  [[nodiscard]] Eigen::Vector2d along() const;
  [[nodiscard]] Eigen::Vector2d left() const;
};

/// Straight lines within half_px of the origin that pass within reach_px of it, most votes first.
/// Each pixel votes with the size of the grey value's slope for lines across that slope.
[[nodiscard]] std::vector<StraightLine> lines_about(const GreyPatch& patch,
                                                    const Eigen::Vector2d& origin_px,
                                                    double half_px, double reach_px);

/// Which pixels a line may use.
struct EdgeStretch {
  double half_px = 28.0;  ///< from −half to +half about the crossing
  Eigen::Vector2d crossing_px;
  double left_out_px = 6.0;  ///< about the crossing
};

/// A fitted line: its offset (px) and direction (rad) with their covariance.
struct FittedEdge {
  StraightLine line;
  Eigen::Matrix2d covariance;  ///< of offset and direction
  bool is_step = true;         ///< an edge; else a narrow line
  double contrast = 0.0;       ///< of the step, or of the line against its sides; grey values
  double misfit = 0.0;         ///< grey values
  double blur_px = 0.0;
  double from_px = 0.0, to_px = 0.0;  ///< the stretch that was used, along the line
  double used_px = 0.0;               ///< its length without what was left out
};

/// Fits a step and a narrow line, whichever leaves less.
///
/// Errors: kLeavesPhoto, kLowContrast, kSaturated, kOtherShape, kTooSmall (too short a stretch).
[[nodiscard]] calib::Result<FittedEdge, MarkRefusal> fit_edge(const GreyPatch& patch,
                                                              const StraightLine& start,
                                                              const EdgeStretch& stretch,
                                                              const RefineOptions& options);

}  // namespace measure
