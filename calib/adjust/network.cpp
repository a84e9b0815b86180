#include "calib/adjust/network.h"

#include <cassert>
#include <limits>
#include <utility>

namespace calib::adjust {

BlockId Network::add_block(Block block) {
  if (block.held.empty()) block.held.assign(static_cast<std::size_t>(block.values.size()), false);
  assert(static_cast<Eigen::Index>(block.held.size()) == block.values.size());
  assert(block.datum_role != DatumRole::kPoint || block.values.size() == 3);
  assert(block.datum_role != DatumRole::kPose || block.values.size() == 6);
  blocks_.push_back(std::move(block));
  return {static_cast<int>(blocks_.size()) - 1};
}

GroupId Network::add_group(Group group) {
  groups_.push_back(std::move(group));
  return {static_cast<int>(groups_.size()) - 1};
}

ObservationId Network::add_observation(std::unique_ptr<ceres::CostFunction> cost,
                                       std::vector<BlockId> blocks, GroupId group) {
  assert(cost->parameter_block_sizes().size() == blocks.size());
  assert(group.index >= 0 && group.index < static_cast<int>(groups_.size()));
  observations_.push_back({std::move(cost), std::move(blocks), group, true});
  return {static_cast<int>(observations_.size()) - 1};
}

Eigen::VectorXd Network::residuals(ObservationId id) const {
  const Observation& observation = observations_[id.index];
  std::vector<const double*> parameters;
  parameters.reserve(observation.blocks.size());
  for (const BlockId block : observation.blocks)
    parameters.push_back(blocks_[block.index].values.data());
  Eigen::VectorXd residuals(observation.cost->num_residuals());
  if (!observation.cost->Evaluate(parameters.data(), residuals.data(), nullptr)) {
    residuals.setConstant(std::numeric_limits<double>::quiet_NaN());
  }
  return residuals;
}

std::vector<Eigen::VectorXd> Network::snapshot() const {
  std::vector<Eigen::VectorXd> values;
  values.reserve(blocks_.size());
  for (const Block& block : blocks_) values.push_back(block.values);
  return values;
}

void Network::restore(const std::vector<Eigen::VectorXd>& values) {
  assert(values.size() == blocks_.size());
  for (std::size_t i = 0; i < blocks_.size(); ++i) blocks_[i].values = values[i];
}

std::vector<bool> Network::blocks_in_use() const {
  std::vector<bool> in_use(blocks_.size(), false);
  for (const Observation& observation : observations_) {
    if (!observation.active) continue;
    for (const BlockId block : observation.blocks) in_use[block.index] = true;
  }
  return in_use;
}

}  // namespace calib::adjust
