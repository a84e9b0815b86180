// What shapes are made of: one struct for points, lines, planes, circles, spheres, cylinders and
// cones.
#pragma once

#include <string>

#include <Eigen/Core>

#include "measure/dossier/form_kind.h"

namespace measure {

/// A shape in space. Lengths in the unit of the points it comes from (mm, or survey units without a
/// bar), angles in radians.
struct Form {
  FormKind kind = FormKind::kPoint;
  /// The point; a place on the line or axis; a place on the plane; the centre; of a cone the apex.
  Eigen::Vector3d position = Eigen::Vector3d::Zero();
  /// Unit length: along the line or axis, at right angles to the plane or the circle's plane; of a
  /// cone from the apex into its opening.
  Eigen::Vector3d direction = Eigen::Vector3d::UnitZ();
  double radius = 0.0;      ///< of circle, sphere, cylinder
  double half_angle = 0.0;  ///< of a cone: from its axis to its side, rad
  /// What was marked of a line, cylinder or cone, along `direction` from `position`: for drawing,
  /// and for "in the middle of". Constants: no derivative is taken by them.
  double from = 0.0, to = 0.0;
};

/// The numbers of a form in this order: position 3, direction 3, radius, half angle.
inline constexpr int kFormSize = 8;
using FormVector = Eigen::Matrix<double, kFormSize, 1>;
using FormMatrix = Eigen::Matrix<double, kFormSize, kFormSize>;

[[nodiscard]] FormVector vector(const Form& form);
/// The form with other numbers; the direction is made unit length again.
[[nodiscard]] Form with_vector(Form form, const FormVector& numbers);
[[nodiscard]] Form point_form(const Eigen::Vector3d& position);

/// The middle of what was marked: position + ½ (from + to) direction.
[[nodiscard]] Eigen::Vector3d middle(const Form& form);

/// A point, or what counts by its centre or apex: circle, sphere, cone.
[[nodiscard]] bool is_place(FormKind kind);
/// A line, or what counts by its axis: cylinder, cone.
[[nodiscard]] bool has_axis(FormKind kind);
/// A plane or what lies in one: circle.
[[nodiscard]] bool is_flat(FormKind kind);

}  // namespace measure
