// What points leave open of a form, before and after it is fitted.
#include <cmath>
#include <numbers>

#include <Eigen/Eigenvalues>

#include "measure/shapes/fit_parts.h"
#include "measure/shapes/start_values.h"

namespace measure::internal {

namespace {

/// An extent below this share of the largest is none: far below any measurement, and its square
/// stays above the rounding of the eigenvalues.
constexpr double kDegenerate = 1e-7;
/// An extent (a square root of a sum of squares) must be this many times what noise makes of it.
constexpr double kOverNoise = 3.0;
/// First-order propagation says little of a direction, a radius or an angle looser than these.
constexpr double kLooseDirection_rad = 0.2;
constexpr double kLooseRadius = 1.0 / 3;
constexpr double kHalfAngleOverItsU = 3.0;
/// A radius so many times the points' extent is a straight line or plane to rounding.
constexpr double kStraight = 1e5;
constexpr double kNoHalfAngle_rad = 1e-5;

ShapeError in_line(FormKind kind) {
  switch (kind) {
    case FormKind::kPoint:
    case FormKind::kLine:
    case FormKind::kPlane:
      return ShapeError::kPointsInLine;
    case FormKind::kCircle:
      return ShapeError::kCircleInLine;
    case FormKind::kSphere:
      return ShapeError::kSphereInPlane;
    case FormKind::kCylinder:
      return ShapeError::kCylinderOneSide;
    case FormKind::kCone:
      return ShapeError::kConeOneSide;
  }
  return ShapeError::kPointsInLine;
}

}  // namespace

std::optional<ShapeError> first_problem(const FitInput& input) {
  for (const Eigen::Vector3d& point : input.points) {
    if (!point.allFinite()) return ShapeError::kNotANumber;
  }
  if (input.covariance.size() == 0) return std::nullopt;
  const auto rows = 3 * static_cast<Eigen::Index>(input.points.size());
  if (input.covariance.rows() != rows || input.covariance.cols() != rows)
    return ShapeError::kCovarianceSize;
  if (!input.covariance.allFinite()) return ShapeError::kNotANumber;
  return std::nullopt;
}

bool stands_out(double square, double largest_square, double noise) {
  return square > kDegenerate * kDegenerate * largest_square &&
         square > kOverNoise * kOverNoise * noise;
}

std::optional<ShapeError> flat_problem(FormKind kind, Points points, const FitWeights& weights) {
  const Extents extents(points);
  const double far2 = extents.middle.squaredNorm() * 1e-4;  // 1e-9 of the coordinates
  if (!stands_out(extents.squares[2], far2, weights.noise_along(extents.directions.col(2))))
    return ShapeError::kPointsInOnePlace;
  if (kind == FormKind::kLine) return std::nullopt;
  if (!stands_out(extents.squares[1], extents.squares[2],
                  weights.noise_along(extents.directions.col(1))))
    return in_line(kind);
  if (kind == FormKind::kSphere &&
      !(extents.squares[0] > kDegenerate * kDegenerate * extents.squares[2]))
    return ShapeError::kSphereInPlane;
  return std::nullopt;
}

ShapeError open_problem(FormKind kind) {
  switch (kind) {
    case FormKind::kCylinder:
      return ShapeError::kCylinderOneRing;
    case FormKind::kCone:
      return ShapeError::kConeOneRing;
    case FormKind::kPoint:
    case FormKind::kLine:
    case FormKind::kPlane:
    case FormKind::kCircle:
    case FormKind::kSphere:
      return in_line(kind);
  }
  return in_line(kind);
}

std::optional<ShapeError> loose_problem(const FormModel& model, const Settled& settled,
                                        FormKind kind, Points points, const FitWeights& weights) {
  const Extents extents(points);
  const Form& form = settled.form;
  if (form.radius > kStraight * std::sqrt(extents.squares.sum())) return open_problem(kind);
  if (kind == FormKind::kCone) {
    if (form.half_angle < kNoHalfAngle_rad) return ShapeError::kConeIsCylinder;
    if (form.half_angle > std::numbers::pi / 2 - kNoHalfAngle_rad) return ShapeError::kConeIsPlane;
  }
  if (weights.own.size() == 0) return std::nullopt;

  Eigen::MatrixXd variances = settled.at.by_points * weights.own;
  variances = variances * settled.at.by_points.transpose();
  variances.diagonal().array() += settled.form_sigma * settled.form_sigma;
  const Eigen::MatrixXd by = model.form_by_parameters(form, points) * settled.estimator;
  const FormMatrix covariance = by * variances * by.transpose();
  if (kind == FormKind::kCone) {
    const double loose = kHalfAngleOverItsU * std::sqrt(std::max(covariance(7, 7), 0.0));
    if (!(form.half_angle > loose)) return ShapeError::kConeIsCylinder;
    if (!(std::numbers::pi / 2 - form.half_angle > loose)) return ShapeError::kConeIsPlane;
  }
  const Eigen::Matrix3d direction = covariance.block<3, 3>(3, 3);
  const double loosest =
      Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(direction, Eigen::EigenvaluesOnly)
          .eigenvalues()[2];
  if (!(loosest < kLooseDirection_rad * kLooseDirection_rad)) {
    // Where the survey alone would tell it well enough, the points are no such shape.
    const Eigen::MatrixXd measured =
        variances - settled.form_sigma * settled.form_sigma *
                        Eigen::MatrixXd::Identity(variances.rows(), variances.cols());
    const Eigen::Matrix3d told = (by * measured * by.transpose()).block<3, 3>(3, 3);
    const double told_loosest =
        Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(told, Eigen::EigenvaluesOnly)
            .eigenvalues()[2];
    return told_loosest < kLooseDirection_rad * kLooseDirection_rad ? ShapeError::kFarFromForm
                                                                    : open_problem(kind);
  }
  const double u_radius = std::sqrt(std::max(covariance(6, 6), 0.0));
  if (form.radius > 0 && !(u_radius < kLooseRadius * form.radius)) return open_problem(kind);
  return std::nullopt;
}

}  // namespace measure::internal
