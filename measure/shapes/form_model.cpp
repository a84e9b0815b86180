#include "measure/shapes/form_model.h"

#include <cassert>
#include <cmath>

#include <Eigen/Geometry>

namespace measure::internal {

using Eigen::Vector3d;

const FormModel& model_of(FormKind kind) {
  switch (kind) {
    case FormKind::kPoint:
      break;
    case FormKind::kLine:
      return line_model();
    case FormKind::kPlane:
      return plane_model();
    case FormKind::kCircle:
      return circle_model();
    case FormKind::kSphere:
      return sphere_model();
    case FormKind::kCylinder:
      return cylinder_model();
    case FormKind::kCone:
      return cone_model();
  }
  assert(false && "a point is not fitted");
  return line_model();
}

Across::Across(const Vector3d& direction) : first(direction.unitOrthogonal()) {
  second = direction.cross(first);
}

Vector3d centroid(Points points) {
  Vector3d sum = Vector3d::Zero();
  for (const Vector3d& point : points) sum += point;
  return sum / static_cast<double>(points.size());
}

AboutAxis::AboutAxis(const Vector3d& point, const Vector3d& place, const Vector3d& axis)
    : arm(point - place), along(axis.dot(arm)) {
  const Vector3d across = arm - along * axis;
  off = across.norm();
  outward = off > 0 ? Vector3d(across / off) : axis.unitOrthogonal();
}

Conditions empty_conditions(std::size_t rows, int parameters, Points points, int points_each) {
  const auto m = static_cast<Eigen::Index>(rows);
  Conditions conditions;
  conditions.misclosure = Eigen::VectorXd::Zero(m);
  conditions.by_parameters = Eigen::MatrixXd::Zero(m, parameters);
  conditions.by_points.resize(m, 3 * static_cast<Eigen::Index>(points.size()));
  conditions.by_points.reserve(Eigen::VectorXi::Constant(m, 3 * points_each));
  return conditions;
}

void set_by_point(Conditions& conditions, Eigen::Index row, std::size_t point,
                  const Eigen::RowVector3d& derivative) {
  for (int k = 0; k < 3; ++k) {
    conditions.by_points.insert(row, 3 * static_cast<Eigen::Index>(point) + k) = derivative[k];
  }
}

}  // namespace measure::internal
