#include "calib/adjust/observations.h"

#include <cassert>
#include <cmath>

#include <Eigen/Cholesky>
#include <Eigen/Geometry>
#include <Eigen/LU>
#include <ceres/sized_cost_function.h>

namespace calib::adjust {
namespace {

using RowMajor26 = Eigen::Matrix<double, 2, 6, Eigen::RowMajor>;
using RowMajor29 = Eigen::Matrix<double, 2, 9, Eigen::RowMajor>;
using RowMajor23 = Eigen::Matrix<double, 2, 3, Eigen::RowMajor>;

/// Rotation matrix and left Jacobian from one sine and cosine: both are needed at every evaluation.
void rotation_and_jacobian(const Eigen::Vector3d& w, Eigen::Matrix3d& rotation,
                           Eigen::Matrix3d* jacobian) {
  const double angle2 = w.squaredNorm();
  double a, b, c;  // R = I + aK + bK², J_l = I + bK + cK²
  if (angle2 < 1e-6) {
    a = 1 - angle2 / 6;
    b = 0.5 - angle2 / 24;
    c = 1.0 / 6 - angle2 / 120;
  } else {
    const double angle = std::sqrt(angle2);
    const double sine = std::sin(angle), cosine = std::cos(angle);
    a = sine / angle;
    b = (1 - cosine) / angle2;
    c = (angle - sine) / (angle2 * angle);
  }
  Eigen::Matrix3d k;
  k << 0, -w.z(), w.y(), w.z(), 0, -w.x(), -w.y(), w.x(), 0;
  // K² = wwᵀ − |w|²I
  const Eigen::Matrix3d outer = w * w.transpose();
  rotation = a * k + b * outer;
  rotation.diagonal().array() += 1 - b * angle2;
  if (jacobian) {
    *jacobian = b * k + c * outer;
    jacobian->diagonal().array() += 1 - c * angle2;
  }
}

class MarkObservation final : public ceres::SizedCostFunction<2, 6, 9, 3> {
 public:
  MarkObservation(const Eigen::Vector2d& position_px, const Eigen::Matrix2d& whitening)
      : position_px_(position_px), whitening_(whitening) {}

  bool Evaluate(double const* const* parameters, double* residuals,
                double** jacobians) const override {
    const Eigen::Map<const Eigen::Matrix<double, 6, 1>> pose(parameters[0]);
    const Intrinsics camera{parameters[1][0], parameters[1][1], parameters[1][2],
                            parameters[1][3], parameters[1][4], parameters[1][5],
                            parameters[1][6], parameters[1][7], parameters[1][8]};
    const Eigen::Map<const Eigen::Vector3d> point(parameters[2]);
    const bool pose_wanted = jacobians && jacobians[0];
    Eigen::Matrix3d rotation, left;
    rotation_and_jacobian(pose.head<3>(), rotation, pose_wanted ? &left : nullptr);
    const Eigen::Vector3d turned = rotation * point;
    const Eigen::Vector3d in_camera = turned + pose.tail<3>();
    if (!(in_camera.z() > 0)) return false;
    Eigen::Map<Eigen::Vector2d> residual(residuals);
    if (!jacobians) {
      residual = whitening_ * (project(camera, in_camera) - position_px_);
      return residual.allFinite();
    }
    ProjectionDerivatives derivatives;
    residual = whitening_ * (project(camera, in_camera, &derivatives) - position_px_);
    const Eigen::Matrix<double, 2, 3> by_camera_point = whitening_ * derivatives.by_point;
    if (pose_wanted) {
      Eigen::Map<RowMajor26> by_pose(jacobians[0]);
      // ∂(R(w)X)/∂w = −[RX]× J_l(w); a row g of by_camera_point gives −gᵀ[RX]× = (RX × g)ᵀ.
      Eigen::Matrix<double, 2, 3> turning;
      turning.row(0) = turned.cross(by_camera_point.row(0).transpose()).transpose();
      turning.row(1) = turned.cross(by_camera_point.row(1).transpose()).transpose();
      by_pose.leftCols<3>() = turning * left;
      by_pose.rightCols<3>() = by_camera_point;
    }
    if (jacobians[1]) Eigen::Map<RowMajor29>{jacobians[1]} = whitening_ * derivatives.by_intrinsics;
    if (jacobians[2]) Eigen::Map<RowMajor23>{jacobians[2]} = by_camera_point * rotation;
    return residual.allFinite();
  }

 private:
  Eigen::Vector2d position_px_;
  Eigen::Matrix2d whitening_;
};

class PriorObservation final : public ceres::CostFunction {
 public:
  PriorObservation(const Eigen::VectorXd& expected, const Eigen::MatrixXd& root)
      : expected_(expected), root_(root) {
    assert(root.cols() == expected.size());
    set_num_residuals(static_cast<int>(root.rows()));
    mutable_parameter_block_sizes()->push_back(static_cast<int>(expected.size()));
  }

