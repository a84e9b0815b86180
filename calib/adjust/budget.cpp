#include "calib/adjust/budget.h"

#include <cmath>
#include <limits>

namespace calib::adjust {

double variance_of(const Covariance& covariance, const Gradient& gradient) {
  const Eigen::MatrixXd joint = covariance.joint(gradient.blocks);
  Eigen::VectorXd f(joint.rows());
  Eigen::Index at = 0;
  for (const Eigen::VectorXd& part : gradient.by_block) {
    f.segment(at, part.size()) = part;
    at += part.size();
  }
  return f.dot(joint * f);
}

std::vector<double> variance_by_observation(const Network& network, const Covariance& covariance,
                                            const Gradient& gradient) {
  const std::vector<Eigen::VectorXd> moved = covariance.times(gradient.blocks, gradient.by_block);
  std::vector<double> parts(network.observations().size(), 0.0);
  for (std::size_t o = 0; o < parts.size(); ++o) {
    if (!network.observations()[o].active) continue;
    parts[o] = covariance.jacobian_times(ObservationId{static_cast<int>(o)}, moved).squaredNorm();
  }
  return parts;
}

VarianceBudget variance_budget(const Network& network, const Covariance& covariance,
                               const Gradient& gradient) {
  VarianceBudget budget;
  budget.by_group.assign(network.groups().size(), 0.0);
  const std::vector<double> parts = variance_by_observation(network, covariance, gradient);
  for (std::size_t o = 0; o < parts.size(); ++o) {
    budget.by_group[network.observations()[o].group.index] += parts[o];
    budget.variance += parts[o];
  }
  return budget;
}

double effective_degrees_of_freedom(std::span<const double> variances,
                                    std::span<const double> degrees_of_freedom) {
  double total = 0, sum = 0;
  for (std::size_t i = 0; i < variances.size(); ++i) {
    total += variances[i];
    if (std::isfinite(degrees_of_freedom[i]))
      sum += variances[i] * variances[i] / degrees_of_freedom[i];
  }
  return sum > 0 ? total * total / sum : std::numeric_limits<double>::infinity();
}

}  // namespace calib::adjust
