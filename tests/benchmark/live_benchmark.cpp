// From a new mark to new numbers: what the desk waits for after every click. 50 photos x 500
// points, six marks a point, 30 dimensions in three scales.
#include <benchmark/benchmark.h>

#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/live/weak_spots.h"
#include "tests/support/simulated_survey.h"

namespace {

using namespace measure;

struct Fixture {
  testing_support::SimulatedSurvey sim;
  std::optional<Survey> solved;

  Fixture() {
    sim = testing_support::make_simulated_survey(
        {.photo_count = 50, .point_count = 500, .marks_a_point = 6, .seed = 5});
    sim.dossier.model_scale = ScaleRatio{48, 0};
    sim.dossier.replica_scales = {ScaleRatio{72, 0}};
    // Not the near-zero ones: they are drawn anew, which takes its own time.
    std::erase_if(sim.dossier.dimensions,
                  [](const AskedDimension& d) { return d.name.starts_with("near zero"); });
    for (std::size_t i = 0; sim.dossier.dimensions.size() < 30; ++i) {
      sim.dossier.dimensions.push_back(
          {"width " + std::to_string(i),
           Distance{sim.dossier.points[20 + 2 * i].name, sim.dossier.points[60 + 3 * i].name}});
    }
    auto survey = solve_survey(sim.dossier, sim.cameras);
    if (survey) solved.emplace(std::move(*survey));
  }
  static Fixture& get() {
    static Fixture fixture;
    return fixture;
  }
};

void after_one_mark(benchmark::State& state, bool test) {
  Fixture& fixture = Fixture::get();
  if (!fixture.solved) {
    state.SkipWithError("the survey could not be solved");
    return;
  }
  Dossier dossier = fixture.sim.dossier;
  double shift = 0.3;
  for (auto _ : state) {
    dossier.marks[1234].position_px.x() += shift;
    shift = -shift;
    SurveyOptions options;
    options.start = &*fixture.solved;
    options.look_for_blunders = test;
    const auto survey = solve_survey(dossier, fixture.sim.cameras, options);
    if (!survey) {
      state.SkipWithError(survey.error().sentence.c_str());
      return;
    }
    benchmark::DoNotOptimize(evaluate_dimensions(*survey, dossier));
  }
}

void BM_NumbersAfterOneMark(benchmark::State& state) { after_one_mark(state, false); }
BENCHMARK(BM_NumbersAfterOneMark)->Unit(benchmark::kMillisecond)->UseRealTime();
void BM_DoubtsAfterOneMark(benchmark::State& state) { after_one_mark(state, true); }
BENCHMARK(BM_DoubtsAfterOneMark)->Unit(benchmark::kMillisecond)->UseRealTime();

void BM_DimensionsAlone(benchmark::State& state) {
  Fixture& fixture = Fixture::get();
  for (auto _ : state) {
    benchmark::DoNotOptimize(evaluate_dimensions(*fixture.solved, fixture.sim.dossier));
  }
}
BENCHMARK(BM_DimensionsAlone)->Unit(benchmark::kMillisecond)->UseRealTime();

void BM_FromNothing(benchmark::State& state) {
  Fixture& fixture = Fixture::get();
  for (auto _ : state) {
    benchmark::DoNotOptimize(solve_survey(fixture.sim.dossier, fixture.sim.cameras));
  }
}
BENCHMARK(BM_FromNothing)->Unit(benchmark::kMillisecond)->UseRealTime()->Iterations(1);

void BM_WeakSpots(benchmark::State& state) {
  Fixture& fixture = Fixture::get();
  const auto results = evaluate_dimensions(*fixture.solved, fixture.sim.dossier);
  for (auto _ : state) {
    benchmark::DoNotOptimize(
        find_weak_spots(*fixture.solved, fixture.sim.dossier, results, {.tolerance_mm = 0.01}));
  }
}
BENCHMARK(BM_WeakSpots)->Unit(benchmark::kMillisecond)->UseRealTime()->Iterations(1);

}  // namespace

BENCHMARK_MAIN();
