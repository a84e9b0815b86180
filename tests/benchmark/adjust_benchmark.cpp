// The adjustment and its covariance beside stock Ceres, in one run: same start, threads, BLAS and
// tolerance.
//
// Every pair of benchmarks solves the same network. The counters of ours print the ratios that the
// bars are about; the name of the BLAS in use stands in the header.
#include <chrono>
#include <cmath>
#include <cstdio>
#include <map>
#include <random>

#include <benchmark/benchmark.h>
#include <ceres/autodiff_cost_function.h>
#include <ceres/covariance.h>
#include <ceres/manifold.h>
#include <ceres/problem.h>
#include <ceres/rotation.h>
#include <ceres/solver.h>
#include <dlfcn.h>

#include "calib/adjust/budget.h"
#include "calib/adjust/covariance.h"
#include "calib/adjust/snooping.h"
#include "calib/adjust/solve.h"
#include "tests/support/ring_network.h"

extern "C" {
void dpotrf_(const char* uplo, const int* n, double* a, const int* lda, int* info);
void dpotri_(const char* uplo, const int* n, double* a, const int* lda, int* info);
}

namespace {

using namespace calib::adjust;
using testing_support::make_ring_network;
using testing_support::RingNetwork;
using Clock = std::chrono::steady_clock;

constexpr int kThreads = 2;

double seconds_since(Clock::time_point start) {
  return std::chrono::duration<double>(Clock::now() - start).count();
}

/// What a user of stock Ceres would write.
struct AutoDiffMark {
  template <typename T>
  bool operator()(const T* pose, const T* c, const T* point, T* residual) const {
    T p[3];
    ceres::AngleAxisRotatePoint(pose, point, p);
    p[0] += pose[3];
    p[1] += pose[4];
    p[2] += pose[5];
    const T x = p[0] / p[2], y = p[1] / p[2], r2 = x * x + y * y;
    const T radial = T(1) + r2 * (c[4] + r2 * (c[5] + r2 * c[8]));
    const T xd = x * radial + T(2) * c[6] * x * y + c[7] * (r2 + T(2) * x * x);
    const T yd = y * radial + c[6] * (r2 + T(2) * y * y) + T(2) * c[7] * x * y;
    residual[0] = (c[0] * xd + c[2] - T(u)) / T(0.5);
    residual[1] = (c[1] * yd + c[3] - T(v)) / T(0.5);
    return true;
  }
  double u, v;
};

const RingNetwork& network(int photos, int points, bool shared_camera,
                           bool neighbours_only = false) {
  static std::map<std::tuple<int, int, bool, bool>, RingNetwork> made;
  const auto key = std::make_tuple(photos, points, shared_camera, neighbours_only);
  auto at = made.find(key);
  if (at == made.end()) {
    testing_support::RingNetworkSpec spec;
    spec.photo_count = photos;
    spec.point_count = points;
    spec.marks_a_point = 6;
    spec.camera_prior = shared_camera;
    spec.neighbours_only = neighbours_only;
    at = made.emplace(key, make_ring_network(spec)).first;
  }
  return at->second;
}

/// A ring's network in Ceres' own hands; analytic marks or auto-diff ones.
struct StockProblem {
  std::unique_ptr<ceres::Problem> problem;
  std::vector<Eigen::VectorXd> values;
  std::shared_ptr<ceres::ParameterBlockOrdering> ordering;

  StockProblem(const RingNetwork& ring, const Datum& datum, bool auto_diff) {
    const Network& net = ring.network;
    values = net.snapshot();
    ceres::Problem::Options options;
    options.cost_function_ownership =
        auto_diff ? ceres::TAKE_OWNERSHIP : ceres::DO_NOT_TAKE_OWNERSHIP;
    options.disable_all_safety_checks = true;
    problem = std::make_unique<ceres::Problem>(options);
    ordering = std::make_shared<ceres::ParameterBlockOrdering>();
    std::vector<std::vector<int>> held(values.size());
    for (const auto& [block, coordinate] : datum.held) held[block.index].push_back(coordinate);
    for (std::size_t b = 0; b < values.size(); ++b) {
      const Block& block = net.blocks()[b];
      const int size = static_cast<int>(values[b].size());
      problem->AddParameterBlock(values[b].data(), size);
      for (int k = 0; k < size; ++k) {
        if (block.held[k]) held[b].push_back(k);
      }
      std::sort(held[b].begin(), held[b].end());
      if (static_cast<int>(held[b].size()) == size) {
        problem->SetParameterBlockConstant(values[b].data());
      } else if (!held[b].empty()) {
        problem->SetManifold(values[b].data(), new ceres::SubsetManifold(size, held[b]));
      }
      ordering->AddElementToGroup(values[b].data(), block.role == BlockRole::kEliminated ? 0 : 1);
    }
    std::size_t mark = 0;
    for (const Observation& observation : net.observations()) {
      std::vector<double*> parameters;
      for (const BlockId id : observation.blocks) parameters.push_back(values[id.index].data());
      const bool is_mark = parameters.size() == 3;
      if (!auto_diff) {
        problem->AddResidualBlock(observation.cost.get(), nullptr, parameters);
      } else if (is_mark) {
        const Eigen::Vector2d position = ring.positions_px[mark++];
        problem->AddResidualBlock(new ceres::AutoDiffCostFunction<AutoDiffMark, 2, 6, 9, 3>(
                                      new AutoDiffMark{position.x(), position.y()}),
                                  nullptr, parameters);
      } else {
        problem->AddResidualBlock(new Borrowed(observation.cost.get()), nullptr, parameters);
      }
    }
  }

