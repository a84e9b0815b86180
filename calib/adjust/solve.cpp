#include "calib/adjust/solve.h"

#include <algorithm>

#include <ceres/loss_function.h>
#include <ceres/manifold.h>
#include <ceres/problem.h>
#include <ceres/solver.h>

namespace calib::adjust {
namespace {

class Cancel final : public ceres::IterationCallback {
 public:
  explicit Cancel(const std::function<bool()>& cancelled) : cancelled_(cancelled) {}
  ceres::CallbackReturnType operator()(const ceres::IterationSummary&) override {
    return cancelled_ && cancelled_() ? ceres::SOLVER_ABORT : ceres::SOLVER_CONTINUE;
  }

 private:
  const std::function<bool()>& cancelled_;
};

/// Largest reduced system that is factored densely without looking at how full it is.
constexpr int kDenseLimit = 600;

/// Trust region radius at the start, the inverse of the relative damping. An adjustment proper
/// starts from an orientation or from its own last solution, where Gauss-Newton's full step is
/// right: Ceres' cautious 1e4 cost it three or four of seven iterations. A step that fails is still
/// damped until it does not. The robust start may be far off and keeps the caution.
constexpr double kRadiusNearSolution = 1e8;

struct ReducedShape {
  int unknowns = 0;   ///< of kept blocks
  double fill = 0.0;  ///< share of pairs of kept blocks that see a common eliminated block
  bool eliminated = false;
};

ReducedShape reduced_shape(const Network& network, const std::vector<bool>& in_use) {
  ReducedShape shape;
  for (std::size_t b = 0; b < in_use.size(); ++b) {
    if (!in_use[b]) continue;
    const Block& block = network.blocks()[b];
    if (block.role == BlockRole::kEliminated) {
      shape.eliminated = true;
    } else {
      shape.unknowns += static_cast<int>(block.values.size());
    }
  }
  if (shape.unknowns <= kDenseLimit) return shape;
  // A bit a pair: neighbours-only rings stay sparse, all-around surveys fill up.
  std::vector<int> kept_number(in_use.size(), -1);
  int next = 0;
  std::vector<std::vector<int>> seen_by(in_use.size());
  for (std::size_t b = 0; b < in_use.size(); ++b) {
    if (in_use[b] && network.blocks()[b].role == BlockRole::kKept) kept_number[b] = next++;
  }
  for (const Observation& observation : network.observations()) {
    if (!observation.active) continue;
    int eliminated = -1;
    for (const BlockId id : observation.blocks) {
      if (network.block(id).role == BlockRole::kEliminated) eliminated = id.index;
    }
    if (eliminated < 0) continue;
    for (const BlockId id : observation.blocks) {
      if (kept_number[id.index] >= 0) seen_by[eliminated].push_back(kept_number[id.index]);
    }
  }
  std::vector<bool> pairs(static_cast<std::size_t>(next) * next, false);
  double filled = 0;
  for (auto& kept : seen_by) {
    std::sort(kept.begin(), kept.end());
    kept.erase(std::unique(kept.begin(), kept.end()), kept.end());
    for (const int a : kept) {
      for (const int b : kept) {
        auto bit = pairs[static_cast<std::size_t>(a) * next + b];
        if (!bit) {
          bit = true;
          filled += 1;
        }
      }
    }
  }
  shape.fill = filled / (static_cast<double>(next) * next);
  return shape;
}

}  // namespace

SolveSummary solve(Network& network, const Datum& datum, const SolveOptions& options) {
  const std::vector<bool> in_use = network.blocks_in_use();

  // Ceres orders the blocks of a group by where their values lie. One buffer, in the order of the
  // blocks: the same network gives the same bits, whatever was allocated before.
  std::vector<std::ptrdiff_t> at(in_use.size(), 0);
  std::ptrdiff_t count = 0;
  for (std::size_t b = 0; b < in_use.size(); ++b) {
    at[b] = count;
    if (in_use[b]) count += network.blocks()[b].values.size();
  }
  Eigen::VectorXd all(count);
  for (std::size_t b = 0; b < in_use.size(); ++b) {
    const Eigen::VectorXd& values = network.blocks()[b].values;
    if (in_use[b]) all.segment(at[b], values.size()) = values;
  }

  ceres::Problem::Options problem_options;
  problem_options.cost_function_ownership = ceres::DO_NOT_TAKE_OWNERSHIP;
  problem_options.loss_function_ownership = ceres::DO_NOT_TAKE_OWNERSHIP;
  problem_options.manifold_ownership = ceres::TAKE_OWNERSHIP;
  problem_options.enable_fast_removal = false;
  problem_options.disable_all_safety_checks = true;
  ceres::Problem problem(problem_options);

  std::vector<std::vector<int>> held(in_use.size());
  for (const auto& [block, coordinate] : datum.held) held[block.index].push_back(coordinate);
  auto ordering = std::make_shared<ceres::ParameterBlockOrdering>();
  for (std::size_t b = 0; b < in_use.size(); ++b) {
    if (!in_use[b]) continue;
    const Block& block = network.blocks()[b];
    double* values = all.data() + at[b];
    const int size = static_cast<int>(block.values.size());
    for (int k = 0; k < size; ++k) {
      if (block.held[k]) held[b].push_back(k);
    }
    std::sort(held[b].begin(), held[b].end());
    held[b].erase(std::unique(held[b].begin(), held[b].end()), held[b].end());
    problem.AddParameterBlock(values, size);
    if (static_cast<int>(held[b].size()) == size) {
      problem.SetParameterBlockConstant(values);
    } else if (!held[b].empty()) {
      problem.SetManifold(values, new ceres::SubsetManifold(size, held[b]));
    }
    ordering->AddElementToGroup(values, block.role == BlockRole::kEliminated ? 0 : 1);
  }

  std::vector<std::unique_ptr<ceres::LossFunction>> losses;
  for (const Group& group : network.groups()) {
    const double weight = 1 / (group.scale * group.scale);
    ceres::LossFunction* inner = options.robust && group.factor_from_residuals
                                     ? new ceres::HuberLoss(options.robust_width * group.scale)
                                     : nullptr;
    if (inner == nullptr && group.scale == 1.0) {
      losses.push_back(nullptr);
    } else {
      losses.push_back(std::make_unique<ceres::ScaledLoss>(inner, weight, ceres::TAKE_OWNERSHIP));
    }
  }
  std::vector<double*> parameters;
  for (const Observation& observation : network.observations()) {
    if (!observation.active) continue;
    parameters.clear();
    for (const BlockId id : observation.blocks) parameters.push_back(all.data() + at[id.index]);
    problem.AddResidualBlock(observation.cost.get(), losses[observation.group.index].get(),
                             parameters.data(), static_cast<int>(parameters.size()));
  }

  ceres::Solver::Options solver;
  const ReducedShape shape = reduced_shape(network, in_use);
  const bool dense = shape.unknowns <= kDenseLimit || shape.fill > 0.3;
  if (shape.eliminated) {
    solver.linear_solver_type = dense ? ceres::DENSE_SCHUR : ceres::SPARSE_SCHUR;
    solver.linear_solver_ordering = ordering;
  } else {
    solver.linear_solver_type = dense ? ceres::DENSE_QR : ceres::SPARSE_NORMAL_CHOLESKY;
  }
  if (shape.eliminated && !options.robust) solver.initial_trust_region_radius = kRadiusNearSolution;
  if (dense && shape.unknowns > kDenseLimit)
    solver.dense_linear_algebra_library_type = ceres::LAPACK;
  solver.max_num_iterations = options.max_iterations;
  solver.function_tolerance = options.function_tolerance;
  solver.gradient_tolerance = 1e-14;
  solver.parameter_tolerance = 1e-13;
  // Below some thousand observations handing work to threads costs more than the work.
  solver.num_threads = network.observations().size() < 3000 ? 1 : options.threads;
  solver.logging_type = ceres::SILENT;
  solver.minimizer_progress_to_stdout = false;
  Cancel cancel(options.cancelled);
  if (options.cancelled) solver.callbacks.push_back(&cancel);

  ceres::Solver::Summary ceres_summary;
  ceres::Solve(solver, &problem, &ceres_summary);

  SolveSummary summary;
  summary.cost = ceres_summary.final_cost;
  summary.iterations = static_cast<int>(ceres_summary.iterations.size()) - 1;
  summary.message = ceres_summary.message;
  switch (ceres_summary.termination_type) {
    case ceres::CONVERGENCE:
    case ceres::USER_SUCCESS:
      summary.termination = Termination::kConverged;
      break;
    case ceres::NO_CONVERGENCE:
      summary.termination = Termination::kIterationLimit;
      break;
    case ceres::USER_FAILURE:
      summary.termination = Termination::kCancelled;
      break;
    case ceres::FAILURE:
      summary.termination = Termination::kFailed;
      break;
  }
  if (summary.termination != Termination::kFailed &&
      summary.termination != Termination::kCancelled) {
    for (std::size_t b = 0; b < in_use.size(); ++b) {
      Eigen::VectorXd& values = network.block(BlockId{static_cast<int>(b)}).values;
      if (in_use[b]) values = all.segment(at[b], values.size());
    }
  }
  return summary;
}

}  // namespace calib::adjust
