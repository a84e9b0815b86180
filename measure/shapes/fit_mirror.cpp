#include "measure/shapes/fit_mirror.h"

#include <Eigen/Eigenvalues>

#include "measure/shapes/fit_parts.h"

namespace measure {

using calib::Unexpected;
using Eigen::Index;
using Eigen::Vector3d;

namespace {

/// The direction in which the pairs stand apart: all of them are at right angles to the plane.
struct PairExtents {
  explicit PairExtents(std::span<const MirrorPair> pairs) {
    Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
    for (const MirrorPair& pair : pairs) {
      const Vector3d across = pair.other - pair.one;
      scatter += across * across.transpose();
      longest2 = std::max(longest2, pair.one.squaredNorm() + pair.other.squaredNorm());
    }
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(scatter);
    square = eigen.eigenvalues()[2];
    direction = eigen.eigenvectors().col(2);
  }
  double square, longest2 = 0;
  Vector3d direction;
};

/// Σ over the pairs of the variance of their separation along a direction.
double separation_noise(const internal::FitWeights& weights, const Vector3d& direction) {
  double noise = 0;
  for (Index j = 0; j + 6 <= weights.with_scale.rows(); j += 6) {
    Eigen::Matrix<double, 6, 1> apart;
    apart << -direction, direction;
    noise += apart.dot(weights.with_scale.block<6, 6>(j, j) * apart);
  }
  return noise;
}

}  // namespace

calib::Result<FittedMirror, ShapeError> fit_mirror(const MirrorInput& input) {
  using namespace internal;
  if (input.pairs.empty()) return Unexpected(ShapeError::kTooFewPairs);
  std::vector<Vector3d> points;
  for (const MirrorPair& pair : input.pairs) {
    points.push_back(pair.one);
    points.push_back(pair.other);
  }
  const FitInput fit{
      .points = points, .covariance = input.covariance, .tested_dof = input.tested_dof};
  if (const auto problem = first_problem(fit)) return Unexpected(*problem);
  const FitWeights weights(fit);
  const PairExtents extents(input.pairs);
  if (!stands_out(extents.square, 1e-4 * extents.longest2,
                  separation_noise(weights, extents.direction)))
    return Unexpected(ShapeError::kPairsWithoutLength);

  const Form start{
      .kind = FormKind::kPlane, .position = centroid(points), .direction = extents.direction};
  const auto best = best_of(mirror_model(), {start}, fit, weights);
  if (!best)
    return Unexpected(best.error() == Unsettled::kOpen ? ShapeError::kPairsWithoutLength
                                                       : ShapeError::kFitDoesNotSettle);
  const Settled& settled = best->settled;
  if (loose_problem(mirror_model(), settled, FormKind::kPlane, points, weights))
    return Unexpected(ShapeError::kPairsWithoutLength);

  std::vector<DepartureRows> rows;
  for (std::size_t i = 0; i < input.pairs.size(); ++i)
    rows.push_back({3 * static_cast<Index>(i), 3});
  FittedMirror result;
  result.plane = finished_fit(mirror_model(), settled, fit, weights, rows);
  const Eigen::MatrixXd following = misclosure_by_points(settled);
  for (const DepartureRows& at : rows) {
    PairDeparture departure;
    departure.vector = settled.at.misclosure.segment<3>(at.first);
    departure.by_points = weights.datum.carried(following.middleRows<3>(at.first),
                                                OwnDatum::motion_of_vector(departure.vector));
    result.pairs.push_back(std::move(departure));
  }
  // The side: of the first pair that stands apart by a good part of the widest.
  for (const MirrorPair& pair : input.pairs) {
    const double apart = result.plane.form.direction.dot(pair.other - pair.one);
    if (!(apart * apart > 0.01 * extents.square / static_cast<double>(input.pairs.size())))
      continue;
    if (apart < 0) turn_over(result.plane);
    break;
  }
  return result;
}

}  // namespace measure
