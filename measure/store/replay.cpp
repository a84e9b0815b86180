#include "measure/store/replay.h"

#include <algorithm>
#include <optional>
#include <system_error>
#include <utility>

#include "calib/board/photo_hash.h"
#include "calib/file/atomic_write.h"
#include "measure/edit/apply.h"
#include "measure/store/dossier_file.h"

namespace measure {
namespace {

namespace fs = std::filesystem;
using calib::Problem;
using calib::Unexpected;

constexpr int kMostReadings = 100;
// A journal folds into dossier.json long before; one edit may be an import of any size.
constexpr std::size_t kLargestJournal_bytes = std::size_t{1} << 30;

std::string hash_of(const std::string& text) {
  return calib::sha256_of_bytes({reinterpret_cast<const unsigned char*>(text.data()), text.size()});
}

/// Both files as they were at one moment.
struct Texts {
  std::string dossier, journal;
};

calib::Result<Texts, Problem> read_texts(const fs::path& folder) {
  const fs::path journal_file = folder / kJournalFileName;
  auto dossier = read_dossier_text(folder);
  for (int reading = 0; reading < kMostReadings; ++reading) {
    if (!dossier) {
      return Unexpected(dossier.error());
    }
    auto journal = calib::read_whole_file(journal_file, kLargestJournal_bytes);
    std::error_code ignored;
    if (!journal && fs::exists(journal_file, ignored)) {
      // Taken away by a save and made anew in between, perhaps: then the next reading finds it.
      journal = calib::read_whole_file(journal_file, kLargestJournal_bytes);
      if (!journal && fs::exists(journal_file, ignored)) {
        return Unexpected(journal.error());
      }
    }
    // A save replaces dossier.json first: if it is still the same, both belong together.
    auto again = read_dossier_text(folder);
    if (again && *again == *dossier) {
      return Texts{std::move(*dossier), journal ? std::move(*journal) : std::string()};
    }
    dossier = std::move(again);
  }
  return Unexpected(Problem{folder.string() +
                            " is being saved all the time by another program: try again when that "
                            "has ended."});
}

/// How many lines of the journal are in the dossier.json of this hash; nothing where it knows none
/// such.
std::optional<std::size_t> saved_lines(const JournalContents& journal, const std::string& sha256) {
  for (std::size_t count = journal.lines.size(); count > 0; --count) {
    const auto* save = std::get_if<JournalSave>(&journal.lines[count - 1].what);
    if (save != nullptr && save->dossier_sha256 == sha256) {
      return count;
    }
  }
  return journal.base_sha256 == sha256 ? std::optional<std::size_t>(0) : std::nullopt;
}

/// Applies the edit and keeps the way back; the sentence of what does not fit.
std::optional<std::string> take_again(const JournalEdit& made, ReplayedDossier& replayed) {
  auto back = apply(made.edit, replayed.dossier);
  if (!back) {
    return back.error().sentence;
  }
  HistoryStep step{std::move(*back), made.name};
  switch (made.step) {
    case JournalStep::kChange:
      made.joins ? replayed.history.joined(*made.joins, std::move(step.edit))
                 : replayed.history.changed(std::move(step));
      break;
    case JournalStep::kUndo:
      replayed.history.undone(std::move(step));
      break;
    case JournalStep::kRedo:
      replayed.history.redone(std::move(step));
      break;
  }
  return std::nullopt;
}

}  // namespace

calib::Result<ReplayedDossier, Problem> replay(const fs::path& folder) {
  const auto texts = read_texts(folder);
  if (!texts) {
    return Unexpected(texts.error());
  }
  const std::string source = (folder / kJournalFileName).string();
  auto dossier = dossier_from_text(texts->dossier, (folder / kDossierFileName).string());
  if (!dossier) {
    return Unexpected(dossier.error());
  }
  auto journal = journal_from_text(texts->journal, source);
  if (!journal) {
    return Unexpected(journal.error());
  }
  ReplayedDossier replayed;
  replayed.dossier = std::move(*dossier);
  replayed.saved_sha256 = hash_of(texts->dossier);
  if (!journal->exists) {
    return replayed;
  }
  const auto saved = saved_lines(*journal, replayed.saved_sha256);
  if (!saved) {
    const auto edits = std::count_if(
        journal->lines.begin(), journal->lines.end(),
        [](const JournalLine& line) { return std::holds_alternative<JournalEdit>(line.what); });
    if (edits == 0) {
      return replayed;
    }
    return Unexpected(
        Problem{source + " holds " + std::to_string(edits) + (edits == 1 ? " edit" : " edits") +
                " of another dossier.json than the one beside it, which was changed or replaced "
                "from outside: bring that dossier.json back, or move journal.ndjson out of the "
                "folder to go on without it; nothing was changed."});
  }
  for (std::size_t i = *saved; i < journal->lines.size(); ++i) {
    const JournalLine& line = journal->lines[i];
    const auto* made = std::get_if<JournalEdit>(&line.what);
    if (made == nullptr) {
      continue;  // A save that did not come about.
    }
    if (const auto misfit = take_again(*made, replayed)) {
      return Unexpected(Problem{source + ", line " + std::to_string(i + 2) +
                                " does not fit the dossier: " + *misfit +
                                " Restore dossier.json and journal.ndjson from one copy, or move "
                                "journal.ndjson out of the folder to go on without it."});
    }
    ++replayed.unsaved;
    replayed.last_utc = line.utc;
  }
  replayed.journal = std::move(*journal);
  return replayed;
}

}  // namespace measure
