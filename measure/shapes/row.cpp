// Rows: equal spacing along a straight line, and departures from it.
#include <cmath>

#include <Eigen/Eigenvalues>

#include "measure/shapes/measurand_parts.h"

namespace measure {

using calib::Unexpected;
using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::Vector3d;
using Eigen::VectorXd;

namespace {

/// Beside the line the places of a row may stand off by this share of its length, root mean square.
constexpr double kWidestRow = 0.5;

/// How far along the straight line that fits best each place lies, from the centroid.
struct Row {
  VectorXd along;
  MatrixXd by_inputs;  ///< n × 8n
};

calib::Result<Row, ShapeError> row_of(std::span<const Form> places) {
  if (places.size() < 3) return Unexpected(ShapeError::kRowTooShort);
  if (!internal::all_places(places)) return Unexpected(ShapeError::kNeedsPlace);
  const auto n = static_cast<Index>(places.size());
  Eigen::Matrix3Xd arms(3, n);
  for (Index j = 0; j < n; ++j) arms.col(j) = places[static_cast<std::size_t>(j)].position;
  const Vector3d middle = arms.rowwise().mean();
  arms.colwise() -= middle;
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(arms * arms.transpose());
  const Vector3d squares = eigen.eigenvalues();
  if (!(std::sqrt(squares[2]) > 1e-9 * middle.norm()) ||
      !(squares[1] < kWidestRow * kWidestRow * squares[2]))
    return Unexpected(ShapeError::kRowInOnePlace);
  Vector3d d = eigen.eigenvectors().col(2);
  if (d.dot(arms.col(n - 1) - arms.col(0)) < 0) d = -d;

  Row row{arms.transpose() * d, MatrixXd::Zero(n, kFormSize * n)};
  for (Index j = 1; j < n; ++j) {
    if (!(row.along[j] > row.along[j - 1])) return Unexpected(ShapeError::kRowInOnePlace);
  }
  // The line turns by dd = Σ_k v_k (v_kᵀ dS d)/(λ − λ_k), S the scatter matrix (Magnus 1985, as in
  // fit_plane()); the centroid's own movement drops out of dS.
  for (Index j = 0; j < n; ++j) {
    Eigen::Matrix3d turning = Eigen::Matrix3d::Zero();
    for (int k = 0; k < 2; ++k) {
      const Vector3d v = eigen.eigenvectors().col(k);
      turning +=
          v * (v.dot(arms.col(j)) * d + row.along[j] * v).transpose() / (squares[2] - squares[k]);
    }
    row.by_inputs.middleCols<3>(kFormSize * j) = arms.transpose() * turning;
    row.by_inputs.middleCols<3>(kFormSize * j).rowwise() -= d.transpose() / static_cast<double>(n);
    row.by_inputs.block<1, 3>(j, kFormSize * j) += d.transpose();
  }
  return row;
}

/// Slope over the index by least squares, as weights of the places.
VectorXd slope_weights(Index n) {
  const VectorXd centred = VectorXd::LinSpaced(n, 0, static_cast<double>(n - 1)).array() -
                           0.5 * static_cast<double>(n - 1);
  return centred / centred.squaredNorm();
}

}  // namespace

MeasurandResult row_pitch(std::span<const Form> places) {
  const auto row = row_of(places);
  if (!row) return Unexpected(row.error());
  const VectorXd weights = slope_weights(row->along.size());
  return Measurand{.value = weights.dot(row->along),
                   .gradient = weights.transpose() * row->by_inputs};
}

MeasurandResult row_departure(std::span<const Form> places) {
  const auto row = row_of(places);
  if (!row) return Unexpected(row.error());
  const Index n = row->along.size();
  // along has mean zero: what is left of it beside the slope.
  const VectorXd weights = slope_weights(n), index = weights / weights.squaredNorm();
  const MatrixXd left = MatrixXd::Identity(n, n) - index * weights.transpose();
  Departure departure{.vector = left * row->along,
                      .by_inputs = left * row->by_inputs,
                      .size = Departure::Size::kLargest};
  Index at = 0;
  const double value = departure.vector.cwiseAbs().maxCoeff(&at);
  const double sign = departure.vector[at] < 0 ? -1 : 1;
  Measurand result{.value = value, .gradient = sign * departure.by_inputs.row(at)};
  result.departure = std::move(departure);
  result.at = static_cast<std::size_t>(at);
  result.note = "at number " + std::to_string(at + 1) + " of the row, which lies " +
                (sign < 0 ? "too near the first" : "too far from the first");
  return result;
}

}  // namespace measure
