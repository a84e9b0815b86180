// Marks anywhere along an edge, a rim or the outline of a cylinder: only how far they lie beside
// the curve's picture is an observation.
#pragma once

#include <limits>
#include <memory>
#include <optional>

#include <Eigen/Core>
#include <ceres/cost_function.h>

#include "calib/adjust/curve_blocks.h"
#include "calib/camera/projection.h"

namespace calib::adjust {

/// A curve, and for a cylinder which of its two sides: +1 or −1, as curve_foot() says; 0 for edges
/// and circles.
struct Curve {
  CurveKind kind = CurveKind::kEdge;
  CurveFrame frame;
  int side = 0;
};

/// The place of the curve's picture that is nearest to a mark.
struct CurveFoot {
  Eigen::Vector2d position_px;  ///< with the lens's distortion, as in the photo
  Eigen::Vector2d normal;       ///< unit: across the picture of the curve
  Eigen::Vector3d place;        ///< on the curve, object units
  /// From the geometry's place along the direction; of a circle the angle, rad.
  double along = 0.0;
  /// How sharply the picture of a circle turns there (radius of its curvature), and how far off its
  /// other side is across; px, of the ellipse that it nearly is. Infinite for edges and cylinders.
  double bend_px = std::numeric_limits<double>::infinity();
  double width_px = std::numeric_limits<double>::infinity();
};

/// Whether the distance of a mark to the nearest place of a circle's picture can be believed: where
/// the rim is seen nearly edge on, its picture turns within the mark's own uncertainty, or shows
/// its other side within it, and the nearest place is no longer the one that was marked. The
/// distance is then too short by about σ²/(2 bend): a tenth of σ is let pass.
[[nodiscard]] bool is_told_apart(const CurveFoot& foot, double sigma_px);

/// Nothing where the curve lies behind the camera, or the camera inside the cylinder.
///
/// A cylinder shows two of its lines: those along which a plane through the camera's centre touches
/// it. With u the unit vector from the axis to the centre (at right angles to the axis, distance h)
/// and d the axis, the normals at these lines are (r/h) u ± √(1 − r²/h²) (d × u): side +1 and −1.
[[nodiscard]] std::optional<CurveFoot> curve_foot(const Curve& curve, const Pose& pose,
                                                  const Intrinsics& camera,
                                                  const Eigen::VectorXd& values,
                                                  const Eigen::Vector2d& mark_px);

/// Pose (6), camera (9), curve block (4, 6 or 5) → 1 residual: normal · (foot − mark) / σ.
///
/// The derivative is that of the foot held still on the curve: along the curve's picture the
/// distance has its minimum, so that where the foot moves to does not count. The same holds for
/// the line along which a cylinder's outline is seen.
[[nodiscard]] std::unique_ptr<ceres::CostFunction> curve_observation(
    const Curve& curve, const Eigen::Vector2d& position_px, double sigma_px);

}  // namespace calib::adjust
