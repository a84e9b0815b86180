#include "measure/refine/circle_view.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <Eigen/Dense>

#include "calib/camera/projection.h"

namespace measure {
namespace {

// The ellipse as a conic in ideal normalised coordinates: through points of it, undistorted one by
// one.
std::optional<Eigen::Matrix3d> cone_of(const calib::Intrinsics& camera, const Ellipse& ellipse) {
  constexpr int kPoints = 24;
  const auto axes = ellipse.half_axes_px();
  const auto middle = calib::unproject(camera, ellipse.centre_px);
  if (!middle) {
    return std::nullopt;
  }
  const double size = axes[0].norm() / camera.fx;
  Eigen::Matrix<double, kPoints, 5> design;
  for (int i = 0; i < kPoints; ++i) {
    const double t = 2.0 * std::numbers::pi * i / kPoints;
    const auto ideal =
        calib::unproject(camera, ellipse.centre_px + std::cos(t) * axes[0] + std::sin(t) * axes[1]);
    if (!ideal) {
      return std::nullopt;
    }
    const Eigen::Vector2d q = (*ideal - *middle) / size;
    design.row(i) << q.x() * q.x(), 2.0 * q.x() * q.y(), q.y() * q.y(), 2.0 * q.x(), 2.0 * q.y();
  }
  const Eigen::Matrix<double, 5, 1> c =
      design.colPivHouseholderQr().solve(Eigen::Matrix<double, kPoints, 1>::Ones());
  Eigen::Matrix3d local;
  local << c[0], c[1], c[3], c[1], c[2], c[4], c[3], c[4], -1.0;
  Eigen::Matrix3d local_from_ideal;
  local_from_ideal << 1.0 / size, 0.0, -middle->x() / size, 0.0, 1.0 / size, -middle->y() / size,
      0.0, 0.0, 1.0;
  return Eigen::Matrix3d(local_from_ideal.transpose() * local * local_from_ideal);
}

std::optional<Eigen::Vector2d> pole_px(const calib::Intrinsics& camera, const Eigen::Matrix3d& cone,
                                       const Eigen::Vector3d& normal) {
  const Eigen::Vector3d pole = cone.partialPivLu().solve(normal);
  if (!pole.allFinite() || std::abs(pole.z()) < 1e-12 * pole.norm()) {
    return std::nullopt;
  }
  return calib::project(camera, Eigen::Vector3d(pole / pole.z()));
}

}  // namespace

std::array<Eigen::Vector2d, 2> Ellipse::half_axes_px() const {
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> eigen(shape_per_px2);
  const auto axis = [&](int i) -> Eigen::Vector2d {
    return eigen.eigenvectors().col(i) / std::sqrt(std::max(eigen.eigenvalues()[i], 1e-12));
  };
  return {axis(0), axis(1)};  // the smaller eigenvalue belongs to the longer axis
}

std::optional<CircleViews> circle_views(const calib::Intrinsics& camera, const Ellipse& ellipse) {
  const auto cone = cone_of(camera, ellipse);
  if (!cone) {
    return std::nullopt;
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(*cone);
  const Eigen::Vector3d value = eigen.eigenvalues();  // rising: λ3, λ2, λ1
  if (!(value[0] < 0.0 && value[1] > 0.0)) {
    return std::nullopt;
  }
  const double across = std::sqrt(std::max(value[2] - value[1], 0.0));
  const double along = std::sqrt(value[1] - value[0]);
  CircleViews views;
  for (const std::size_t i : {0U, 1U}) {
    Eigen::Vector3d normal = (i == 0 ? across : -across) * eigen.eigenvectors().col(2) +
                             along * eigen.eigenvectors().col(0);
    normal.normalize();
    views.normal[i] = normal.z() > 0.0 ? Eigen::Vector3d(-normal) : normal;
    const auto centre = pole_px(camera, *cone, normal);
    if (!centre) {
      return std::nullopt;
    }
    views.centre_px[i] = *centre;
  }
  return views;
}

std::optional<Eigen::Vector2d> circle_centre_px(const calib::Intrinsics& camera,
                                                const Ellipse& ellipse,
                                                const Eigen::Vector3d& normal) {
  const auto cone = cone_of(camera, ellipse);
  return cone ? pole_px(camera, *cone, normal.normalized()) : std::nullopt;
}

}  // namespace measure
