#include "measure/shapes/start_values.h"

#include <cmath>

#include <Eigen/Eigenvalues>
#include <Eigen/QR>

namespace measure::internal {

using Eigen::Index;
using Eigen::Vector2d;
using Eigen::Vector3d;

namespace {

Form start_circle(const Extents& extents, Points points) {
  const Vector3d u = extents.directions.col(2), v = extents.directions.col(1);
  std::vector<Vector2d> flat;
  for (const Vector3d& point : points) {
    const Vector3d arm = point - extents.middle;
    flat.emplace_back(u.dot(arm), v.dot(arm));
  }
  Form form{.kind = FormKind::kCircle,
            .position = extents.middle,
            .direction = extents.directions.col(0)};
  if (const auto circle = algebraic_circle(flat)) {
    form.position += circle->centre[0] * u + circle->centre[1] * v;
    form.radius = circle->radius;
  }
  return form;
}

/// |x|² = 2 c·x + (r² − |c|²), linear in c and the last term.
Form start_sphere(const Extents& extents, Points points) {
  Eigen::MatrixXd a(static_cast<Index>(points.size()), 4);
  Eigen::VectorXd b(a.rows());
  for (Index i = 0; i < a.rows(); ++i) {
    const Vector3d arm = points[static_cast<std::size_t>(i)] - extents.middle;
    a.row(i) << 2 * arm.transpose(), 1;
    b[i] = arm.squaredNorm();
  }
  const Eigen::Vector4d solution = a.colPivHouseholderQr().solve(b);
  Form form{.kind = FormKind::kSphere, .position = extents.middle + solution.head<3>()};
  form.radius = std::sqrt(solution[3] + solution.head<3>().squaredNorm());
  return form;
}

}  // namespace

Extents::Extents(Points points) : middle(centroid(points)) {
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (const Vector3d& point : points) scatter += (point - middle) * (point - middle).transpose();
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(scatter);
  squares = eigen.eigenvalues().cwiseMax(0.0);
  directions = eigen.eigenvectors();
}

std::optional<FlatCircle> algebraic_circle(const std::vector<Vector2d>& points) {
  const auto n = static_cast<double>(points.size());
  Vector2d middle = Vector2d::Zero();
  for (const Vector2d& point : points) middle += point / n;
  // About the centroid the equations of the centre stand apart from that of the radius.
  Eigen::Matrix2d squares = Eigen::Matrix2d::Zero();
  Vector2d cubes = Vector2d::Zero();
  double extent2 = 0;
  for (const Vector2d& point : points) {
    const Vector2d arm = point - middle;
    squares += arm * arm.transpose();
    cubes += 0.5 * arm.squaredNorm() * arm;
    extent2 += arm.squaredNorm();
  }
  if (!(squares.determinant() > 1e-14 * extent2 * extent2)) return std::nullopt;
  const Vector2d centre = squares.inverse() * cubes;
  return FlatCircle{middle + centre, std::sqrt(extent2 / n + centre.squaredNorm())};
}

std::vector<Form> start_forms(FormKind kind, Points points) {
  const Extents extents(points);
  Form form{.kind = kind, .position = extents.middle};
  switch (kind) {
    case FormKind::kPoint:
      return {form};
    case FormKind::kLine:
      form.direction = extents.directions.col(2);
      return {form};
    case FormKind::kPlane:
      form.direction = extents.directions.col(0);
      return {form};
    case FormKind::kCircle:
      return {start_circle(extents, points)};
    case FormKind::kSphere:
      return {start_sphere(extents, points)};
    case FormKind::kCylinder:
      return start_cylinders(points);
    case FormKind::kCone:
      return start_cones(points);
  }
  return {};
}

}  // namespace measure::internal
