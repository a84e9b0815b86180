// s0² of groups of observations, and the statistics of the fit.
#pragma once

#include <string>
#include <vector>

#include "calib/adjust/covariance.h"
#include "calib/adjust/network.h"
#include "calib/adjust/solve.h"

namespace calib::adjust {

/// How well one group's residuals agree with its a-priori σ.
struct GroupFit {
  int observations = 0;       ///< scalar observations that are active
  double redundancy = 0.0;    ///< its share of the redundancy, Σ tr(I − J Q Jᵀ)
  double sum_of_squares = 0;  ///< of residuals whitened with the a-priori σ
  double s0 = 1.0;  ///< √(sum_of_squares / redundancy); NaN inside if redundancy is below 1e-6
  bool factor_estimated = false;  ///< the group's scale is s0; else its a-priori σ is kept
};

/// The fit as a whole, with every group.
struct FitStatistics {
  int observations = 0;
  int unknowns = 0;
  int redundancy = 0;  ///< observations − unknowns (held ones not counted)
  /// √(vᵀPv / redundancy) of all observations with a-priori σ: tested by chi-square.
  double sigma0 = 0.0;
  double sigma0_low = 0.0, sigma0_high = 0.0;  ///< 95 % acceptance interval of sigma0
  bool sigma0_too_high = false, sigma0_too_low = false;
  std::vector<GroupFit> groups;  ///< as in the network
  bool converged = true;
};

/// Redundancies from `covariance`, sums of squares from the network's present values.
[[nodiscard]] FitStatistics fit_statistics(const Network& network, const Covariance& covariance);

/// Groups with less redundancy keep their a-priori σ.
inline constexpr double kLeastRedundancyOfAFactor = 10.0;

struct AdjustResult {
  SolveSummary solve;
  FitStatistics fit;
};

/// Solves, estimates s0² of the groups that ask for it, re-weights, and repeats until the factors
/// settle. The network's values and group scales are the result.
Result<AdjustResult, CovarianceError> adjust(Network& network, const Datum& datum,
                                             const SolveOptions& options = {});

}  // namespace calib::adjust
