// Fitting 200 shapes of 12 correlated points each: every kind, and a mix of them all.
#include <benchmark/benchmark.h>

#include "measure/dossier/dossier.h"
#include "measure/shapes/fit_form.h"
#include "tests/support/shape_points.h"

namespace {

constexpr int kShapes = 200, kPoints = 12;

struct Prepared {
  measure::FormKind kind;
  testing_support::PointList points;
  Eigen::MatrixXd covariance;
};

std::vector<Prepared> prepared(std::span<const measure::FormKind> kinds) {
  std::vector<Prepared> shapes;
  for (std::uint32_t i = 0; i < kShapes; ++i) {
    const auto kind = kinds[i % kinds.size()];
    const auto shape = testing_support::make_shape_points(kind, kPoints, i + 1);
    std::mt19937 random(i);
    Eigen::MatrixXd covariance = testing_support::correlated_covariance(shape.points, 0.05, i);
    auto points = testing_support::Draws(covariance).moved(shape.points, random);
    shapes.push_back({kind, std::move(points), std::move(covariance)});
  }
  return shapes;
}

void fit_all(benchmark::State& state, std::span<const measure::FormKind> kinds) {
  const auto shapes = prepared(kinds);
  for (auto _ : state) {
    for (const Prepared& shape : shapes) {
      const auto fit =
          measure::fit_form(shape.kind, {.points = shape.points, .covariance = shape.covariance});
      if (!fit) state.SkipWithError("a shape was refused");
      benchmark::DoNotOptimize(fit);
    }
  }
}

}  // namespace

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  const std::span all(testing_support::kFittedKinds);
  for (std::size_t k = 0; k < all.size(); ++k) {
    benchmark::RegisterBenchmark(("fit 200 of kind " + measure::form_word(all[k])).c_str(), fit_all,
                                 all.subspan(k, 1))
        ->Unit(benchmark::kMillisecond);
  }
  benchmark::RegisterBenchmark("fit 200 of all kinds", fit_all, all)->Unit(benchmark::kMillisecond);
  benchmark::RunSpecifiedBenchmarks();
}
