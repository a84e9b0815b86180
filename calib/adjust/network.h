// What an adjustment is made of: variable blocks, observations, and groups of observations.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>
#include <ceres/cost_function.h>

namespace calib::adjust {

/// How a block changes when the object is moved, turned or scaled as a whole (the datum).
enum class DatumRole {
  kNone,   ///< not at all: camera, temperature
  kPoint,  ///< X → s·R·X + T: three coordinates
  kPose,   ///< rotation vector and translation of camera_from_object: six coordinates
  kOwn,    ///< as Block::motions says
};

/// Whether a block stays in the reduced system or is eliminated first.
/// Only blocks that share no observation with each other may be eliminated.
enum class BlockRole { kKept, kEliminated };

struct BlockId {
  int index = -1;
  friend bool operator==(BlockId, BlockId) = default;
};
struct GroupId {
  int index = -1;
  friend bool operator==(GroupId, GroupId) = default;
};
struct ObservationId {
  int index = -1;
  friend bool operator==(ObservationId, ObservationId) = default;
};

/// Unknowns that belong together: a pose, a point, a camera, a temperature.
struct Block {
  std::string name;
  Eigen::VectorXd values;
  std::vector<bool> held;  ///< a coordinate, true: not varied
  DatumRole datum_role = DatumRole::kNone;
  BlockRole role = BlockRole::kKept;
  /// For kOwn: (values) × 7, as datum_motions() returns it; arguments: values, centre, radius.
  std::function<Eigen::MatrixXd(const Eigen::VectorXd&, const Eigen::Vector3d&, double)> motions =
      {};
};

/// Observations that share a variance factor.
struct Group {
  std::string name;
  /// Whether s0² is estimated from the residuals (marks) or the stated u is kept (bars, priors).
  bool factor_from_residuals = false;
  double scale = 1.0;  ///< s0 of the group: multiplies the a-priori σ of all its observations
};

/// One observation, already divided by its a-priori σ (decorrelated): a residual vector of unit
/// variance.
struct Observation {
  std::unique_ptr<ceres::CostFunction> cost;
  std::vector<BlockId> blocks;  ///< in the order of the cost function's parameters
  GroupId group;
  bool active = true;  ///< false: set aside
};

/// Blocks, observations and groups. Knows neither board nor dossier.
class Network {
 public:
  BlockId add_block(Block block);
  GroupId add_group(Group group);
  ObservationId add_observation(std::unique_ptr<ceres::CostFunction> cost,
                                std::vector<BlockId> blocks, GroupId group);

  [[nodiscard]] const std::vector<Block>& blocks() const { return blocks_; }
  [[nodiscard]] const std::vector<Observation>& observations() const { return observations_; }
  [[nodiscard]] const std::vector<Group>& groups() const { return groups_; }
  [[nodiscard]] const Block& block(BlockId id) const { return blocks_[id.index]; }
  [[nodiscard]] Block& block(BlockId id) { return blocks_[id.index]; }
  [[nodiscard]] const Observation& observation(ObservationId id) const {
    return observations_[id.index];
  }
  [[nodiscard]] const Group& group(GroupId id) const { return groups_[id.index]; }
  [[nodiscard]] Group& group(GroupId id) { return groups_[id.index]; }
  void set_active(ObservationId id, bool active) { observations_[id.index].active = active; }

  /// Whitened residuals of one observation at the present values (a-priori σ, group scale not
  /// applied).
  [[nodiscard]] Eigen::VectorXd residuals(ObservationId id) const;

  /// All values, to be put back by restore().
  [[nodiscard]] std::vector<Eigen::VectorXd> snapshot() const;
  void restore(const std::vector<Eigen::VectorXd>& values);

  /// Blocks that at least one active observation sees.
  [[nodiscard]] std::vector<bool> blocks_in_use() const;

 private:
  std::vector<Block> blocks_;
  std::vector<Observation> observations_;
  std::vector<Group> groups_;
};

}  // namespace calib::adjust
