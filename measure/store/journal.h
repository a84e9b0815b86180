// journal.ndjson: the edits that dossier.json does not hold yet, one a line, each on the disk
// before it is shown as done.
//
// The first line names the version and the SHA-256 of the dossier.json that the edits begin with.
// Before dossier.json is replaced, a line names the SHA-256 of what replaces it, so that after a
// crash anywhere it is known which edits are in it. Every line ends with a check of itself.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/file/append_file.h"
#include "measure/edit/edit.h"

namespace measure {

inline constexpr const char* kJournalFileName = "journal.ndjson";

/// What an edit does to the history besides changing the dossier.
enum class JournalStep { kChange, kUndo, kRedo };

/// An edit that was made.
struct JournalEdit {
  JournalStep step = JournalStep::kChange;
  Edit edit;
  std::string name;  ///< of the change that was made, undone or redone
  /// Of a change that belongs to an earlier one: how many steps that lies back from the last one
  /// that could be undone.
  std::optional<std::size_t> joins;
};

/// dossier.json was about to be replaced.
struct JournalSave {
  std::string dossier_sha256;  ///< of the text that was to replace it
};

struct JournalLine {
  std::string utc;  ///< "2026-11-25T17:00:00Z"
  std::variant<JournalEdit, JournalSave> what;
};

/// What a journal holds. The default is that there is none.
struct JournalContents {
  bool exists = false;
  std::string base_sha256;         ///< of the dossier.json that the first edit changes
  std::vector<JournalLine> lines;  ///< line i of these is line i + 2 of the file
  std::uintmax_t whole_bytes = 0;  ///< of the file, up to where `torn` begins
  bool lacks_line_end = false;     ///< a crash took the end of the last line, but no more
  std::string torn;  ///< a last line that a crash cut short; it was never shown as done
};

/// Reads the text of a journal (schema/journal.schema.json describes a line).
///
/// A last line that is not whole was being written when the program or the power went: it is
/// `torn`. Damage anywhere else is refused, for edits that follow it build on it.
///
/// Errors: a Problem (kInput) naming source, line and remedy if a line is damaged, missing or of a
///         newer version.
/// @param source  names the file in sentences.
[[nodiscard]] calib::Result<JournalContents, calib::Problem> journal_from_text(
    std::string_view text, const std::string& source);

/// Where remains of a torn line are kept: the same for the same remains.
[[nodiscard]] std::string torn_file_name(std::string_view torn);
[[nodiscard]] bool is_torn_file(const std::filesystem::path& file);

/// The journal of a dossier whose lock the caller holds. Nothing is written before the first line.
class Journal {
 public:
  /// @param contents     as read under the lock.
  /// @param base_sha256  of dossier.json as it lies there; for a journal that is still to be made.
  Journal(std::filesystem::path folder, JournalContents contents, std::string base_sha256);

  /// Adds the lines and brings them to the disk together. Makes the file for the first of them;
  /// mends it first where a crash left a torn line, whose remains are kept in a file of their own.
  ///
  /// Errors: a Problem (kInput) naming the file and the remedy if the disk is full or fails, or the
  ///         journal was taken away or changed from outside; then nothing was added.
  [[nodiscard]] calib::Result<calib::Done, calib::Problem> append(
      std::span<const JournalLine> lines);

  /// Empties the journal, once dossier.json holds what it held.
  /// @param base_sha256  of dossier.json now.
  [[nodiscard]] calib::Result<calib::Done, calib::Problem> begin_anew(std::string base_sha256);

  /// A length to which the journal can be cut back while nothing after it was shown as done.
  struct Length {
    std::uintmax_t bytes = 0;
    std::size_t lines = 0;
  };
  [[nodiscard]] Length length() const { return {bytes(), lines_}; }
  [[nodiscard]] calib::Result<calib::Done, calib::Problem> cut_back(const Length& length);

  /// 0 where there is none.
  [[nodiscard]] std::uintmax_t bytes() const;
  /// False where the file was taken away or changed from outside since it was opened.
  [[nodiscard]] bool is_in_place() const { return !file_ || file_->is_in_place(); }

 private:
  [[nodiscard]] calib::Result<calib::Done, calib::Problem> make(std::string_view text);
  [[nodiscard]] calib::Result<calib::Done, calib::Problem> keep_torn() const;
  [[nodiscard]] calib::Result<calib::Done, calib::Problem> open_and_mend();

  std::filesystem::path folder_, path_;
  std::string base_sha256_;
  JournalContents left_;  ///< of what was found: to be mended before the first line
  std::size_t lines_ = 0;
  std::optional<calib::AppendFile> file_;
};

}  // namespace measure
