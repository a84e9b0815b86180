// How long a person waits: opening a 24-megapixel JPEG, showing a point in many photographs.
//
// The photograph is painted by formula with noise in every pixel, so that it has about as many
// bytes as one from a camera. "reduced" is when something can be seen, "whole" when all is there.
#include <QApplication>
#include <QElapsedTimer>
#include <QEventLoop>
#include <cmath>
#include <cstdlib>
#include <filesystem>

#include <benchmark/benchmark.h>

#include "calib/board/photo_file.h"
#include "tests/desk/photos/painted_photo.h"
#include "tools/desk/photos/jpeg_codec.h"
#include "tools/desk/photos/photo_canvas.h"
#include "tools/desk/photos/photo_store.h"
#include "tools/desk/photos/read_pyramid.h"
#include "tools/desk/photos/sample.h"
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

desk::PhotoTrace many_marks() {
  desk::PhotoTrace trace;
  for (int m = 0; m < 100; ++m) {
    trace.marks.push_back({.point = std::string("P").append(std::to_string(m)),
                           .at = QPointF(600.0 * (m % 10) + 300, 400.0 * (m / 10) + 200),
                           .label = "P" + QString::number(m)});
  }
  for (int c = 0; c < 20; ++c) {
    desk::TracedCurve curve{.label = "length  123.456 ± 0.078 mm", .ends = true};
    for (int v = 0; v < 100; ++v) {
      curve.course << QPointF(60.0 * v, 200.0 * c + 0.01 * (v - 50) * (v - 50));
    }
    trace.curves.push_back(curve);
  }
  return trace;
}

// The parts of a frame.
void sample_view(benchmark::State& state) {
  const auto pyramid = *desk::read_whole("large.jpg", bytes());
  const desk::ViewMap view{{3000, 2000}, 1.3, 0.0, {1600, 1000}};
  const auto smoothness = state.range(0) ? desk::Smoothness::kSmooth : desk::Smoothness::kNearest;
  for (auto _ : state) {
    benchmark::DoNotOptimize(desk::sample(
        pyramid->size, view, 0, 3,
        [&](int level, const cv::Rect& part) {
          const QImage& from = pyramid->levels[level];
          return cv::Mat(from.height(), from.width(), CV_8UC4, const_cast<uchar*>(from.constBits()),
                         from.bytesPerLine())(part);
        },
        smoothness));
  }
}
void tone_view(benchmark::State& state) {
  const desk::ViewMap view{{3000, 2000}, 1.3, 0.0, {1600, 1000}};
  const desk::LocalLight light(*desk::read_thumbnail("large.jpg", bytes(), 320), {kWidth, kHeight});
  QImage image(1600, 1000, QImage::Format_ARGB32_Premultiplied);
  image.fill(QColor(40, 50, 60));
  for (auto _ : state) {
    QImage copy = image;
    desk::apply_tone(copy, view, {0.3, 0.2, state.range(0) ? 0.6 : 0.0}, light);
  }
}
void draw_trace(benchmark::State& state) {
  const desk::ViewMap view{{3000, 2000}, 0.25, 0.0, {1600, 1000}};
  const desk::PhotoTrace trace = many_marks();
  QImage image(1600, 1000, QImage::Format_RGB32);
  image.fill(Qt::gray);
  for (auto _ : state) {
    QPainter painter(&image);
    desk::draw_trace(painter, trace, view, {.labels = state.range(0) != 0});
  }
}
BENCHMARK(sample_view)->Arg(0)->Arg(1)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime();
BENCHMARK(tone_view)->Arg(0)->Arg(1)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime();
BENCHMARK(draw_trace)->Arg(0)->Arg(1)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime();

// One frame of panning or zooming, 1600 × 1000 widget pixels, with 100 marks and 20 curves.
// Argument 0: the photo as it is; 1: with brightness and local contrast.
class Frames {
 public:
  explicit Frames(bool toned)
      : store_({.cache = folder() / "cache"}), canvas_(&store_, nullptr, "", "") {
    store_.enter("large", folder() / "large.jpg");
    canvas_.resize(1600, 1000);
    canvas_.show_photo("large", {kWidth, kHeight});
    wait_for([&] {
      const auto photo = store_.photo("large", desk::PhotoStore::Want::kNow);
      return photo && photo->complete() && store_.idle();
    });
    const desk::PhotoTrace trace = many_marks();
    canvas_.set_trace(trace);
    if (toned) canvas_.set_tone({0.3, 0.2, 0.6});
    canvas_.render(&frame_);
  }
  desk::PhotoCanvas& canvas() { return canvas_; }
  void paint() { canvas_.render(&frame_); }

 private:
  desk::PhotoStore store_;
  desk::PhotoCanvas canvas_;
  QImage frame_ = QImage(1600, 1000, QImage::Format_RGB32);
};

void pan_frame(benchmark::State& state) {
  Frames frames(state.range(0) != 0);
  frames.canvas().centre_on({3000, 2000}, 1.0);
  double way = 7;
  for (auto _ : state) {
    frames.canvas().pan_by({way, 3});
    if (std::abs(frames.canvas().view().centre_px.x() - 3000) > 1500) way = -way;
    frames.paint();
  }
}

void zoom_frame(benchmark::State& state) {
  Frames frames(state.range(0) != 0);
  double factor = 1.05;
  for (auto _ : state) {
    frames.canvas().zoom_by(factor, {700, 600});
    const double zoom = frames.canvas().view().zoom;
    if (zoom > 8 || zoom < 0.2) factor = 1 / factor;
    frames.paint();
  }
}

BENCHMARK(pan_frame)->Arg(0)->Arg(1)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime();
BENCHMARK(zoom_frame)->Arg(0)->Arg(1)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime();
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
