#include "calib/adjust/curve_observations.h"

#include <cmath>
#include <limits>
#include <numbers>

#include <Eigen/Geometry>

namespace calib::adjust {
namespace {

using Eigen::Matrix3d;
using Eigen::Vector2d;
using Eigen::Vector3d;
using RowMajor = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

constexpr int kMostSteps = 30;
constexpr double kSettled_px = 1e-10;
/// Starts around a circle: close enough that the nearest one leads to the nearest place.
constexpr int kStarts = 24;

/// A place on the curve as a function of one number, in the object frame.
class Path {
 public:
  /// The straight line along which an edge or a cylinder's side runs.
  static Path line(const Vector3d& place, const Vector3d& direction) {
    return {place, direction, Vector3d::Zero(), false};
  }
  static Path circle(const Vector3d& centre, const Vector3d& first, const Vector3d& second) {
    return {centre, first, second, true};
  }
  [[nodiscard]] Vector3d at(double s) const {
    return round_ ? Vector3d(place_ + std::cos(s) * first_ + std::sin(s) * second_)
                  : Vector3d(place_ + s * first_);
  }
  [[nodiscard]] Vector3d velocity(double s) const {
    return round_ ? Vector3d(-std::sin(s) * first_ + std::cos(s) * second_) : first_;
  }
  [[nodiscard]] Vector3d acceleration(double s) const {
    return round_ ? Vector3d(place_ - at(s)) : Vector3d(Vector3d::Zero());
  }

 private:
  Path(const Vector3d& place, const Vector3d& first, const Vector3d& second, bool round)
      : place_(place), first_(first), second_(second), round_(round) {}
  Vector3d place_, first_, second_;
  bool round_;
};

/// Where on the straight line the ray of the mark passes nearest, by its ideal picture.
std::optional<double> start_on_line(const Vector3d& place_c, const Vector3d& direction_c,
                                    const Intrinsics& camera, const Vector2d& mark_px) {
  const auto ideal = unproject(camera, mark_px);
  if (!ideal) return std::nullopt;
  const Vector3d moment = place_c.cross(direction_c);
  const double across = moment.head<2>().squaredNorm();
  if (!(across > 0)) return std::nullopt;  // the line goes through the camera's centre
  const Vector2d foot =
      *ideal - moment.head<2>() * (moment.head<2>().dot(*ideal) + moment.z()) / across;
  const Vector2d rate = direction_c.head<2>() - foot * direction_c.z();
  const Vector2d value = place_c.head<2>() - foot * place_c.z();
  const int k = std::abs(rate.x()) > std::abs(rate.y()) ? 0 : 1;
  if (rate[k] == 0) return std::nullopt;
  return -value[k] / rate[k];
}

struct Nearest {
  double s = 0.0;
  Vector2d offset = Vector2d::Zero();  ///< projected − marked
  Vector2d tangent = Vector2d::Zero();
};

std::optional<Nearest> nearest(const Path& path, bool round, const Matrix3d& rotation,
                               const Vector3d& translation, const Intrinsics& camera,
                               const Vector2d& mark_px) {
  const auto in_camera = [&](double s) -> Vector3d { return rotation * path.at(s) + translation; };
  double s = 0;
  if (round) {
    double least = std::numeric_limits<double>::infinity();
    for (int i = 0; i < kStarts; ++i) {
      const double angle = 2 * std::numbers::pi * i / kStarts;
      const Vector3d at = in_camera(angle);
      if (!(at.z() > 0)) continue;
      const double distance = (project(camera, at) - mark_px).squaredNorm();
      if (distance < least) {
        least = distance;
        s = angle;
      }
    }
    if (!std::isfinite(least)) return std::nullopt;
  } else {
    const auto start = start_on_line(in_camera(0), rotation * path.velocity(0), camera, mark_px);
    if (!start) return std::nullopt;
    s = *start;
  }
  // Newton's steps to the foot of the perpendicular; a step that leads further off is halved.
  Nearest result;
  double distance = std::numeric_limits<double>::infinity();
  double from = s, step = 0;
  for (int i = 0; i < kMostSteps; ++i) {
    const Vector3d at = in_camera(s);
    ProjectionDerivatives derivatives;
    const Vector2d offset = at.z() > 0
                                ? Vector2d(project(camera, at, &derivatives) - mark_px)
                                : Vector2d::Constant(std::numeric_limits<double>::quiet_NaN());
    if (!(offset.norm() <= distance * (1 + 1e-12))) {
      step /= 2;
      if (std::abs(step) < 1e-15 || i + 1 == kMostSteps) break;
      s = from + step;
      continue;
    }
    distance = offset.norm();
    const Vector2d velocity = derivatives.by_point * (rotation * path.velocity(s));
    const double speed = velocity.norm();
    if (!(speed > 0)) return std::nullopt;
    result = {s, offset, velocity / speed};
    const double slope = offset.dot(velocity);
    double curvature = velocity.squaredNorm();
    if (round) {
      const double bent = offset.dot(derivatives.by_point * (rotation * path.acceleration(s)));
      if (curvature + bent > 0.1 * curvature) curvature += bent;
    }
    if (std::abs(slope) / speed < kSettled_px) break;
    from = s;
    step = -slope / curvature;
    s = from + step;
  }
  if (!std::isfinite(distance)) return std::nullopt;
  return result;
}

/// The path that a curve is seen along from a camera centre, and how far along its zero lies.
std::optional<Path> path_of(const Curve& curve, const CurveGeometry& g,
                            const Vector3d& camera_centre, Vector3d& radial) {
  switch (curve.kind) {
    case CurveKind::kEdge:
      return Path::line(g.place, g.direction);
    case CurveKind::kCircle: {
      const Vector3d first =
          (curve.frame.first - g.direction * g.direction.dot(curve.frame.first)).normalized();
      return Path::circle(g.place, g.radius * first, g.radius * g.direction.cross(first));
    }
    case CurveKind::kCylinder: {
      const Vector3d to_centre = camera_centre - g.place;
      const Vector3d beside = to_centre - g.direction * g.direction.dot(to_centre);
      const double h = beside.norm();
      const double cosine = g.radius / h;
      if (!(std::abs(cosine) < 1)) return std::nullopt;
      const Vector3d u = beside / h;
      radial = cosine * u + curve.side * std::sqrt(1 - cosine * cosine) * g.direction.cross(u);
      return Path::line(g.place + g.radius * radial, g.direction);
    }
  }
  return std::nullopt;
}

class CurveObservation final : public ceres::CostFunction {
 public:
  CurveObservation(const Curve& curve, const Vector2d& position_px, double sigma_px)
      : curve_(curve), position_px_(position_px), inverse_sigma_(1 / sigma_px) {
    set_num_residuals(1);
    mutable_parameter_block_sizes()->assign({6, kIntrinsicCount, curve_size(curve.kind)});
  }

