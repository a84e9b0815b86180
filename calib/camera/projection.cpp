#include "calib/camera/projection.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include <Eigen/Eigenvalues>
#include <Eigen/Geometry>

namespace calib {
namespace {

Eigen::Matrix3d cross_matrix(const Eigen::Vector3d& v) {
  Eigen::Matrix3d m;
  m << 0, -v.z(), v.y(), v.z(), 0, -v.x(), -v.y(), v.x(), 0;
  return m;
}

double radial_factor(const Intrinsics& c, double r2) {
  return 1 + r2 * (c.k1 + r2 * (c.k2 + r2 * c.k3));
}

}  // namespace

Eigen::Matrix3d rotation_from_vector(const Eigen::Vector3d& rotation) {
  const double angle = rotation.norm();
  const Eigen::Matrix3d k = cross_matrix(rotation);
  if (angle < 1e-4) {  // series: the closed form divides by angle²
    return Eigen::Matrix3d::Identity() + (1 - angle * angle / 6) * k +
           (0.5 - angle * angle / 24) * k * k;
  }
  return Eigen::Matrix3d::Identity() + std::sin(angle) / angle * k +
         (1 - std::cos(angle)) / (angle * angle) * k * k;
}

Eigen::Vector3d vector_from_rotation(const Eigen::Matrix3d& rotation) {
  // By way of the quaternion: well conditioned at 0 and at π alike.
  Eigen::Quaterniond q(rotation);
  q.normalize();
  if (q.w() < 0) q.coeffs() = -q.coeffs();
  const double sine = q.vec().norm();
  if (sine < 1e-12) return 2.0 * q.vec();
  return 2.0 * std::atan2(sine, q.w()) / sine * q.vec();
}

Eigen::Matrix3d left_jacobian(const Eigen::Vector3d& rotation) {
  const double angle2 = rotation.squaredNorm();
  const Eigen::Matrix3d k = cross_matrix(rotation);
  if (angle2 < 1e-6) {
    return Eigen::Matrix3d::Identity() + (0.5 - angle2 / 24) * k + (1.0 / 6 - angle2 / 120) * k * k;
  }
  const double angle = std::sqrt(angle2);
  return Eigen::Matrix3d::Identity() + (1 - std::cos(angle)) / angle2 * k +
         (angle - std::sin(angle)) / (angle2 * angle) * k * k;
}

Eigen::Matrix3d Pose::rotation_matrix() const { return rotation_from_vector(rotation); }

Eigen::Vector3d Pose::centre() const { return -(rotation_matrix().transpose() * translation); }

Eigen::Matrix<double, 6, 1> Pose::vector() const {
  Eigen::Matrix<double, 6, 1> values;
  values << rotation, translation;
  return values;
}

Pose Pose::from_vector(const Eigen::Matrix<double, 6, 1>& values) {
  return {values.head<3>(), values.tail<3>()};
}

Pose Pose::from_matrix(const Eigen::Matrix3d& rotation, const Eigen::Vector3d& translation) {
  return {vector_from_rotation(rotation), translation};
}

Eigen::Vector2d distort(const Intrinsics& c, const Eigen::Vector2d& ideal,
                        Eigen::Matrix2d* jacobian, Eigen::Matrix<double, 2, 5>* by_distortion) {
  const double x = ideal.x(), y = ideal.y();
  const double x2 = x * x, y2 = y * y, xy = x * y, r2 = x2 + y2;
  const double radial = radial_factor(c, r2);
  if (jacobian) {
    const double slope = c.k1 + r2 * (2 * c.k2 + r2 * 3 * c.k3);  // ∂radial/∂r²
    const double cross = 2 * xy * slope + 2 * c.p1 * x + 2 * c.p2 * y;
    (*jacobian)(0, 0) = radial + 2 * x2 * slope + 2 * c.p1 * y + 6 * c.p2 * x;
    (*jacobian)(0, 1) = cross;
    (*jacobian)(1, 0) = cross;
    (*jacobian)(1, 1) = radial + 2 * y2 * slope + 6 * c.p1 * y + 2 * c.p2 * x;
  }
  if (by_distortion) {
    const double r4 = r2 * r2, r6 = r4 * r2;
    *by_distortion << x * r2, x * r4, 2 * xy, r2 + 2 * x2, x * r6,  //
        y * r2, y * r4, r2 + 2 * y2, 2 * xy, y * r6;
  }
  return {x * radial + 2 * c.p1 * xy + c.p2 * (r2 + 2 * x2),
          y * radial + c.p1 * (r2 + 2 * y2) + 2 * c.p2 * xy};
}

Eigen::Vector2d project(const Intrinsics& c, const Eigen::Vector3d& p,
                        ProjectionDerivatives* derivatives) {
  const double inverse_z = 1.0 / p.z();
  const Eigen::Vector2d ideal(p.x() * inverse_z, p.y() * inverse_z);
  if (!derivatives) {
    const Eigen::Vector2d d = distort(c, ideal);
    return {c.fx * d.x() + c.cx, c.fy * d.y() + c.cy};
  }
  Eigen::Matrix2d by_ideal;
  Eigen::Matrix<double, 2, 5> by_distortion;
  const Eigen::Vector2d d = distort(c, ideal, &by_ideal, &by_distortion);
  by_ideal.row(0) *= c.fx;
  by_ideal.row(1) *= c.fy;
  derivatives->by_point.leftCols<2>() = by_ideal * inverse_z;
  derivatives->by_point.col(2) = -(by_ideal * ideal) * inverse_z;
  auto& k = derivatives->by_intrinsics;
  k.leftCols<4>() << d.x(), 0, 1, 0, 0, d.y(), 0, 1;
  k.row(0).tail<5>() = c.fx * by_distortion.row(0);
  k.row(1).tail<5>() = c.fy * by_distortion.row(1);
  return {c.fx * d.x() + c.cx, c.fy * d.y() + c.cy};
}

double largest_valid_radius(const Intrinsics& c) {
  // d/dr of r(1 + k1 r² + k2 r⁴ + k3 r⁶) is 1 + 3 k1 s + 5 k2 s² + 7 k3 s³ with s = r²: its
  // smallest positive root ends the growth. Roots as eigenvalues of the companion matrix of the
  // reversed polynomial in 1/s, which stays well posed when the highest coefficients vanish.
  Eigen::Matrix3d companion;
  companion << -3 * c.k1, -5 * c.k2, -7 * c.k3, 1, 0, 0, 0, 1, 0;
  const Eigen::Vector3cd inverse_roots = companion.eigenvalues();
  double smallest = std::numeric_limits<double>::infinity();
  for (const auto& u : inverse_roots) {
    if (u.real() > 1e-12 && std::abs(u.imag()) <= 1e-9 * std::abs(u))
      smallest = std::min(smallest, 1 / u.real());
  }
  return std::sqrt(smallest);
}

Result<Eigen::Vector2d, UndistortError> unproject(const Intrinsics& c,
                                                  const Eigen::Vector2d& position_px) {
  const Eigen::Vector2d target((position_px.x() - c.cx) / c.fx, (position_px.y() - c.cy) / c.fy);
  const double limit = largest_valid_radius(c);
  const double target_radius = target.norm();
  const double tangential = std::abs(c.p1) + std::abs(c.p2);
  if (std::isfinite(limit)) {
    const double reach = limit * radial_factor(c, limit * limit) + 3 * tangential * limit * limit;
    if (target_radius > reach) return Unexpected(UndistortError::kBeyondModel);
  }
  // Radial start by bisection: Newton from the distorted position overshoots for strong barrels.
  double low = 0, high = std::isfinite(limit) ? limit : 1.0;
  if (!std::isfinite(limit)) {
    while (high * radial_factor(c, high * high) < target_radius && high < 1e6) high *= 2;
  }
  for (int i = 0; i < 30; ++i) {
    const double middle = (low + high) / 2;
    (middle * radial_factor(c, middle * middle) < target_radius ? low : high) = middle;
  }
  Eigen::Vector2d ideal =
      target_radius > 0 ? Eigen::Vector2d(target * (low / target_radius)) : target;
  const double scale_px = std::max(c.fx, c.fy);
  for (int i = 0; i < 30; ++i) {
    Eigen::Matrix2d jacobian;
    const Eigen::Vector2d miss = distort(c, ideal, &jacobian) - target;
    if (!(std::abs(jacobian.determinant()) > 1e-12))
      return Unexpected(UndistortError::kBeyondModel);
    ideal -= jacobian.inverse() * miss;
    if (!ideal.allFinite()) return Unexpected(UndistortError::kNotConverged);
    if (miss.norm() * scale_px < 1e-10) {
      if (ideal.norm() > limit * (1 + 1e-9)) return Unexpected(UndistortError::kBeyondModel);
      return ideal;
    }
  }
  if ((distort(c, ideal) - target).norm() * scale_px < 1e-9) return ideal;
  return Unexpected(UndistortError::kNotConverged);
}

Result<Eigen::Vector2d, UndistortError> undistort(const Intrinsics& c,
                                                  const Eigen::Vector2d& position_px) {
  const auto ideal = unproject(c, position_px);
  if (!ideal) return Unexpected(ideal.error());
  return Eigen::Vector2d(c.fx * ideal->x() + c.cx, c.fy * ideal->y() + c.cy);
}

}  // namespace calib
