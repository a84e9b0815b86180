// The dossier on the disk, written away from the thread of the widgets.
#pragma once

#include <condition_variable>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <thread>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/edit/edit.h"
#include "measure/store/open_dossier.h"
#include "tools/desk/session/live_adjuster.h"

namespace desk {

/// What one piece of writing has come to.
struct Written {
  std::optional<measure::Edit> edit;      ///< that is on the disk now; none: none was made
  std::optional<calib::Problem> problem;  ///< why it was refused; then nothing has changed
  std::optional<Cameras> cameras;         ///< read again, where the edit changed them
  std::optional<calib::Problem> trouble;  ///< the edit is safe, but something after it failed
  std::string undo_name, redo_name;       ///< of the next steps; empty: none
  std::size_t unsaved = 0;
};

/// An fsync takes as long as the disk likes, mostly 5 to 30 ms: on a thread of its own, one piece
/// of writing at a time. Whoever asks shows nothing as done before it is written.
class EditWriter {
 public:
  /// Runs on the thread; gives the edit that was made, if one was.
  using Work = std::function<calib::Result<std::optional<measure::Edit>, calib::Problem>(
      measure::OpenDossier& open)>;

  /// @param wake  called on the thread whenever something is written; must not block.
  EditWriter(measure::OpenDossier open, std::function<void()> wake);
  /// Waits for what is being written.
  ~EditWriter();
  EditWriter(const EditWriter&) = delete;
  EditWriter& operator=(const EditWriter&) = delete;

  /// Begins; the one before must have been taken.
  void begin(Work work);
  /// What has been written, once; nothing while it is still under way.
  [[nodiscard]] std::optional<Written> take();
  /// Waits for it.
  [[nodiscard]] Written wait();

 private:
  void run();

  measure::OpenDossier open_;  // of the thread
  std::function<void()> wake_;
  std::mutex mutex_;
  std::condition_variable changed_;
  Work work_;
  std::optional<Written> written_;
  bool stop_ = false;
  std::thread thread_;
};

}  // namespace desk
