// Straight edges, circles and cylinders as unknowns: few numbers about a frame that does not move.
#pragma once

#include <Eigen/Core>

#include "calib/adjust/network.h"

namespace calib::adjust {

/// Where the numbers of a curve's block are counted from: orthonormal, right-handed.
struct CurveFrame {
  Eigen::Vector3d origin = Eigen::Vector3d::Zero();   ///< near the middle of what was marked
  Eigen::Vector3d first = Eigen::Vector3d::UnitX();   ///< across the axis, in the circle's plane
  Eigen::Vector3d second = Eigen::Vector3d::UnitY();  ///< likewise, at right angles to `first`
  Eigen::Vector3d axis = Eigen::Vector3d::UnitZ();    ///< along the edge; the circle's normal

  /// Any two directions across the axis.
  [[nodiscard]] static CurveFrame about(const Eigen::Vector3d& origin, const Eigen::Vector3d& axis);
};

enum class CurveKind {
  kEdge,      ///< 4: shifts along first and second, slopes towards first and second
  kCircle,    ///< 6: centre x y z, tilts of the normal towards first and second, radius
  kCylinder,  ///< 5: as the edge, of the axis, then the radius
};
[[nodiscard]] int curve_size(CurveKind kind);

/// The curve that block values stand for, in object units.
struct CurveGeometry {
  Eigen::Vector3d place;      ///< on the axis, beside the frame's origin; of a circle the centre
  Eigen::Vector3d direction;  ///< unit: along the axis; the circle's normal
  double radius = 0.0;        ///< 0 of an edge
  /// 7×size: place, direction and radius by the values.
  Eigen::Matrix<double, 7, Eigen::Dynamic> by_values;
};
[[nodiscard]] CurveGeometry curve_geometry(CurveKind kind, const CurveFrame& frame,
                                           const Eigen::VectorXd& values);

/// The values that stand for a curve: radius is used where the kind has one.
[[nodiscard]] Eigen::VectorXd curve_values(CurveKind kind, const CurveFrame& frame,
                                           const Eigen::Vector3d& place,
                                           const Eigen::Vector3d& direction, double radius);

/// A block that moves with the whole as the curve does.
[[nodiscard]] Block curve_block(std::string name, CurveKind kind, const CurveFrame& frame,
                                Eigen::VectorXd values);

}  // namespace calib::adjust
