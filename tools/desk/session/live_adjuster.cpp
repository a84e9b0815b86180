#include "tools/desk/session/live_adjuster.h"

#include <QMetaObject>
#include <chrono>

#include "calib/adjust/blas_threads.h"
#include "measure/edit/apply.h"
#include "tools/desk/session/priority.h"

namespace desk {
namespace {

constexpr std::chrono::milliseconds kQuiet(250);

/// Made here, so that the thread of the widgets need not.
void number(const measure::Survey& survey, LiveState& state) {
  const measure::SurveyReport& report = survey.report();
  for (std::size_t p = 0; p < report.photos.size(); ++p) {
    state.photo_number.emplace(report.photos[p].name, p);
  }
  for (std::size_t p = 0; p < report.points.size(); ++p) {
    state.point_number.emplace(report.points[p].name, p);
  }
  if (!state.tested) return;
  for (std::size_t m = 0; m < report.marks.size(); ++m) {
    state.mark_number.emplace(std::pair(report.marks[m].photo, report.marks[m].point), m);
  }
  for (std::size_t m = 0; m < report.shape_marks.size(); ++m) {
    const measure::ShapeMarkReport& mark = report.shape_marks[m];
    state.shape_mark_number.emplace(
        measure::ShapeMarkKey{mark.photo, mark.shape, mark.position_px.x(), mark.position_px.y()},
        m);
  }
}

}  // namespace

LiveAdjuster::LiveAdjuster(measure::Dossier dossier, Cameras cameras, QObject* parent)
    : QObject(parent), dossier_(std::move(dossier)), cameras_(std::move(cameras)) {
  calib::adjust::use_one_blas_thread();
  thread_ = std::thread([this] { run(); });
}

LiveAdjuster::~LiveAdjuster() {
  {
    const std::lock_guard guard(mutex_);
    stop_ = true;
    newer_ = true;
  }
  woken_.notify_all();
  thread_.join();
}

std::uint64_t LiveAdjuster::revision() const {
  const std::lock_guard guard(mutex_);
  return revision_;
}

void LiveAdjuster::edit(measure::Edit edit, std::optional<Cameras> cameras) {
  {
    const std::lock_guard guard(mutex_);
    tasks_.push_back({std::move(edit), std::move(cameras)});
    ++revision_;
    newer_ = true;
  }
  woken_.notify_all();
}

void LiveAdjuster::run() {
  go_behind_the_widgets();
  bool first = true, to_test = true;
  while (true) {
    std::vector<Task> tasks;
    std::uint64_t revision = 0;
    bool test = false;
    {
      std::unique_lock lock(mutex_);
      const auto due = [&] { return stop_ || !tasks_.empty(); };
      if (first) {
        // The dossier as it was opened.
      } else if (to_test) {
        test = !woken_.wait_for(lock, kQuiet, due);
      } else {
        woken_.wait(lock, due);
      }
      if (stop_) return;
      tasks.swap(tasks_);
      revision = revision_;
      newer_ = false;
    }
    first = false;
    for (Task& task : tasks) {
      // It was applied to the same dossier on the other side, so it applies here.
      (void)measure::apply(task.edit, dossier_);
      if (task.cameras) cameras_ = std::move(*task.cameras);
    }
    const auto state = solve(test, revision);
    if (stop_) return;
    if (!state) {  // stopped by a newer edit
      to_test = true;
      continue;
    }
    to_test = !test && state->survey != nullptr;
    QMetaObject::invokeMethod(
        this, [this, state] { Q_EMIT state_ready(state); }, Qt::QueuedConnection);
  }
}

std::shared_ptr<const LiveState> LiveAdjuster::solve(bool test, std::uint64_t revision) {
  const auto started = std::chrono::steady_clock::now();
  auto state = std::make_shared<LiveState>();
  state->revision = revision;
  state->tested = test;
  measure::SurveyOptions options;
  options.look_for_blunders = test;
  options.start = last_.get();
  // Numbers are worth waiting for; a search for blunders begins anew with the next mark.
  options.cancelled = [this, test] { return stop_ || (test && newer_); };
  auto survey = measure::solve_survey(dossier_, cameras_, options);
  if (options.cancelled()) return nullptr;
  if (survey) {
    auto solved = std::make_shared<const measure::Survey>(std::move(*survey));
    state->dimensions = measure::evaluate_dimensions(*solved, dossier_);
    state->forms = measure::evaluate_forms(*solved, dossier_);
    number(*solved, *state);
    state->survey = solved;
    last_ = solved;
  } else {
    state->problem = survey.error();
    last_ = nullptr;
  }
  state->milliseconds =
      std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - started).count();
  return state;
}

}  // namespace desk
