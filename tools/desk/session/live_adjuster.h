// The survey, adjusted again after every edit, on a thread of its own.
#pragma once

#include <QObject>
#include <atomic>
#include <condition_variable>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "calib/base/problem.h"
#include "calib/camera/camera.h"
#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/dimension/form_result.h"
#include "measure/dossier/dossier.h"
#include "measure/edit/edit.h"

namespace desk {

using Cameras = std::map<std::string, calib::Camera>;

/// What the last adjustment found. Never changed once it is handed out: any thread may read it.
struct LiveState {
  std::uint64_t revision = 0;                     ///< number of edits that it contains
  std::shared_ptr<const measure::Survey> survey;  ///< none: see problem
  std::vector<measure::DimensionResult> dimensions;
  std::vector<measure::FormResult> forms;  ///< of all shapes
  std::optional<calib::Problem> problem;   ///< why there is no survey
  bool tested = false;                     ///< the marks were searched for blunders too
  double milliseconds = 0.0;               ///< that it took

  /// Where a photo, a point and (where tested) a mark stand in the survey's report.
  std::map<std::string, std::size_t> photo_number, point_number;
  std::map<std::pair<std::string, std::string>, std::size_t> mark_number;  ///< photo, point
  std::map<measure::ShapeMarkKey, std::size_t> shape_mark_number;
};

/// Adjusts a dossier of its own, to which the same edits are applied: nothing is shared with the
/// thread of the widgets but edits going in and states coming out.
///
/// After an edit, first the numbers from the last solution (fast); then, once no edit has come for
/// a moment, the search for blunders. A new edit stops a search that is running.
class LiveAdjuster : public QObject {
  Q_OBJECT
 public:
  LiveAdjuster(measure::Dossier dossier, Cameras cameras, QObject* parent = nullptr);
  ~LiveAdjuster() override;

  /// @param cameras  given where the edit changed them.
  void edit(measure::Edit edit, std::optional<Cameras> cameras = std::nullopt);
  [[nodiscard]] std::uint64_t revision() const;  ///< edits taken so far

 Q_SIGNALS:
  /// On this object's thread, newest state only.
  void state_ready(std::shared_ptr<const desk::LiveState> state);

 private:
  struct Task {
    measure::Edit edit;
    std::optional<Cameras> cameras;
  };
  void run();
  [[nodiscard]] std::shared_ptr<const LiveState> solve(bool test, std::uint64_t revision);

  measure::Dossier dossier_;  // of the thread
  Cameras cameras_;           // of the thread
  std::shared_ptr<const measure::Survey> last_;

  mutable std::mutex mutex_;
  std::condition_variable woken_;
  std::vector<Task> tasks_;
  std::uint64_t revision_ = 0;
  std::atomic<bool> stop_{false}, newer_{false};
  std::thread thread_;
};

}  // namespace desk
