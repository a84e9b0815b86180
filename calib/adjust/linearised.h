// Jacobians of one observation in the coordinates that vary. For the .cpp files of this room only.
#pragma once

#include <cmath>
#include <span>
#include <vector>

#include <Eigen/Core>

#include "calib/adjust/large_array.h"
#include "calib/adjust/network.h"

namespace calib::adjust::internal {

using RowMatrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

/// Evaluates observations one after another with buffers that are used again.
class Linearised {
 public:
  /// Residuals and Jacobians at the present values, divided by the group's scale. False where the
  /// observation cannot be evaluated.
  bool evaluate(const Network& network, const Observation& observation) {
    const auto& sizes = observation.cost->parameter_block_sizes();
    const int rows = observation.cost->num_residuals();
    parameters_.resize(sizes.size());
    pointers_.resize(sizes.size());
    if (jacobians.size() < sizes.size()) jacobians.resize(sizes.size());
    residuals.resize(rows);
    for (std::size_t b = 0; b < sizes.size(); ++b) {
      parameters_[b] = network.block(observation.blocks[b]).values.data();
      jacobians[b].resize(rows, sizes[b]);
      pointers_[b] = jacobians[b].data();
    }
    if (!observation.cost->Evaluate(parameters_.data(), residuals.data(), pointers_.data()))
      return false;
    const double scale = network.group(observation.group).scale;
    if (scale != 1.0) {
      residuals /= scale;
      for (std::size_t b = 0; b < sizes.size(); ++b) jacobians[b] /= scale;
    }
    return true;
  }

  Eigen::VectorXd residuals;
  std::vector<RowMatrix>
      jacobians;  ///< a block each, all coordinates; more than the observation's may exist

 private:
  std::vector<const double*> parameters_;
  std::vector<double*> pointers_;
};

/// What the passes over all observations need of them, side by side in memory, with the Jacobians
/// at one set of values, divided by the groups' scales.
class StoredJacobians {
 public:
  StoredJacobians() = default;
  /// Copies what is needed from the network; no Jacobian is known yet.
  explicit StoredJacobians(const Network& network);

  /// Evaluates the observations whose blocks are all in use, those set aside included.
  void evaluate(const Network& network, const std::vector<bool>& in_use);

  [[nodiscard]] int observations() const { return static_cast<int>(entries_.size()) - 1; }
  [[nodiscard]] bool active(int observation) const { return entries_[observation].active; }
  [[nodiscard]] int rows(int observation) const { return entries_[observation].rows; }
  [[nodiscard]] std::span<const int> blocks(int observation) const {
    return {blocks_.data() + entries_[observation].first,
            blocks_.data() + entries_[observation + 1].first};
  }
  /// Whether the observation could be evaluated.
  [[nodiscard]] bool known(int observation) const { return entries_[observation].known; }
  /// Jacobian of the observation's n-th block, all coordinates, row after row.
  [[nodiscard]] const double* jacobian(int observation, std::size_t n) const {
    return values_.data() + start_[entries_[observation].first + n];
  }

 private:
  struct Entry {
    std::size_t first = 0;  ///< in blocks_ and start_
    int rows = 0;
    bool active = false;
    bool known = false;
  };
  std::vector<Entry> entries_;  ///< one more than there are observations
  std::vector<int> blocks_;
  std::vector<std::size_t> start_;  ///< of a block's Jacobian in values_, and the end
  LargeArray values_;
};

}  // namespace calib::adjust::internal
