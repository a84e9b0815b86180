// From space onto the plane of a drawing, at the size to be built.
#pragma once

#include <string>

#include <Eigen/Core>
#include <Eigen/Geometry>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/sheet/outline.h"
#include "measure/sheet/shape_list.h"

namespace measure {

/// The plane that things are seen on, straight from the front (parallel projection), and how many
/// millimetres are drawn for one on the original.
struct DrawingPlane {
  Eigen::Vector3d origin_mm = Eigen::Vector3d::Zero();
  Eigen::Vector3d x_axis = Eigen::Vector3d::UnitX();  ///< to the right on paper; length 1
  Eigen::Vector3d y_axis = Eigen::Vector3d::UnitY();  ///< upwards on paper; length 1, at 90° to x
  double factor = 1.0;  ///< original to paper: 48.0 / 72.0 for 1:48 drawn as 1:72
  /// Relative standard uncertainty of the factor: of both ratios together. It moves all that is
  /// drawn towards the origin or away from it, in common.
  double factor_relative_u = 0.0;
  /// Towards the viewer.
  [[nodiscard]] Eigen::Vector3d normal() const { return x_axis.cross(y_axis); }
};

/// A plane through `origin_mm`, seen against the direction `towards_viewer`, with the part of `up`
/// that lies in it pointing upwards.
///
/// Errors: a Problem (kInput) where a direction has no length, both are parallel, or the factor is
/// not above 0.
[[nodiscard]] calib::Result<DrawingPlane, calib::Problem> drawing_plane(
    const Eigen::Vector3d& origin_mm, const Eigen::Vector3d& towards_viewer,
    const Eigen::Vector3d& up, double factor);

[[nodiscard]] Eigen::Vector2d project(const DrawingPlane& plane, const Eigen::Vector3d& place_mm);
/// First order, and exact: the projection is linear. Without what the factor's uncertainty adds,
/// which depends on the place; the projections of named things below have it.
[[nodiscard]] Eigen::Matrix2d project_covariance(const DrawingPlane& plane,
                                                 const Eigen::Matrix3d& covariance_mm2);

[[nodiscard]] DrawnPoint project(const DrawingPlane& plane, const NamedPoint& point);
[[nodiscard]] DrawnSegment project(const DrawingPlane& plane, const NamedEdge& edge);
/// The circle as seen: its diameter across the tilt keeps its length.
[[nodiscard]] TemplateEllipse project(const DrawingPlane& plane, const NamedCircle& circle);

/// Adds a circle with its centre lines: an ellipse, or a straight edge where it is seen from its
/// edge.
void add_circle(TemplateDrawing& drawing, const DrawingPlane& plane, const NamedCircle& circle);
/// Adds what is seen of a cylinder: both ends, both outlines, the centre line. Seen along its axis:
/// a circle.
void add_cylinder(TemplateDrawing& drawing, const DrawingPlane& plane,
                  const NamedCylinder& cylinder);
/// Adds all of a list: points, edges, circles, cylinders.
void add_shapes(TemplateDrawing& drawing, const DrawingPlane& plane, const ShapeList& shapes);

}  // namespace measure
