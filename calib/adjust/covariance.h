// Covariance on demand: one factorisation of the reduced system, then any joint covariance is a
// small product.
#pragma once

#include <memory>
#include <span>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "calib/adjust/datum.h"
#include "calib/adjust/network.h"
#include "calib/base/result.h"

namespace calib::adjust {

/// Why there is no covariance. `item` names the block that the observations do not determine.
struct CovarianceError {
  enum class Kind { kSingular, kEliminatedBlocksShareObservation } kind = Kind::kSingular;
  std::string item;
};

/// The inverse normal matrix of a network at the values and group scales it has when this is
/// computed; so are the Jacobians that its functions use.
///
/// With eliminated blocks i (normal block C_i, coupling E_i to the kept ones):
///   Σ_cc = (N_cc − Σ E_i C_i⁻¹ E_iᵀ)⁻¹,  Σ_ci = −Σ_cc E_i C_i⁻¹,
///   Σ_ij = δ_ij C_i⁻¹ + C_i⁻¹ E_iᵀ Σ_cc E_j C_j⁻¹.
/// Blocks come back in all their coordinates; held ones have zero rows and columns.
/// With each eliminated block its own covariance and Σ_ci with the kept blocks it shares
/// observations with are made at once: redundancies of all marks then cost little, and a pair of
/// points one small product. Everything is in the minimal datum unless the name says otherwise;
/// what depends only on shape and, with a scale bar, size is the same in every datum.
class Covariance {
 public:
  [[nodiscard]] static Result<Covariance, CovarianceError> compute(const Network& network,
                                                                   const Datum& datum);
  Covariance(Covariance&&) noexcept;
  Covariance& operator=(Covariance&&) noexcept;
  ~Covariance();

  /// Joint covariance of the blocks, in the order given.
  [[nodiscard]] Eigen::MatrixXd joint(std::span<const BlockId> blocks) const;
  /// Covariance between two blocks.
  [[nodiscard]] Eigen::MatrixXd between(BlockId a, BlockId b) const;
  /// Joint covariance in the datum of inner constraints over all points (free network):
  /// Σ' = SΣSᵀ, S = I − G(GᵀDG)⁻¹GᵀD, D selecting all points.
  [[nodiscard]] Eigen::MatrixXd joint_inner(std::span<const BlockId> blocks) const;

  /// Q·f for a gradient f on some blocks: the covariance of every block with the function.
  /// @return one vector a block of the network (empty for blocks not in use).
  [[nodiscard]] std::vector<Eigen::VectorXd> times(std::span<const BlockId> blocks,
                                                   std::span<const Eigen::VectorXd> gradient) const;

  /// J·x of one observation in scaled units, x as times() gives it.
  [[nodiscard]] Eigen::VectorXd jacobian_times(ObservationId id,
                                               const std::vector<Eigen::VectorXd>& moved) const;

  /// Adds Jᵀ·weight of one observation, scaled units, to one vector a block (all coordinates).
  void add_jacobian_transposed(ObservationId id, const Eigen::VectorXd& weight,
                               std::vector<Eigen::VectorXd>& by_block) const;

  /// I − J Q Jᵀ of one observation in scaled units: the part of its variance that shows in its
  /// residuals. Also right for an observation that is not active, as I + J Q Jᵀ (the variance of
  /// its prediction error).
  [[nodiscard]] Eigen::MatrixXd residual_cofactor(ObservationId id) const;

  /// Number of unknowns left after holding.
  [[nodiscard]] int unknowns() const;

 private:
  struct State;
  explicit Covariance(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

}  // namespace calib::adjust
