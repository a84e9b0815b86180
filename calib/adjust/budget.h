// Value of a function of the unknowns, its u, and which observations the u comes from.
#pragma once

#include <span>
#include <vector>

#include "calib/adjust/covariance.h"
#include "calib/adjust/variance_factors.h"

namespace calib::adjust {

/// Gradient of a scalar function on the blocks it depends on.
struct Gradient {
  std::vector<BlockId> blocks;
  std::vector<Eigen::VectorXd> by_block;  ///< all coordinates of each block
};

/// fᵀQf, and its parts by group: Σ_{k∈g} p_k (a_k·Qf)². The parts sum to the whole.
struct VarianceBudget {
  double variance = 0.0;
  std::vector<double> by_group;  ///< as in the network
};
[[nodiscard]] double variance_of(const Covariance& covariance, const Gradient& gradient);
[[nodiscard]] VarianceBudget variance_budget(const Network& network, const Covariance& covariance,
                                             const Gradient& gradient);
/// The same sum, one observation each.
[[nodiscard]] std::vector<double> variance_by_observation(const Network& network,
                                                          const Covariance& covariance,
                                                          const Gradient& gradient);

/// Welch–Satterthwaite: ν_eff = u⁴ / Σ u_g⁴/ν_g (JCGM 100:2008, G.4.1). Infinite ν allowed.
[[nodiscard]] double effective_degrees_of_freedom(std::span<const double> variances,
                                                  std::span<const double> degrees_of_freedom);

}  // namespace calib::adjust