  bool Evaluate(double const* const* parameters, double* residuals,
                double** jacobians) const override {
    const Eigen::Map<const Eigen::VectorXd> values(parameters[0], expected_.size());
    Eigen::Map<Eigen::VectorXd>(residuals, root_.rows()) = root_ * (values - expected_);
    if (jacobians && jacobians[0]) {
      Eigen::Map<Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>(
          jacobians[0], root_.rows(), root_.cols()) = root_;
    }
    return true;
  }

 private:
  Eigen::VectorXd expected_;
  Eigen::MatrixXd root_;
};

class BarObservation final : public ceres::CostFunction {
 public:
  BarObservation(double length_mm, double u_own_mm, BarTerms terms)
      : length_mm_(length_mm), inverse_u_(1 / u_own_mm), terms_(terms) {
    set_num_residuals(1);
    mutable_parameter_block_sizes()->assign({3, 3});
    if (terms.certificate_error) mutable_parameter_block_sizes()->push_back(1);
    if (terms.expansion)
      mutable_parameter_block_sizes()->insert(mutable_parameter_block_sizes()->end(), 2, 1);
  }

  bool Evaluate(double const* const* parameters, double* residuals,
                double** jacobians) const override {
    const Eigen::Map<const Eigen::Vector3d> from(parameters[0]), to(parameters[1]);
    const Eigen::Vector3d span = to - from;
    const double distance = span.norm();
    if (!(distance > 0)) return false;
    std::size_t next = 2;
    const double certificate = terms_.certificate_error ? parameters[next++][0] : 0.0;
    const double length20 = length_mm_ + certificate;
    const double alpha = terms_.expansion ? parameters[next][0] : 0.0;
    const double warmer = terms_.expansion ? parameters[next + 1][0] - 20.0 : 0.0;
    const double factor = 1 + alpha * warmer;
    residuals[0] = (distance - length20 * factor) * inverse_u_;
    if (!jacobians) return true;
    const Eigen::Vector3d direction = span / distance * inverse_u_;
    if (jacobians[0]) Eigen::Map<Eigen::Vector3d>{jacobians[0]} = -direction;
    if (jacobians[1]) Eigen::Map<Eigen::Vector3d>{jacobians[1]} = direction;
    next = 2;
    if (terms_.certificate_error) {
      if (jacobians[next]) jacobians[next][0] = -factor * inverse_u_;
      ++next;
    }
    if (terms_.expansion) {
      if (jacobians[next]) jacobians[next][0] = -length20 * warmer * inverse_u_;
      if (jacobians[next + 1]) jacobians[next + 1][0] = -length20 * alpha * inverse_u_;
    }
    return true;
  }

 private:
  double length_mm_;
  double inverse_u_;
  BarTerms terms_;
};

}  // namespace

std::unique_ptr<ceres::CostFunction> mark_observation(const Eigen::Vector2d& position_px,
                                                      double sigma_px) {
  return std::make_unique<MarkObservation>(position_px, Eigen::Matrix2d::Identity() / sigma_px);
}

std::unique_ptr<ceres::CostFunction> mark_observation(const Eigen::Vector2d& position_px,
                                                      const Eigen::Matrix2d& covariance_px2) {
  // Inverse of the lower Cholesky factor: W Σ Wᵀ = I.
  const Eigen::Matrix2d lower = covariance_px2.llt().matrixL();
  return std::make_unique<MarkObservation>(position_px, lower.inverse());
}

std::unique_ptr<ceres::CostFunction> prior_observation(
    const Eigen::VectorXd& expected, const Eigen::MatrixXd& square_root_information) {
  return std::make_unique<PriorObservation>(expected, square_root_information);
}

Eigen::MatrixXd square_root_information(const Eigen::MatrixXd& covariance,
                                        const std::vector<bool>& held) {
  std::vector<int> free;
  for (std::size_t i = 0; i < held.size(); ++i) {
    if (!held[i]) free.push_back(static_cast<int>(i));
  }
  const Eigen::MatrixXd part = covariance(free, free);
  // Scaled to correlations first: variances of fx and k3 differ by many powers of ten.
  const Eigen::VectorXd sd = part.diagonal().cwiseSqrt();
  const Eigen::MatrixXd correlation =
      sd.cwiseInverse().asDiagonal() * part * sd.cwiseInverse().asDiagonal();
  const Eigen::MatrixXd lower = correlation.llt().matrixL();
  const Eigen::MatrixXd inverse =
      lower.triangularView<Eigen::Lower>().solve(Eigen::MatrixXd(sd.cwiseInverse().asDiagonal()));
  Eigen::MatrixXd root =
      Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(free.size()), covariance.cols());
  for (std::size_t i = 0; i < free.size(); ++i)
    root.col(free[i]) = inverse.col(static_cast<Eigen::Index>(i));
  return root;
}

std::unique_ptr<ceres::CostFunction> distance_observation(double length, double u) {
  return bar_observation(length, u, {});
}

std::unique_ptr<ceres::CostFunction> bar_observation(double length_mm, double u_own_mm,
                                                     BarTerms terms) {
  return std::make_unique<BarObservation>(length_mm, u_own_mm, terms);
}

}  // namespace calib::adjust
