#include "tools/desk/session/edit_writer.h"

#include <algorithm>
#include <type_traits>
#include <utility>
#include <variant>

#include "measure/store/dossier_file.h"

namespace desk {
namespace {

/// Whether an edit changes which camera files are read.
bool touches_cameras(const measure::Edit& edit) {
  return std::visit(
      [](const auto& what) {
        using Kind = std::decay_t<decltype(what)>;
        if constexpr (std::is_same_v<Kind, measure::EditGroup>) {
          return std::any_of(what.edits.begin(), what.edits.end(), touches_cameras);
        } else {
          return std::is_same_v<Kind, measure::AddCamera> ||
                 std::is_same_v<Kind, measure::RemoveCamera> ||
                 std::is_same_v<Kind, measure::SetCameraFile>;
        }
      },
      edit.what);
}

std::string name_of(const measure::HistoryStep* step) { return step ? step->name : std::string(); }

Written carry_out(const EditWriter::Work& work, measure::OpenDossier& open) {
  Written written;
  auto made = work(open);
  if (made) {
    written.edit = std::move(*made);
  } else {
    written.problem = made.error();
  }
  if (written.edit && touches_cameras(*written.edit)) {
    auto cameras = measure::read_cameras(open.folder(), open.dossier());
    if (cameras) {
      written.cameras = std::move(*cameras);
    } else {
      written.trouble = cameras.error();
    }
  }
  if (!written.trouble && written.edit) written.trouble = open.fold_problem();
  written.undo_name = name_of(open.history().next_undo());
  written.redo_name = name_of(open.history().next_redo());
  written.unsaved = open.unsaved();
  return written;
}

}  // namespace

EditWriter::EditWriter(measure::OpenDossier open, std::function<void()> wake)
    : open_(std::move(open)), wake_(std::move(wake)), thread_([this] { run(); }) {}

EditWriter::~EditWriter() {
  {
    const std::lock_guard guard(mutex_);
    stop_ = true;
  }
  changed_.notify_all();
  thread_.join();
}

void EditWriter::begin(Work work) {
  {
    const std::lock_guard guard(mutex_);
    work_ = std::move(work);
  }
  changed_.notify_all();
}

std::optional<Written> EditWriter::take() {
  const std::lock_guard guard(mutex_);
  return std::exchange(written_, std::nullopt);
}

Written EditWriter::wait() {
  std::unique_lock lock(mutex_);
  changed_.wait(lock, [this] { return written_.has_value(); });
  return *std::exchange(written_, std::nullopt);
}

void EditWriter::run() {
  while (true) {
    Work work;
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [this] { return stop_ || work_; });
      // What was begun is written before the end.
      if (!work_) return;
      std::swap(work, work_);
    }
    Written written = carry_out(work, open_);
    {
      const std::lock_guard guard(mutex_);
      written_ = std::move(written);
    }
    changed_.notify_all();
    wake_();
  }
}

}  // namespace desk