  /// The bar and the prior are the same function on both sides.
  class Borrowed : public ceres::CostFunction {
   public:
    explicit Borrowed(const ceres::CostFunction* inner) : inner_(inner) {
      set_num_residuals(inner->num_residuals());
      *mutable_parameter_block_sizes() = inner->parameter_block_sizes();
    }
    bool Evaluate(double const* const* p, double* r, double** j) const override {
      return inner_->Evaluate(p, r, j);
    }

   private:
    const ceres::CostFunction* inner_;
  };

  ceres::Solver::Summary solve(ceres::LinearSolverType type) {
    ceres::Solver::Options options;
    options.linear_solver_type = type;
    options.linear_solver_ordering = ordering;
    options.num_threads = kThreads;
    options.function_tolerance = 1e-12;
    options.gradient_tolerance = 1e-14;
    options.parameter_tolerance = 1e-13;
    options.max_num_iterations = 100;
    options.logging_type = ceres::SILENT;
    if (type == ceres::DENSE_SCHUR) options.dense_linear_algebra_library_type = ceres::LAPACK;
    ceres::Solver::Summary summary;
    ceres::Solve(options, problem.get(), &summary);
    return summary;
  }
};

void adjust_beside_stock(benchmark::State& state) {
  const RingNetwork& ring =
      network(static_cast<int>(state.range(0)), static_cast<int>(state.range(1)), true);
  const Datum datum = find_datum(ring.network);
  auto& net = const_cast<RingNetwork&>(ring).network;
  const auto start = net.snapshot();
  double ours = 0, stock = 0, ours_cost = 0, stock_cost = 0;
  for (auto _ : state) {
    net.restore(start);
    auto t = Clock::now();
    SolveOptions options;
    options.threads = kThreads;
    ours_cost = solve(net, datum, options).cost;
    ours = seconds_since(t);
    net.restore(start);
    double best = 1e300;
    for (const auto type : {ceres::SPARSE_SCHUR, ceres::DENSE_SCHUR}) {
      StockProblem problem(ring, datum, true);
      t = Clock::now();
      stock_cost = problem.solve(type).final_cost;
      best = std::min(best, seconds_since(t));
    }
    stock = best;
    state.SetIterationTime(ours);
  }
  state.counters["stock_s"] = stock;
  state.counters["ratio"] = ours / stock;
  state.counters["cost_difference"] = std::abs(ours_cost - stock_cost) / stock_cost;
}
BENCHMARK(adjust_beside_stock)
    ->Args({20, 200})
    ->Args({100, 2000})
    ->Args({500, 10000})
    ->UseManualTime()
    ->Unit(benchmark::kMillisecond)
    ->Iterations(1)
    ->Repetitions(1);

void derivatives_beside_auto_diff(benchmark::State& state) {
  const RingNetwork& ring = network(100, 2000, true);
  const Datum datum = find_datum(ring.network);
  StockProblem analytic(ring, datum, false), automatic(ring, datum, true);
  const auto evaluate = [](StockProblem& problem) {
    std::vector<double> residuals;
    ceres::CRSMatrix jacobian;
    double cost = 0;
    ceres::Problem::EvaluateOptions options;
    options.num_threads = 1;
    (void)options;
    (void)jacobian;
    (void)cost;
    // The cost functions alone: the sparse matrix's book-keeping is the same for both.
    double sum = 0;
    std::vector<ceres::ResidualBlockId> ids;
    problem.problem->GetResidualBlocks(&ids);
    double r[16], j0[200], j1[200], j2[200];
    double* j[] = {j0, j1, j2};
    const auto t = Clock::now();
    for (const auto id : ids) {
      std::vector<double*> parameters;
      problem.problem->GetParameterBlocksForResidualBlock(id, &parameters);
      if (parameters.size() != 3) continue;
      problem.problem->GetCostFunctionForResidualBlock(id)->Evaluate(parameters.data(), r, j);
      sum += r[0];
    }
    benchmark::DoNotOptimize(sum);
    return seconds_since(t);
  };
  double a = 0, b = 0;
  for (auto _ : state) {
    a = evaluate(analytic);
    b = evaluate(automatic);
    state.SetIterationTime(a);
  }
  state.counters["auto_diff_s"] = b;
  state.counters["ratio"] = a / b;
}
BENCHMARK(derivatives_beside_auto_diff)
    ->UseManualTime()
    ->Unit(benchmark::kMillisecond)
    ->Iterations(20);

/// Covariance of everything against the dense inverse of its reduced system alone.
void covariance_beside_inverse(benchmark::State& state) {
  const bool shared = state.range(2) != 0;
  const RingNetwork& ring = network(static_cast<int>(state.range(0)),
                                    static_cast<int>(state.range(1)), shared, state.range(3) != 0);
  const Datum datum = find_datum(ring.network);
  auto& net = const_cast<RingNetwork&>(ring).network;
  solve(net, datum);
  double ours = 0, inverse = 0, pair_us = 0;
  for (auto _ : state) {
    auto t = Clock::now();
    const auto covariance = Covariance::compute(net, datum);
    double trace = 0;
    for (std::size_t b = 0; b < net.blocks().size(); ++b) {
      const std::array<BlockId, 1> one{BlockId{static_cast<int>(b)}};
      trace += covariance->joint(one)(0, 0);
    }
    benchmark::DoNotOptimize(trace);
    ours = seconds_since(t);
    state.SetIterationTime(ours);

    const int n = 6 * static_cast<int>(state.range(0)) + (shared ? 8 : 0);
    Eigen::MatrixXd matrix = Eigen::MatrixXd::Random(n, n);
    matrix = Eigen::MatrixXd(matrix.selfadjointView<Eigen::Lower>());
    matrix.diagonal().array() += 2.0 * n;
    int info = 0;
    t = Clock::now();
    dpotrf_("L", &n, matrix.data(), &n, &info);
    dpotri_("L", &n, matrix.data(), &n, &info);
    inverse = seconds_since(t);

    std::mt19937 random(1);
    std::uniform_int_distribution<std::size_t> pick(2, ring.points.size() - 1);
    constexpr int kPairs = 2000;
    t = Clock::now();
    for (int i = 0; i < kPairs; ++i) {
      const std::array<BlockId, 2> pair{ring.points[pick(random)], ring.points[pick(random)]};
      benchmark::DoNotOptimize(covariance->joint(pair)(0, 3));
    }
    pair_us = seconds_since(t) / kPairs * 1e6;
  }
  state.counters["inverse_s"] = inverse;
  state.counters["ratio"] = ours / inverse;
  state.counters["pair_us"] = pair_us;
}
BENCHMARK(covariance_beside_inverse)
    ->ArgNames({"photos", "points", "prior_camera", "neighbours_only"})
    ->Args({100, 2000, 1, 0})
    ->Args({100, 5000, 1, 0})
    ->Args({500, 10000, 0, 0})
    ->Args({500, 10000, 1, 0})
    ->Args({500, 10000, 1, 1})
    ->UseManualTime()
    ->Unit(benchmark::kMillisecond)
    ->Iterations(2);

/// Covariance of everything beside ceres::Covariance; the largest difference, relative to √(Σii
/// Σjj).
void covariance_beside_stock(benchmark::State& state) {
  const RingNetwork& ring =
      network(static_cast<int>(state.range(0)), static_cast<int>(state.range(1)), true);
  const Datum datum = find_datum(ring.network);
  auto& net = const_cast<RingNetwork&>(ring).network;
  solve(net, datum);
  double ours = 0, stock = 0, worst = 0;
  for (auto _ : state) {
    auto t = Clock::now();
    const auto covariance = Covariance::compute(net, datum);
    std::vector<Eigen::MatrixXd> blocks;
    for (std::size_t b = 0; b < net.blocks().size(); ++b) {
      const std::array<BlockId, 1> one{BlockId{static_cast<int>(b)}};
      blocks.push_back(covariance->joint(one));
    }
    ours = seconds_since(t);
    state.SetIterationTime(ours);
    StockProblem problem(ring, datum, false);
    ceres::Covariance::Options options;
    options.algorithm_type = ceres::SPARSE_QR;
    options.num_threads = kThreads;
    t = Clock::now();
    ceres::Covariance other(options);
    std::vector<std::pair<const double*, const double*>> wanted;
    for (const auto& value : problem.values) wanted.emplace_back(value.data(), value.data());
    if (!other.Compute(wanted, problem.problem.get())) {
      state.SkipWithError("ceres::Covariance failed");
      break;
    }
    stock = seconds_since(t);
    for (std::size_t b = 0; b < blocks.size(); ++b) {
      const Eigen::Index n = blocks[b].rows();
      Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> theirs(n, n);
      other.GetCovarianceBlock(problem.values[b].data(), problem.values[b].data(), theirs.data());
      for (Eigen::Index i = 0; i < n; ++i) {
        for (Eigen::Index j = 0; j < n; ++j) {
          const double scale = std::sqrt(theirs(i, i) * theirs(j, j));
          if (scale > 0) worst = std::max(worst, std::abs(theirs(i, j) - blocks[b](i, j)) / scale);
        }
      }
    }
  }
  state.counters["stock_s"] = stock;
  state.counters["times_as_fast"] = stock / ours;
  state.counters["largest_difference"] = worst;
}
BENCHMARK(covariance_beside_stock)
    ->Args({20, 200})
    ->Args({100, 2000})
    ->Args({100, 5000})
    ->UseManualTime()
    ->Unit(benchmark::kMillisecond)
    ->Iterations(1);

/// What the desk does after each mark: solves from the last solution, then covariance, the test of
/// every mark, and U of some dimensions with their budgets.
void after_one_mark(benchmark::State& state) {
  RingNetwork ring = make_ring_network({.photo_count = static_cast<int>(state.range(0)),
                                        .point_count = static_cast<int>(state.range(1)),
                                        .marks_a_point = 6});
  Network& net = ring.network;
  net.set_active(ring.marks.back().observation, false);
  const auto last = adjust(net, find_datum(net));
  if (!last) {
    state.SkipWithError("singular");
    return;
  }
  net.set_active(ring.marks.back().observation, true);
  const auto start = net.snapshot();
  const auto milliseconds_since = [](Clock::time_point from) { return 1e3 * seconds_since(from); };
  double solve_ms = 0, covariance_ms = 0, tests_ms = 0, dimensions_ms = 0;
  for (auto _ : state) {
    net.restore(start);
    auto t = Clock::now();
    const Datum datum = find_datum(net);
    benchmark::DoNotOptimize(solve(net, datum).cost);
    solve_ms += milliseconds_since(t);
    t = Clock::now();
    const auto covariance = Covariance::compute(net, datum);
    covariance_ms += milliseconds_since(t);
    t = Clock::now();
    const FitStatistics fit = fit_statistics(net, *covariance);
    double largest_w = 0;
    for (const Suspect& mark : ring.marks)
      largest_w = std::max(largest_w, test_mark(net, *covariance, fit, mark.observation).w);
    benchmark::DoNotOptimize(largest_w);
    tests_ms += milliseconds_since(t);
    t = Clock::now();
    for (std::size_t i = 2; i + 2 < 22; ++i) {
      const BlockId a = ring.points[i], b = ring.points[ring.points.size() - i];
      const Eigen::Vector3d along = (net.block(b).values - net.block(a).values).normalized();
      benchmark::DoNotOptimize(
          variance_budget(net, *covariance, {{a, b}, {-along, along}}).variance);
    }
    dimensions_ms += milliseconds_since(t);
  }
  const auto rounds = static_cast<double>(state.iterations());
  state.counters["solve_ms"] = solve_ms / rounds;
  state.counters["covariance_ms"] = covariance_ms / rounds;
  state.counters["tests_ms"] = tests_ms / rounds;
  state.counters["18_dimensions_ms"] = dimensions_ms / rounds;
}
BENCHMARK(after_one_mark)->Args({50, 500})->Unit(benchmark::kMillisecond);

}  // namespace

int main(int argc, char** argv) {
  Dl_info info;
  if (dladdr(reinterpret_cast<void*>(&dpotrf_), &info)) std::printf("LAPACK: %s\n", info.dli_fname);
  benchmark::Initialize(&argc, argv);
  benchmark::RunSpecifiedBenchmarks();
  return 0;
}
