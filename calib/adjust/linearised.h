// Jacobians of one observation in the coordinates that vary. For the .cpp files of this room only.
#pragma once

#include <cmath>
#include <vector>

#include <Eigen/Core>

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

/// Jacobians of all observations at one set of values, divided by their groups' scales.
class StoredJacobians {
 public:
  /// Evaluates the observations whose blocks are all in use, those set aside included.
  void evaluate(const Network& network, const std::vector<bool>& in_use);

  /// Whether the observation could be evaluated.
  [[nodiscard]] bool known(int observation) const { return known_[observation] != 0; }
  /// Jacobian of the observation's n-th block, all coordinates, row after row.
  [[nodiscard]] const double* block(int observation, std::size_t n) const {
    return values_.data() + start_[first_[observation] + n];
  }

 private:
  std::vector<std::size_t> first_;  ///< of an observation in start_
  std::vector<std::size_t> start_;  ///< of a block's Jacobian in values_
  std::vector<double> values_;
  std::vector<char> known_;
};

}  // namespace calib::adjust::internal
