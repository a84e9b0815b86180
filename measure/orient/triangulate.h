// A point from its marks in oriented photos.
#pragma once

#include <span>
#include <string>

#include <Eigen/Core>

#include "calib/base/result.h"

namespace measure {

/// A mark together with the orientation of the photo it was set in.
struct OrientedMark {
  Eigen::Matrix<double, 3, 4> image_from_object;  ///< homogeneous: object units to image px
  Eigen::Vector2d position_px;  ///< distortion removed; (0, 0) is the centre of the top left pixel
};

struct TriangulationOptions {
  double min_intersection_angle_rad =
      0.035;  ///< some 2°: below it depth is ten times worse than width
};

enum class TriangulationError { kTooFewPhotos, kRaysNearlyParallel, kBehindCamera };

/// A point from its marks in n ≥ 2 oriented photos (spatial intersection).
///
/// Every photo adds two rows to A (2n×4); the homogeneous point is the right singular vector of A
/// with the smallest singular value. This minimises an algebraic error, so the result starts the
/// bundle adjustment and is not itself a measurement.
///
/// @return the point, 3×1, in the unit and frame of the poses.
/// Errors: kTooFewPhotos        n < 2.
///         kRaysNearlyParallel  no two rays meet at min_intersection_angle or more.
///         kBehindCamera        the point lies behind one of the cameras.
/// Source: Hartley & Zisserman, Multiple View Geometry, 2nd ed. (2004), §12.2, p. 312.
[[nodiscard]] calib::Result<Eigen::Vector3d, TriangulationError> triangulate(
    std::span<const OrientedMark> marks, const TriangulationOptions& options = {});

/// A sentence that names the point and the remedy.
[[nodiscard]] std::string describe(TriangulationError error, const std::string& point_name);

}  // namespace measure
