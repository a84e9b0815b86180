// How long an edit takes to be done, beside what the disk alone takes to write as many bytes and
// fsync them. Run it where dossiers lie: TMPDIR=… journal_benchmark.
#include <benchmark/benchmark.h>
#include <fcntl.h>
#include <unistd.h>

#include "measure/edit/apply.h"
#include "measure/store/open_dossier.h"
#include "tests/calib/file/scratch_folder.h"
#include "tests/measure/edit/small_dossier.h"

namespace {

using measure::OpenDossier;

measure::Edit mark_at(double x) {
  return measure::set_mark({"a.jpg", "A", {x, 12.0}, 0.5, measure::MarkSource::kByHand, false});
}

OpenDossier opened(const std::filesystem::path& folder) {
  const auto made = measure::create_dossier(folder, testing_support::small_dossier());
  auto open = OpenDossier::open_for_change(
      folder, {.fold_after_edits = 1u << 30, .fold_after_bytes = 1u << 30});
  if (!made || !open) {
    std::abort();
  }
  return std::move(*open);
}

void disk_alone(benchmark::State& state) {
  const testing_support::ScratchFolder folder;
  const int file = ::open((folder / "plain").c_str(), O_WRONLY | O_CREAT | O_APPEND, 0644);
  const std::string line(240, 'x');  // a journal line of one mark has 240 bytes
  for (auto _ : state) {
    benchmark::DoNotOptimize(::write(file, line.data(), line.size()));
    ::fsync(file);
  }
  ::close(file);
}
BENCHMARK(disk_alone)->Unit(benchmark::kMicrosecond)->UseRealTime();

void one_edit(benchmark::State& state) {
  const testing_support::ScratchFolder folder;
  OpenDossier open = opened(folder / "dossier");
  double x = 0.0;
  for (auto _ : state) {
    if (!open.change(mark_at(x = x < 2000.0 ? x + 0.5 : 0.0))) {
      state.SkipWithError("not done");
    }
  }
}
BENCHMARK(one_edit)->Unit(benchmark::kMicrosecond)->UseRealTime();

void a_hundred_edits_together(benchmark::State& state) {
  const testing_support::ScratchFolder folder;
  OpenDossier open = opened(folder / "dossier");
  std::vector<measure::NamedEdit> edits;
  for (int i = 0; i < 100; ++i) {
    edits.push_back({mark_at(i), ""});
  }
  for (auto _ : state) {
    if (!open.change_all(edits)) {
      state.SkipWithError("not done");
    }
  }
}
BENCHMARK(a_hundred_edits_together)->Unit(benchmark::kMicrosecond)->UseRealTime();

}  // namespace

BENCHMARK_MAIN();