  bool Evaluate(double const* const* parameters, double* residuals,
                double** jacobians) const override {
    const Eigen::Map<const Eigen::Matrix<double, 6, 1>> pose(parameters[0]);
    const Intrinsics camera{parameters[1][0], parameters[1][1], parameters[1][2],
                            parameters[1][3], parameters[1][4], parameters[1][5],
                            parameters[1][6], parameters[1][7], parameters[1][8]};
    const int size = curve_size(curve_.kind);
    const Eigen::VectorXd values = Eigen::Map<const Eigen::VectorXd>(parameters[2], size);
    const CurveGeometry g = curve_geometry(curve_.kind, curve_.frame, values);
    const Matrix3d rotation = rotation_from_vector(pose.head<3>());
    const Vector3d translation = pose.tail<3>();
    Vector3d radial = Vector3d::Zero();
    const auto path = path_of(curve_, g, -(rotation.transpose() * translation), radial);
    if (!path) return false;
    const bool round = curve_.kind == CurveKind::kCircle;
    const auto foot = nearest(*path, round, rotation, translation, camera, position_px_);
    if (!foot) return false;
    const Eigen::RowVector2d normal(-foot->tangent.y(), foot->tangent.x());
    residuals[0] = normal.dot(foot->offset) * inverse_sigma_;
    if (!std::isfinite(residuals[0])) return false;
    if (!jacobians) return true;

    const Vector3d place = path->at(foot->s);
    const Vector3d turned = rotation * place;
    ProjectionDerivatives derivatives;
    (void)project(camera, turned + translation, &derivatives);
    const Eigen::RowVector3d by_camera_point = inverse_sigma_ * normal * derivatives.by_point;
    if (jacobians[0]) {
      Eigen::Map<Eigen::Matrix<double, 1, 6>> by_pose(jacobians[0]);
      by_pose.head<3>() =
          turned.cross(by_camera_point.transpose()).transpose() * left_jacobian(pose.head<3>());
      by_pose.tail<3>() = by_camera_point;
    }
    if (jacobians[1]) {
      Eigen::Map<Eigen::Matrix<double, 1, kIntrinsicCount>>{jacobians[1]} =
          inverse_sigma_ * normal * derivatives.by_intrinsics;
    }
    if (jacobians[2]) {
      const Eigen::RowVector3d by_place = by_camera_point * rotation;
      Eigen::Map<Eigen::RowVectorXd> by_values(jacobians[2], size);
      by_values = by_place * g.by_values.topRows<3>();
      const Eigen::Matrix3Xd by_direction = g.by_values.middleRows<3>(3);
      if (round) {
        // Turning the normal lifts the rim: δX = −(X − c)·δn n, beside moves along the rim.
        by_values -= by_place.dot(g.direction) * ((place - g.place).transpose() * by_direction);
      } else {
        by_values += foot->s * (by_place * by_direction);
      }
      if (curve_.kind != CurveKind::kEdge) {
        const Vector3d outward = round ? (place - g.place).normalized() : radial;
        by_values += by_place.dot(outward) * g.by_values.row(6);
      }
    }
    return true;
  }

 private:
  Curve curve_;
  Vector2d position_px_;
  double inverse_sigma_;
};

}  // namespace

std::optional<CurveFoot> curve_foot(const Curve& curve, const Pose& pose, const Intrinsics& camera,
                                    const Eigen::VectorXd& values, const Vector2d& mark_px) {
  const CurveGeometry g = curve_geometry(curve.kind, curve.frame, values);
  const Matrix3d rotation = pose.rotation_matrix();
  Vector3d radial = Vector3d::Zero();
  const auto path = path_of(curve, g, pose.centre(), radial);
  if (!path) return std::nullopt;
  const auto foot =
      nearest(*path, curve.kind == CurveKind::kCircle, rotation, pose.translation, camera, mark_px);
  if (!foot) return std::nullopt;
  return CurveFoot{
      mark_px + foot->offset, {-foot->tangent.y(), foot->tangent.x()}, path->at(foot->s), foot->s};
}

std::unique_ptr<ceres::CostFunction> curve_observation(const Curve& curve,
                                                       const Vector2d& position_px,
                                                       double sigma_px) {
  return std::make_unique<CurveObservation>(curve, position_px, sigma_px);
}

}  // namespace calib::adjust
