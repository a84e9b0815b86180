#include "calib/adjust/variance_factors.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "calib/adjust/distributions.h"

namespace calib::adjust {
namespace {

/// With residuals of exact data s0 vanishes; a group must still weigh something finite.
constexpr double kSmallestScale = 1e-6;
constexpr int kMostRounds = 12;
constexpr double kSettled = 1e-5;

}  // namespace

FitStatistics fit_statistics(const Network& network, const Covariance& covariance) {
  FitStatistics fit;
  fit.groups.resize(network.groups().size());
  double sum = 0;
  for (std::size_t o = 0; o < network.observations().size(); ++o) {
    const Observation& observation = network.observations()[o];
    if (!observation.active) continue;
    const ObservationId id{static_cast<int>(o)};
    GroupFit& group = fit.groups[observation.group.index];
    const Eigen::VectorXd v = network.residuals(id);
    group.observations += static_cast<int>(v.size());
    group.sum_of_squares += v.squaredNorm();
    group.redundancy += covariance.residual_cofactor(id).trace();
    fit.observations += static_cast<int>(v.size());
    sum += v.squaredNorm();
  }
  fit.unknowns = covariance.unknowns();
  fit.redundancy = fit.observations - fit.unknowns;
  for (std::size_t g = 0; g < fit.groups.size(); ++g) {
    GroupFit& group = fit.groups[g];
    group.redundancy = std::max(group.redundancy, 0.0);
    group.s0 = group.redundancy > 1e-6 ? std::sqrt(group.sum_of_squares / group.redundancy)
                                       : std::numeric_limits<double>::quiet_NaN();
    group.factor_estimated =
        network.groups()[g].factor_from_residuals && group.redundancy >= kLeastRedundancyOfAFactor;
  }
  if (fit.redundancy > 0) {
    fit.sigma0 = std::sqrt(sum / fit.redundancy);
    fit.sigma0_low = std::sqrt(chi_square_quantile(0.025, fit.redundancy) / fit.redundancy);
    fit.sigma0_high = std::sqrt(chi_square_quantile(0.975, fit.redundancy) / fit.redundancy);
    fit.sigma0_too_high = fit.sigma0 > fit.sigma0_high;
    fit.sigma0_too_low = fit.sigma0 < fit.sigma0_low;
  } else {
    fit.sigma0 = std::numeric_limits<double>::quiet_NaN();
  }
  return fit;
}

Result<AdjustResult, CovarianceError> adjust(Network& network, const Datum& datum,
                                             const SolveOptions& options) {
  AdjustResult result;
  for (int round = 0; round < kMostRounds; ++round) {
    result.solve = solve(network, datum, options);
    // The factors as they are: whoever cancelled does not ask for them.
    if (round > 0 && result.solve.termination == Termination::kCancelled) break;
    auto covariance = Covariance::compute(network, datum);
    if (!covariance) return Unexpected(covariance.error());
    result.fit = fit_statistics(network, *covariance);
    double largest_change = 0;
    for (std::size_t g = 0; g < network.groups().size(); ++g) {
      const GroupFit& fit = result.fit.groups[g];
      if (!network.groups()[g].factor_from_residuals) continue;
      Group& group = network.group(GroupId{static_cast<int>(g)});
      const double wanted = fit.factor_estimated ? std::max(fit.s0, kSmallestScale) : 1.0;
      largest_change = std::max(largest_change, std::abs(wanted / group.scale - 1));
      group.scale = wanted;
    }
    result.fit.converged = largest_change < kSettled;
    if (result.fit.converged) break;
  }
  return result;
}

}  // namespace calib::adjust
