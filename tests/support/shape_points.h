// Points on shapes of known numbers, joint covariances as surveys have them, and draws from them.
#pragma once

#include <cstdint>
#include <random>
#include <span>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "measure/shapes/form.h"

namespace testing_support {

using PointList = std::vector<Eigen::Vector3d>;

/// Every kind that can be fitted.
inline constexpr measure::FormKind kFittedKinds[] = {
    measure::FormKind::kLine,   measure::FormKind::kPlane,    measure::FormKind::kCircle,
    measure::FormKind::kSphere, measure::FormKind::kCylinder, measure::FormKind::kCone};

struct ShapePoints {
  measure::Form truth;
  PointList points;  ///< exactly on it
};

/// `count` points, spread over a part of a shape some 60 mm large that lies anyhow, about 300 mm
/// from the origin.
[[nodiscard]] ShapePoints make_shape_points(measure::FormKind kind, int count, std::uint32_t seed);

/// Every point by itself and in a direction of its own; neighbours together; and the whole, in
/// place, attitude and scale. `sigma`: about what each point has by itself.
[[nodiscard]] Eigen::MatrixXd correlated_covariance(const PointList& points, double sigma,
                                                    std::uint32_t seed);

/// Movements with that covariance (its factor is computed once).
class Draws {
 public:
  explicit Draws(const Eigen::MatrixXd& covariance);
  [[nodiscard]] PointList moved(const PointList& points, std::mt19937& random) const;

 private:
  Eigen::MatrixXd factor_;
};

/// The covariance in the datum that holds the weighted coordinates D, by the S-transformation of
/// all seven motions: Σ' = SΣSᵀ, S = I − G(GᵀDG)⁻¹GᵀD.
[[nodiscard]] Eigen::MatrixXd in_datum(const Eigen::MatrixXd& covariance, const PointList& points,
                                       const Eigen::VectorXd& weights);

}  // namespace testing_support
