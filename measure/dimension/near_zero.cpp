#include "measure/dimension/near_zero.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include <Eigen/Eigenvalues>

#include "calib/adjust/distributions.h"

namespace measure::internal {
namespace {

constexpr int kDraws = 20000;
/// From here on Student's factor at 95.45 % is within 0.01 % of 2.
constexpr double kManyDegreesOfFreedom = 20000;
constexpr double kNear = 5.0;       // u from the end
constexpr double kCurvature = 0.1;  // of u: bias of second order

double size_of(const Departure& departure, const Eigen::VectorXd& vector) {
  return departure.size == Departure::Size::kLength ? vector.norm() : vector.cwiseAbs().maxCoeff();
}

/// Bias of the length of a vector whose components follow their inputs linearly: ½ tr(HΣ).
double bias_of_length(const Eigen::VectorXd& vector, const Eigen::MatrixXd& covariance) {
  const double length = vector.norm();
  if (!(length > 0)) return std::numeric_limits<double>::infinity();
  const Eigen::VectorXd direction = vector / length;
  return 0.5 * (covariance.trace() - direction.dot(covariance * direction)) / length;
}

}  // namespace

std::optional<NearZero> near_zero_interval(const Departure& departure,
                                           const Eigen::MatrixXd& covariance, double value,
                                           double u, double degrees_of_freedom,
                                           std::uint32_t seed) {
  const double found = size_of(departure, departure.vector);
  const bool largest = departure.size == Departure::Size::kLargest;
  const double from_end = std::abs(value - departure.end);
  const bool curved = !largest && bias_of_length(departure.vector, covariance) > kCurvature * u;
  // The largest of several is drawn whatever its size: which one it is was chosen by their errors.
  if (!largest && !curved && from_end >= kNear * u) return std::nullopt;

  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(covariance);
  const Eigen::MatrixXd root =
      eigen.eigenvectors() * eigen.eigenvalues().cwiseMax(0).cwiseSqrt().asDiagonal();
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  // Where σ was estimated from few residuals the error bar is itself uncertain: errors over it then
  // follow the multivariate t distribution (JCGM 101:2008, 6.4.9.4), as U takes Student's factor.
  std::optional<std::chi_squared_distribution<double>> chi_squared;
  if (degrees_of_freedom < kManyDegreesOfFreedom) chi_squared.emplace(degrees_of_freedom);
  Eigen::MatrixXd errors(covariance.rows(), kDraws);
  Eigen::VectorXd z(covariance.rows());
  double sum = 0, squares = 0;
  std::vector<double> sizes(kDraws);
  for (int draw = 0; draw < kDraws; ++draw) {
    for (Eigen::Index k = 0; k < z.size(); ++k) z[k] = normal(random);
    if (chi_squared) z *= std::sqrt(degrees_of_freedom / (*chi_squared)(random));
    errors.col(draw) = root * z;
    double v = size_of(departure, departure.vector + errors.col(draw));
    if (departure.sine) v = std::asin(std::min(v, 1.0));
    sum += v;
    squares += v * v;
    sizes[static_cast<std::size_t>(draw)] = size_of(departure, errors.col(draw));
  }
  NearZero result;
  result.sd = std::sqrt(std::max(0.0, squares / kDraws - (sum / kDraws) * (sum / kDraws)));

  // Draws about the estimate would count its error twice, for what was found is already too long by
  // it: their shortest interval held the truth in 85 of 100 surveys. So the question is turned
  // round: which true sizes d make what was found neither too large nor too small, each with (1 −
  // p)/2?
  const Eigen::VectorXd direction =
      found > 0 ? Eigen::VectorXd(departure.vector / found)
                : Eigen::VectorXd(Eigen::VectorXd::Unit(departure.vector.size(), 0));
  const Eigen::VectorXd along = errors.transpose() * direction;
  const Eigen::VectorXd square = errors.colwise().squaredNorm();
  const auto share_larger = [&](double d) {
    Eigen::Index larger = 0;
    if (largest) {
      for (int draw = 0; draw < kDraws; ++draw) {
        const bool is_larger = ((d * direction + errors.col(draw)).array().abs() >= found).any();
        larger += is_larger ? 1 : 0;
      }
    } else {
      larger = ((d * d + 2 * d * along.array() + square.array()) >= found * found).count();
    }
    return static_cast<double>(larger) / kDraws;
  };
  std::sort(sizes.begin(), sizes.end());
  const double reach = found + sizes.back();
  const auto first_with = [&](double share) {
    double low = 0, high = reach;
    if (share_larger(low) >= share) return 0.0;
    for (int step = 0; step < 30; ++step) {
      const double middle = (low + high) / 2;
      (share_larger(middle) >= share ? high : low) = middle;
    }
    return high;
  };
  constexpr double kTail = (1 - calib::adjust::kCoverageProbability) / 2;
  double low = first_with(kTail);
  // Found by luck smaller than errors alone mostly are: it cannot be told from zero, and no better
  // than this.
  const double noise =
      sizes[static_cast<std::size_t>(calib::adjust::kCoverageProbability * (kDraws - 1))];
  double high = std::max(first_with(1 - kTail), noise);
  if (departure.sine) {
    low = std::asin(std::min(low, 1.0));
    high = std::asin(std::min(high, 1.0));
  }
  const bool below = value < departure.end;
  result.low = below ? departure.end - high : departure.end + low;
  result.high = below ? departure.end - low : departure.end + high;
  return result;
}

}  // namespace measure::internal
