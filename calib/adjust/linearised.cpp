#include "calib/adjust/linearised.h"

#include <algorithm>

namespace calib::adjust::internal {

StoredJacobians::StoredJacobians(const Network& network) {
  std::vector<int> size;
  for (const Block& block : network.blocks()) size.push_back(static_cast<int>(block.values.size()));
  entries_.reserve(network.observations().size() + 1);
  std::size_t count = 0;
  for (const Observation& observation : network.observations()) {
    const int rows = observation.cost->num_residuals();
    entries_.push_back({blocks_.size(), rows, observation.active, false});
    for (const BlockId id : observation.blocks) {
      blocks_.push_back(id.index);
      start_.push_back(count);
      count += static_cast<std::size_t>(rows) * size[id.index];
    }
  }
  entries_.push_back({blocks_.size(), 0, false, false});
  start_.push_back(count);
}

void StoredJacobians::evaluate(const Network& network, const std::vector<bool>& in_use) {
  values_ = LargeArray(start_.back());
  int most_rows = 0;
  std::size_t most_blocks = 0;
  for (int o = 0; o < observations(); ++o) {
    most_rows = std::max(most_rows, rows(o));
    most_blocks = std::max(most_blocks, blocks(o).size());
  }
  std::vector<double> residuals(static_cast<std::size_t>(most_rows));
  std::vector<const double*> parameters(most_blocks);
  std::vector<double*> jacobians(most_blocks);
  std::vector<const double*> values;
  for (const Block& block : network.blocks()) values.push_back(block.values.data());
  for (int o = 0; o < observations(); ++o) {
    Entry& entry = entries_[o];
    const auto seen = blocks(o);
    bool used = true;
    for (std::size_t b = 0; b < seen.size(); ++b) {
      used = used && in_use[seen[b]];
      parameters[b] = values[seen[b]];
      jacobians[b] = values_.data() + start_[entry.first + b];
    }
    if (!used) continue;
    const Observation& observation = network.observations()[o];
    entry.known = observation.cost->Evaluate(parameters.data(), residuals.data(), jacobians.data());
    const double scale = network.group(observation.group).scale;
    if (scale == 1.0) continue;
    for (std::size_t i = start_[entry.first]; i < start_[entries_[o + 1].first]; ++i)
      values_.data()[i] /= scale;
  }
}

}  // namespace calib::adjust::internal
