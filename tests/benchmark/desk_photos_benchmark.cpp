// How long a person waits: opening a 24-megapixel JPEG, showing a point in many photographs.
//
// The photograph is painted by formula with noise in every pixel, so that it has about as many
// bytes as one from a camera. "reduced" is when something can be seen, "whole" when all is there.
#include <QApplication>
#include <QElapsedTimer>
#include <QEventLoop>
#include <cstdlib>
#include <filesystem>

#include <benchmark/benchmark.h>

#include "calib/board/photo_file.h"
#include "tests/desk/photos/painted_photo.h"
#include "tools/desk/photos/jpeg_codec.h"
#include "tools/desk/photos/photo_store.h"
#include "tools/desk/photos/read_pyramid.h"
#include "tools/desk/photos/tile_file.h"

namespace {

constexpr int kWidth = 6000, kHeight = 4000;

const std::filesystem::path& folder() {
  static const std::filesystem::path made = [] {
    std::string pattern = (std::filesystem::temp_directory_path() / "scantling-XXXXXX").string();
    std::filesystem::path path = ::mkdtemp(pattern.data());
    testing_support::write_photo(path / "large.jpg",
                                 testing_support::painted_photo(kWidth, kHeight), 92);
    return path;
  }();
  return made;
}

const calib::PhotoBytes& bytes() {
  static const calib::PhotoBytes read = *calib::read_photo_bytes(folder() / "large.jpg");
  return read;
}

void wait_for(const std::function<bool()>& done) {
  while (!done()) QCoreApplication::processEvents(QEventLoop::WaitForMoreEvents, 1);
}

void read_reduced(benchmark::State& state) {
  for (auto _ : state) benchmark::DoNotOptimize(desk::read_reduced(bytes()));
  state.counters["file_MB"] = static_cast<double>(bytes().bytes.size()) / 1e6;
}
void read_whole(benchmark::State& state) {
  for (auto _ : state) benchmark::DoNotOptimize(desk::read_whole("large.jpg", bytes()));
}
void decode_by_opencv(benchmark::State& state) {
  for (auto _ : state) {
    benchmark::DoNotOptimize(cv::imdecode(bytes().bytes, cv::IMREAD_COLOR));
  }
}
void cut_into_tiles(benchmark::State& state) {
  for (auto _ : state) benchmark::DoNotOptimize(desk::TileFile::cut(bytes()));
}

// From asking to the reduced picture, and to all of it.
void open_photo(benchmark::State& state) {
  double reduced_ms = 0, whole_ms = 0;
  for (auto _ : state) {
    desk::PhotoStore store({.cache = folder() / "cache"});
    store.enter("large", folder() / "large.jpg");
    QElapsedTimer timer;
    timer.start();
    wait_for([&] { return store.photo("large", desk::PhotoStore::Want::kNow) != nullptr; });
    reduced_ms += static_cast<double>(timer.nsecsElapsed()) / 1e6;
    wait_for([&] { return store.photo("large", desk::PhotoStore::Want::kNow)->complete(); });
    whole_ms += static_cast<double>(timer.nsecsElapsed()) / 1e6;
    state.counters["memory_MB"] = static_cast<double>(store.memory_bytes()) / 1e6;
  }
  state.counters["reduced_ms"] = reduced_ms / static_cast<double>(state.iterations());
  state.counters["whole_ms"] = whole_ms / static_cast<double>(state.iterations());
}

// One point in 50 photographs that were seen before: 300 × 300 pixels of each, from tiles alone.
void point_in_50_photos(benchmark::State& state) {
  desk::PhotoStore store({.cache = folder() / "cache"});
  const auto file = folder() / "large.jpg";
  for (int p = 0; p < 50; ++p) store.enter(std::to_string(p), file);
  for (int p = 0; p < 50; ++p) store.prepare(std::to_string(p));
  wait_for([&] { return store.idle(); });
  int round = 0;
  for (auto _ : state) {
    ++round;
    int shown = 0;
    wait_for([&] {
      shown = 0;
      for (int p = 0; p < 50; ++p) {
        // Elsewhere in each photo and each round: no tile is decoded already.
        const QRectF part(97 * (p + round) % 5500, 61 * (p + 3 * round) % 3500, 75, 75);
        shown += !store.cut_out(std::to_string(p), part, {300, 300}).isNull();
      }
      return shown == 50;
    });
  }
}

BENCHMARK(read_reduced)->Unit(benchmark::kMillisecond);
BENCHMARK(read_whole)->Unit(benchmark::kMillisecond);
BENCHMARK(decode_by_opencv)->Unit(benchmark::kMillisecond);
BENCHMARK(cut_into_tiles)->Unit(benchmark::kMillisecond);
BENCHMARK(open_photo)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(point_in_50_photos)->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace

int main(int argc, char** argv) {
  qputenv("QT_QPA_PLATFORM", "offscreen");
  QApplication application(argc, argv);
  benchmark::Initialize(&argc, argv);
  benchmark::RunSpecifiedBenchmarks();
  std::error_code ignored;
  std::filesystem::remove_all(folder(), ignored);
}
