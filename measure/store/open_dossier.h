// A dossier that a program has open: changed edit by edit, each on the disk before it counts as
// done.
#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/dossier/dossier.h"
#include "measure/edit/edit.h"
#include "measure/edit/history.h"
#include "measure/store/dossier_file.h"
#include "measure/store/journal.h"

namespace measure {

struct OpenDossierOptions {
  /// The journal is folded into dossier.json once it holds so many edits or bytes.
  std::size_t fold_after_edits = 2000;
  std::uintmax_t fold_after_bytes = 4u << 20;
  /// Tells the time that the journal notes beside each edit.
  std::function<std::chrono::system_clock::time_point()> clock = std::chrono::system_clock::now;
};

/// An edit and how lists of edits and "undo" call it.
struct NamedEdit {
  Edit edit;
  std::string name;  ///< empty: as describe() calls it
};

/// Holds the lock, the dossier, what can be undone, and the journal.
///
/// An edit is applied, appended to the journal and fsynced; only then does change() return. After a
/// crash at any moment the next open() finds every edit that was done, and what could be undone of
/// the edits since the last save. Undo and redo are edits like all others. Saving folds the journal
/// into dossier.json; what can be undone stays, in memory.
///
/// Not for several threads at once.
class OpenDossier {
 public:
  /// Opens it for changes, or read-only where another program has it open.
  ///
  /// Errors: as read_dossier. Nothing on the disk has changed.
  [[nodiscard]] static calib::Result<OpenDossier, calib::Problem> open(
      const std::filesystem::path& folder, const OpenDossierOptions& options = {});
  /// Opens it for changes.
  ///
  /// Errors: as open(), and a Problem (kInput) naming the program that has it open.
  [[nodiscard]] static calib::Result<OpenDossier, calib::Problem> open_for_change(
      const std::filesystem::path& folder, const OpenDossierOptions& options = {});

  [[nodiscard]] const Dossier& dossier() const { return dossier_; }
  [[nodiscard]] const std::filesystem::path& folder() const { return folder_; }

  [[nodiscard]] bool is_read_only() const { return !lock_; }
  /// "Another program (…) has the dossier … open: …"; empty where it is open for changes.
  [[nodiscard]] const std::string& read_only_sentence() const { return read_only_sentence_; }

  /// What open() found that a crash had left: the edits taken from the journal, and of a torn last
  /// line. Empty where all was in order, and where another program is at work.
  [[nodiscard]] const std::string& recovery_sentence() const { return recovery_sentence_; }
  /// How many edits these were.
  [[nodiscard]] std::size_t recovered() const { return recovered_; }

  /// Applies an edit and journals it.
  ///
  /// Errors: a Problem (kInput) of apply(), of a full or failing disk, or that the dossier is
  ///         read-only; the dossier is then as before, on the disk and here.
  [[nodiscard]] calib::Result<calib::Done, calib::Problem> change(const Edit& edit,
                                                                  std::string name = "");
  /// The same of several, all or none, with one fsync; each can be undone alone.
  [[nodiscard]] calib::Result<calib::Done, calib::Problem> change_all(
      std::span<const NamedEdit> edits);
  /// Changes a mark once more (refines it, say): one undo takes back this together with the last
  /// change that concerns the mark, though others may have been made since. Where there is none
  /// such, it is a change of its own. What had been undone can still be redone.
  ///
  /// Errors: as change().
  [[nodiscard]] calib::Result<calib::Done, calib::Problem> change_further(const Edit& edit,
                                                                          const MarkKey& mark);
  /// Applies an edit and saves, all or nothing: where dossier.json cannot be written, the edit is
  /// taken back. The way of commands.
  [[nodiscard]] calib::Result<calib::Done, calib::Problem> change_and_save(const Edit& edit);

  /// Undo the last change, redo the last one undone; gives the edit that was applied to do so, and
  /// the name of the change that it is about.
  ///
  /// Errors: as change(), and that there is nothing to undo or redo.
  [[nodiscard]] calib::Result<HistoryStep, calib::Problem> undo();
  [[nodiscard]] calib::Result<HistoryStep, calib::Problem> redo();
  [[nodiscard]] const EditHistory& history() const { return history_; }

  /// Writes dossier.json, whole or not at all, and empties the journal. Nothing unsaved: nothing is
  /// written.
  ///
  /// Errors: a Problem (kInput) naming the file and the remedy; the edits are then still in the
  ///         journal.
  [[nodiscard]] calib::Result<calib::Done, calib::Problem> save();
  /// Edits since the last save, undone and redone ones counted too.
  [[nodiscard]] std::size_t unsaved() const { return unsaved_; }
  /// Why the journal could not be folded by itself when it had grown long, if it could not: the
  /// edits are safe in it.
  [[nodiscard]] const std::optional<calib::Problem>& fold_problem() const { return fold_problem_; }

 private:
  OpenDossier(std::filesystem::path folder, OpenDossierOptions options, Journal journal)
      : folder_(std::move(folder)), options_(std::move(options)), journal_(std::move(journal)) {}

  [[nodiscard]] std::optional<calib::Problem> not_for_changes() const;
  [[nodiscard]] JournalLine line_of(JournalStep step, Edit edit, std::string name) const;
  /// Takes a step of the history.
  [[nodiscard]] calib::Result<HistoryStep, calib::Problem> step(JournalStep step);
  void take_back(std::vector<Edit> inverse);
  void fold_if_long();

  std::filesystem::path folder_;
  OpenDossierOptions options_;
  std::optional<DossierLock> lock_;
  Dossier dossier_;
  EditHistory history_;
  Journal journal_;
  std::size_t unsaved_ = 0, recovered_ = 0;
  std::size_t fold_edits_ = 0;     ///< unsaved edits at which the journal is folded next
  std::uintmax_t fold_bytes_ = 0;  ///< and its bytes
  std::string read_only_sentence_, recovery_sentence_;
  std::optional<calib::Problem> fold_problem_;
};

/// "2026-11-25T17:00:00Z".
[[nodiscard]] std::string utc_text(std::chrono::system_clock::time_point time);

}  // namespace measure
