// Where the fit of a form begins. For this room's .cpp files.
#pragma once

#include <optional>
#include <vector>

#include <Eigen/Core>

#include "measure/shapes/form_model.h"

namespace measure::internal {

/// Extents of the points about their centroid: Σ (v·r)² along each of three directions.
struct Extents {
  explicit Extents(Points points);
  Eigen::Vector3d middle;
  Eigen::Vector3d squares;     ///< ascending
  Eigen::Matrix3d directions;  ///< columns, as `squares`
};

/// A circle in a plane, (x − a)² + (y − b)² = r², by linear least squares in a, b, r² − a² − b².
struct FlatCircle {
  Eigen::Vector2d centre;
  double radius;
};
/// Nothing where the points lie in one line.
[[nodiscard]] std::optional<FlatCircle> algebraic_circle(
    const std::vector<Eigen::Vector2d>& points);

/// Forms to refine, the most promising first; the cylinders and cones among them can lead to
/// different solutions. Empty where the points do not span the form.
[[nodiscard]] std::vector<Form> start_forms(FormKind kind, Points points);
[[nodiscard]] std::vector<Form> start_cylinders(Points points);
[[nodiscard]] std::vector<Form> start_cones(Points points);

}  // namespace measure::internal
