#include "tests/support/shape_points.h"

#include <cmath>
#include <numbers>

#include <Eigen/Cholesky>
#include <Eigen/Dense>
#include <Eigen/Eigenvalues>

namespace testing_support {

using Eigen::MatrixXd;
using Eigen::Vector3d;
using Eigen::VectorXd;
using measure::Form;
using measure::FormKind;

namespace {

Vector3d random_direction(std::mt19937& random) {
  std::normal_distribution<double> normal;
  return Vector3d(normal(random), normal(random), normal(random)).normalized();
}

/// G of all points, 3n×7, about the origin.
MatrixXd motions(const PointList& points) {
  MatrixXd g = MatrixXd::Zero(3 * static_cast<Eigen::Index>(points.size()), 7);
  for (std::size_t j = 0; j < points.size(); ++j) {
    const auto row = 3 * static_cast<Eigen::Index>(j);
    const Vector3d& x = points[j];
    g.block<3, 3>(row, 0).setIdentity();
    g.block<3, 3>(row, 3) << 0, x.z(), -x.y(), -x.z(), 0, x.x(), x.y(), -x.x(), 0;
    g.block<3, 1>(row, 6) = x;
  }
  return g;
}

}  // namespace

ShapePoints make_shape_points(FormKind kind, int count, std::uint32_t seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> unit(0, 1);
  ShapePoints result;
  Form& form = result.truth;
  form.kind = kind;
  form.position = 300 * random_direction(random);
  form.direction = random_direction(random);
  form.radius =
      kind == FormKind::kCircle || kind == FormKind::kSphere || kind == FormKind::kCylinder
          ? 20 + 15 * unit(random)
          : 0;
  form.half_angle = kind == FormKind::kCone ? 0.2 + 0.4 * unit(random) : 0;
  const Vector3d u = form.direction.unitOrthogonal(), v = form.direction.cross(u);
  for (int i = 0; i < count; ++i) {
    // Round it by the golden angle, along it step by step, both a little by chance.
    const double step = count > 1 ? double(i) / (count - 1) : 0;
    const double turn = 2.399963 * i + 0.3 * unit(random);
    const double along = 60 * step - 30 + 2 * unit(random);
    const Vector3d outward = std::cos(turn) * u + std::sin(turn) * v;
    Vector3d point = form.position;
    switch (kind) {
      case FormKind::kPoint:
        break;
      case FormKind::kLine:
        point += along * form.direction;
        break;
      case FormKind::kPlane:
        point += 40 * std::sqrt(0.1 + 0.9 * unit(random)) * outward;
        break;
      case FormKind::kCircle: {
        const double part = 4.0 * step + 0.1 * unit(random);  // of the rim: 230°
        point += form.radius * (std::cos(part) * u + std::sin(part) * v);
        break;
      }
      case FormKind::kSphere: {
        const double height = 1.2 * step - 0.3;  // from below the equator nearly to the pole
        point += form.radius * (std::sqrt(1 - height * height) * outward + height * form.direction);
        break;
      }
      case FormKind::kCylinder:
        point += form.radius * outward + along * form.direction;
        break;
      case FormKind::kCone: {
        const double height = 60 + along;
        point += height * (form.direction + std::tan(form.half_angle) * outward);
        break;
      }
    }
    result.points.push_back(point);
  }
  return result;
}

MatrixXd correlated_covariance(const PointList& points, double sigma, std::uint32_t seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> unit(0, 1);
  const auto n = static_cast<Eigen::Index>(points.size());
  MatrixXd covariance = MatrixXd::Zero(3 * n, 3 * n);
  for (Eigen::Index j = 0; j < n; ++j) {
    // Rays that meet at an angle: loose along one direction, sound across it.
    const Vector3d loose = random_direction(random);
    const double own = sigma * (0.6 + 0.8 * unit(random));
    covariance.block<3, 3>(3 * j, 3 * j) =
        own * own * (Eigen::Matrix3d::Identity() + 3 * unit(random) * loose * loose.transpose());
  }
  for (int k = 0; k < 5; ++k) {  // waves through the field, some 100 mm long
    const Vector3d wave = 0.06 * random_direction(random), movement = random_direction(random);
    const double phase = 2 * std::numbers::pi * unit(random);
    VectorXd field(3 * n);
    for (Eigen::Index j = 0; j < n; ++j) {
      field.segment<3>(3 * j) =
          0.7 * sigma * std::cos(wave.dot(points[static_cast<std::size_t>(j)]) + phase) * movement;
    }
    covariance += field * field.transpose();
  }
  VectorXd sizes(7);
  sizes << 4 * sigma, 3 * sigma, 5 * sigma, 0.02 * sigma, 0.01 * sigma, 0.02 * sigma, 0.01 * sigma;
  const MatrixXd whole = motions(points) * sizes.asDiagonal();
  covariance += whole * whole.transpose();
  return covariance;
}

Draws::Draws(const MatrixXd& covariance) {
  const Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(covariance);
  factor_ = eigen.eigenvectors() * eigen.eigenvalues().cwiseMax(0).cwiseSqrt().asDiagonal();
}

PointList Draws::moved(const PointList& points, std::mt19937& random) const {
  std::normal_distribution<double> normal;
  VectorXd z(factor_.cols());
  for (double& value : z) value = normal(random);
  const VectorXd by = factor_ * z;
  PointList result = points;
  for (std::size_t j = 0; j < result.size(); ++j)
    result[j] += by.segment<3>(3 * static_cast<Eigen::Index>(j));
  return result;
}

MatrixXd in_datum(const MatrixXd& covariance, const PointList& points, const VectorXd& weights) {
  const MatrixXd g = motions(points);
  const MatrixXd held = g.transpose() * weights.asDiagonal();  // GᵀD
  const MatrixXd s =
      MatrixXd::Identity(g.rows(), g.rows()) - g * (held * g).fullPivLu().solve(held);
  return s * covariance * s.transpose();
}

}  // namespace testing_support
