// At the desk: from a new mark to new numbers on screen, and how long the thread of the widgets was
// not free meanwhile. 50 photos x 500 points, six marks a point.
#include <QApplication>
#include <QElapsedTimer>
#include <QStandardPaths>
#include <QTabWidget>
#include <QTableView>
#include <QTemporaryDir>
#include <QTimer>
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <ctime>

#include <benchmark/benchmark.h>

#include "calib/board/photo_hash.h"
#include "calib/file/camera_file.h"
#include "measure/store/dossier_file.h"
#include "tests/support/simulated_survey.h"
#include "tools/desk/window/desk_window.h"

namespace {

struct Open {
  QTemporaryDir scratch;
  QSettings settings{scratch.filePath("settings.ini"), QSettings::IniFormat};
  std::unique_ptr<desk::DeskWindow> window;

  Open() {
    auto sim = testing_support::make_simulated_survey(
        {.photo_count = 50, .point_count = 500, .marks_a_point = 6, .seed = 5});
    std::erase_if(sim.dossier.dimensions,
                  [](const measure::AskedDimension& d) { return d.name.starts_with("near zero"); });
    const std::filesystem::path folder = scratch.filePath("original").toStdString();
    std::filesystem::create_directories(folder / "cameras");
    const auto file = folder / "cameras" / "body.json";
    (void)calib::write_camera(file, sim.cameras.at("body"));
    sim.dossier.cameras = {
        {"body", "cameras/body.json", *calib::sha256_of_file(file), measure::CameraUse::kPrior}};
    // What is on the pictures does not matter here; no two may be the same.
    for (std::size_t p = 0; p < sim.dossier.photos.size(); ++p) {
      measure::Photo& photo = sim.dossier.photos[p];
      QImage picture(4000, 3000, QImage::Format_RGB32);
      picture.fill(QColor(int(3 * p), 90, 120));
      picture.save(QString::fromStdString((folder / photo.file).string()));
      photo.sha256 = *calib::sha256_of_file(folder / photo.file);
    }
    const auto by_name = [](const auto& a, const auto& b) { return a.name < b.name; };
    std::sort(sim.dossier.photos.begin(), sim.dossier.photos.end(), by_name);
    std::sort(sim.dossier.points.begin(), sim.dossier.points.end(), by_name);
    (void)measure::create_dossier(folder, sim.dossier);
    window = std::make_unique<desk::DeskWindow>(&settings);
    window->resize(1500, 950);
    window->show();
    if (!window->open_dossier(scratch.filePath("original"))) {
      std::fprintf(stderr, "%s\n", window->messages()->text().toStdString().c_str());
      std::exit(1);
    }
    wait([&] { return window->session() && window->session()->live()->tested; });
    QElapsedTimer rest;  // thumbnails and pictures
    rest.start();
    wait([&] { return rest.elapsed() > 8000; });
  }
  template <typename Condition>
  static void wait(Condition condition) {
    while (!condition()) QApplication::processEvents(QEventLoop::AllEvents, 5);
  }
};

/// Of this thread, without what other programs take of the processor.
double busy_ms() {
  timespec time{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &time);
  return 1e3 * double(time.tv_sec) + 1e-6 * double(time.tv_nsec);
}

// blocked_ms: the longest pause of a heartbeat; busy_ms: the most work between two beats; edit_ms:
// what asking for the edit took of the thread; written_ms: until it was on the disk and shown.
void BM_MarkToNumbersOnScreen(benchmark::State& state) {
  static Open open;
  desk::DeskSession& session = *open.window->session();
  // A heartbeat: its longest pause is how long nothing else could have been done either.
  auto* table =
      open.window->findChild<QTabWidget*>("side")->currentWidget()->findChild<QTableView*>();
  double longest_ms = 0, longest_busy_ms = 0, busy_before_ms = 0;
  QElapsedTimer beat;
  QTimer heart;
  heart.setTimerType(Qt::PreciseTimer);
  heart.setInterval(0);
  QObject::connect(&heart, &QTimer::timeout, [&] {
    longest_ms = std::max(longest_ms, 1e-6 * double(beat.nsecsElapsed()));
    beat.restart();
    longest_busy_ms = std::max(longest_busy_ms, busy_ms() - busy_before_ms);
    busy_before_ms = busy_ms();
  });
  double shift = 0.3;
  std::size_t which = 0;
  double worst_change_ms = 0, slowest_solve_ms = 0, slowest_write_ms = 0;
  for (auto _ : state) {
    measure::Mark mark = session.dossier().marks[(which += 131) % session.dossier().marks.size()];
    mark.position_px.x() += shift;
    shift = -shift;
    session.choose_point(mark.point);
    QElapsedTimer settle;
    settle.start();
    Open::wait([&] { return settle.elapsed() > 300; });
    bool shown = false;
    const auto connection = QObject::connect(&session, &desk::DeskSession::live_changed,
                                             [&] { shown = !session.live_is_behind(); });
    beat.start();
    busy_before_ms = busy_ms();
    heart.start();
    QElapsedTimer timer;
    timer.start();
    double written_ms = 0;
    session.change_soon(measure::set_mark(mark), &session,
                        [&](bool) { written_ms = 1e-6 * double(timer.nsecsElapsed()); });
    worst_change_ms = std::max(worst_change_ms, 1e-6 * double(timer.nsecsElapsed()));
    Open::wait([&] { return shown; });
    slowest_write_ms = std::max(slowest_write_ms, written_ms);
    table->viewport()->repaint();  // the numbers are on the screen
    state.SetIterationTime(1e-9 * double(timer.nsecsElapsed()));
    heart.stop();
    slowest_solve_ms = std::max(slowest_solve_ms, session.live()->milliseconds);
    QObject::disconnect(connection);
  }
  state.counters["blocked_ms"] = longest_ms;
  state.counters["busy_ms"] = longest_busy_ms;
  state.counters["edit_ms"] = worst_change_ms;
  state.counters["written_ms"] = slowest_write_ms;
  state.counters["solve_ms"] = slowest_solve_ms;
}
BENCHMARK(BM_MarkToNumbersOnScreen)->Unit(benchmark::kMillisecond)->UseManualTime()->Iterations(20);

}  // namespace

int main(int argc, char** argv) {
  qputenv("QT_QPA_PLATFORM", "offscreen");
  QStandardPaths::setTestModeEnabled(true);
  QApplication application(argc, argv);
  benchmark::Initialize(&argc, argv);
  benchmark::RunSpecifiedBenchmarks();
  return 0;
}
