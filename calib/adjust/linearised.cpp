#include "calib/adjust/linearised.h"

#include <algorithm>

namespace calib::adjust::internal {

void StoredJacobians::evaluate(const Network& network, const std::vector<bool>& in_use) {
  const auto& observations = network.observations();
  first_.clear();
  start_.clear();
  std::size_t count = 0;
  int most_rows = 0;
  for (const Observation& observation : observations) {
    first_.push_back(start_.size());
    const int rows = observation.cost->num_residuals();
    most_rows = std::max(most_rows, rows);
    for (const int size : observation.cost->parameter_block_sizes()) {
      start_.push_back(count);
      count += static_cast<std::size_t>(rows) * size;
    }
  }
  values_.resize(count);
  known_.assign(observations.size(), 0);
  std::vector<double> residuals(static_cast<std::size_t>(most_rows));
  std::vector<const double*> parameters;
  std::vector<double*> jacobians;
  for (std::size_t o = 0; o < observations.size(); ++o) {
    const Observation& observation = observations[o];
    parameters.clear();
    jacobians.clear();
    bool used = true;
    for (std::size_t b = 0; b < observation.blocks.size(); ++b) {
      used = used && in_use[observation.blocks[b].index];
      parameters.push_back(network.block(observation.blocks[b]).values.data());
      jacobians.push_back(values_.data() + start_[first_[o] + b]);
    }
    if (!used) continue;
    known_[o] = observation.cost->Evaluate(parameters.data(), residuals.data(), jacobians.data());
    const double scale = network.group(observation.group).scale;
    if (scale == 1.0) continue;
    const std::size_t end = o + 1 < first_.size() && first_[o + 1] < start_.size()
                                ? start_[first_[o + 1]]
                                : values_.size();
    for (std::size_t i = start_[first_[o]]; i < end; ++i) values_[i] /= scale;
  }
}

}  // namespace calib::adjust::internal
