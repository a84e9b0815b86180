// First values of edges, circles and cylinders from their marks in photos that stand already. For
// the .cpp files of this room only.
#pragma once

#include <map>
#include <optional>
#include <span>
#include <string>
#include <utility>

#include "calib/adjust/curve_observations.h"
#include "calib/base/result.h"
#include "calib/camera/projection.h"

namespace measure::internal {

struct CurveMark {
  int photo = -1;
  Eigen::Vector2d position_px = Eigen::Vector2d::Zero();
  double sigma_px = 0.5;
  int side = 0;  ///< as the user calls it: 1 or 2, of a cylinder
};

struct CurvePhoto {
  calib::Pose pose;
  calib::Intrinsics camera;
};

/// A curve that fits its marks, the photos held still.
///
/// An edge or axis runs to the right in the first photo that shows two places of it (downwards
/// where it is upright there); a circle's normal points to the camera of the first photo. So its
/// direction does not depend on how it was found.
struct CurveStart {
  calib::adjust::CurveFrame frame;  ///< about the middle of what was marked
  Eigen::VectorXd values;
  double from = 0.0, to = 0.0;  ///< what was marked of it, along the axis from the frame's origin
  std::map<std::pair<int, int>, int> sides;  ///< photo and the user's side → +1 or −1
};

/// A place and direction from which to begin, where an earlier solution knows them.
struct KnownCurve {
  Eigen::Vector3d place, direction;
  double radius = 0.0;
};

/// What it lacks otherwise, to follow "edge "X" ": few marks, photos that see it from one side,
/// marks at one place.
///
/// Edges: each photo with two places or more gives the plane of its rays; the edge is where these
/// planes meet. Cylinders: the planes of both sides' rays touch it. Circles: of many directions of
/// the normal, the one in whose plane the rays meet it best. Then the distances in the photos are
/// made smallest, without heed to single marks that are far off.
[[nodiscard]] calib::Result<CurveStart, std::string> start_curve(
    calib::adjust::CurveKind kind, std::span<const CurveMark> marks,
    std::span<const CurvePhoto> photos, const std::optional<KnownCurve>& known = std::nullopt);

}  // namespace measure::internal
