#include "measure/store/open_dossier.h"

#include <algorithm>
#include <cassert>
#include <ctime>
#include <limits>
#include <utility>

#include "calib/board/photo_hash.h"
#include "measure/edit/apply.h"
#include "measure/store/replay.h"

namespace measure {
namespace {

namespace fs = std::filesystem;
using calib::Problem;
using calib::Unexpected;

std::string edits_text(std::size_t count) {
  return std::to_string(count) + (count == 1 ? " edit" : " edits");
}

std::string read_only_text(const fs::path& folder) {
  std::string holder = holder_of(folder);
  holder.front() = 'A';
  return holder + " has the dossier " + folder.string() +
         " open: here it can only be looked at. Close it there, then open it again to change it.";
}

/// What a crash left in the journal, for the person.
std::string recovery_text(const ReplayedDossier& replayed) {
  std::string text;
  if (replayed.unsaved > 0) {
    text = "The program ended before it had saved: " + edits_text(replayed.unsaved) +
           (replayed.unsaved == 1 ? " was" : " were") + " taken from journal.ndjson.";
  }
  if (!replayed.journal.torn.empty()) {
    text += (text.empty() ? "" : " ") +
            std::string(
                "The last line of journal.ndjson was cut short while it was written, and "
                "was not done yet; its remains go to ") +
            torn_file_name(replayed.journal.torn) + " with the next edit.";
  }
  return text;
}

}  // namespace

std::string utc_text(std::chrono::system_clock::time_point time) {
  const std::time_t seconds = std::chrono::system_clock::to_time_t(time);
  std::tm parts{};
  char text[32];
  if (::gmtime_r(&seconds, &parts) == nullptr ||
      std::strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &parts) == 0) {
    return "1970-01-01T00:00:00Z";
  }
  return text;
}

calib::Result<OpenDossier, Problem> OpenDossier::open(const fs::path& folder,
                                                      const OpenDossierOptions& options) {
  auto lock = DossierLock::try_to_take(folder);
  if (!lock) {
    return Unexpected(lock.error());
  }
  auto replayed = replay(folder);
  if (!replayed) {
    return Unexpected(replayed.error());
  }
  const bool is_mine = lock->has_value();
  const std::string recovery = is_mine ? recovery_text(*replayed) : std::string();
  OpenDossier opened(folder, options,
                     Journal(folder, std::move(replayed->journal), replayed->saved_sha256));
  opened.lock_ = std::move(*lock);
  opened.dossier_ = std::move(replayed->dossier);
  opened.unsaved_ = replayed->unsaved;
  opened.fold_edits_ = options.fold_after_edits;
  opened.fold_bytes_ = options.fold_after_bytes;
  if (is_mine) {
    opened.history_ = std::move(replayed->history);
    opened.recovered_ = replayed->unsaved;
    opened.recovery_sentence_ = recovery;
  } else {
    opened.read_only_sentence_ = read_only_text(folder);
  }
  return opened;
}

calib::Result<OpenDossier, Problem> OpenDossier::open_for_change(
    const fs::path& folder, const OpenDossierOptions& options) {
  // The lock alone first: its sentence counts, whatever else is wrong with the dossier.
  if (auto lock = DossierLock::take(folder); !lock) {
    return Unexpected(lock.error());
  }
  auto opened = open(folder, options);
  if (opened && opened->is_read_only()) {
    return Unexpected(Problem{opened->read_only_sentence()});
  }
  return opened;
}

std::optional<Problem> OpenDossier::not_for_changes() const {
  return is_read_only() ? std::optional<Problem>(Problem{read_only_sentence_}) : std::nullopt;
}

JournalLine OpenDossier::line_of(JournalStep step, Edit edit, std::string name) const {
  return {utc_text(options_.clock()),
          JournalEdit{step, std::move(edit), std::move(name), std::nullopt}};
}

void OpenDossier::take_back(std::vector<Edit> inverse) {
  for (auto edit = inverse.rbegin(); edit != inverse.rend(); ++edit) {
    // An inverse was valid a moment ago and nothing has happened since.
    [[maybe_unused]] const auto undone = apply(*edit, dossier_);
    assert(undone);
  }
}

calib::Result<calib::Done, Problem> OpenDossier::change(const Edit& edit, std::string name) {
  const NamedEdit named{edit, std::move(name)};
  return change_all({&named, 1});
}

calib::Result<calib::Done, Problem> OpenDossier::change_all(std::span<const NamedEdit> edits) {
  if (auto problem = not_for_changes()) {
    return Unexpected(std::move(*problem));
  }
  if (edits.empty()) {
    return calib::Done{};
  }
  std::vector<Edit> inverse;
  std::vector<JournalLine> lines;
  for (const NamedEdit& named : edits) {
    auto back = apply(named.edit, dossier_);
    if (!back) {
      take_back(std::move(inverse));
      return Unexpected(back.error());
    }
    inverse.push_back(std::move(*back));
    lines.push_back(line_of(JournalStep::kChange, named.edit,
                            named.name.empty() ? describe(named.edit) : named.name));
  }
  if (auto appended = journal_.append(lines); !appended) {
    take_back(std::move(inverse));
    return appended;
  }
  for (std::size_t i = 0; i < inverse.size(); ++i) {
    history_.changed({std::move(inverse[i]), std::get<JournalEdit>(lines[i].what).name});
  }
  unsaved_ += edits.size();
  fold_if_long();
  return calib::Done{};
}

calib::Result<calib::Done, Problem> OpenDossier::change_further(const Edit& edit,
                                                                const MarkKey& mark) {
  if (auto problem = not_for_changes()) {
    return Unexpected(std::move(*problem));
  }
  const std::vector<HistoryStep>& steps = history_.undo_steps();
  const auto first = std::find_if(steps.rbegin(), steps.rend(), [&](const HistoryStep& step) {
    return concerns(step.edit, mark);
  });
  if (first == steps.rend()) {
    return change(edit);
  }
  auto back = apply(edit, dossier_);
  if (!back) {
    return Unexpected(back.error());
  }
  JournalLine line = line_of(JournalStep::kChange, edit, describe(edit));
  const auto joins = static_cast<std::size_t>(first - steps.rbegin());
  std::get<JournalEdit>(line.what).joins = joins;
  if (auto appended = journal_.append({&line, 1}); !appended) {
    take_back({std::move(*back)});
    return appended;
  }
  history_.joined(joins, std::move(*back));
  ++unsaved_;
  fold_if_long();
  return calib::Done{};
}

calib::Result<calib::Done, Problem> OpenDossier::change_and_save(const Edit& edit) {
  if (auto problem = not_for_changes()) {
    return Unexpected(std::move(*problem));
  }
  const Journal::Length before = journal_.length();
  const EditHistory history_before = history_;
  const std::size_t unsaved_before = unsaved_;
  // Not before the end: a fold on the way could not be taken back.
  const std::size_t fold_edits =
      std::exchange(fold_edits_, std::numeric_limits<std::size_t>::max());
  const std::uintmax_t fold_bytes =
      std::exchange(fold_bytes_, std::numeric_limits<std::uintmax_t>::max());
  auto done = change(edit);
  fold_edits_ = fold_edits;
  fold_bytes_ = fold_bytes;
  if (!done) {
    return done;
  }
  done = save();
  if (!done) {
    // Where even the journal cannot be cut back, the edit stands in it: then it was done after all.
    if (const auto cut = journal_.cut_back(before); !cut) {
      fold_problem_ = done.error();
      return calib::Done{};
    }
    take_back({history_.next_undo()->edit});
    history_ = history_before;
    unsaved_ = unsaved_before;
  }
  return done;
}

calib::Result<HistoryStep, Problem> OpenDossier::step(JournalStep step) {
  if (auto problem = not_for_changes()) {
    return Unexpected(std::move(*problem));
  }
  const bool is_undo = step == JournalStep::kUndo;
  const HistoryStep* next = is_undo ? history_.next_undo() : history_.next_redo();
  if (next == nullptr) {
    return Unexpected(Problem{is_undo ? "There is nothing to undo: nothing was changed since the "
                                        "dossier was opened."
                                      : "There is nothing to redo: nothing was undone last."});
  }
  const HistoryStep taken = *next;
  auto back = apply(taken.edit, dossier_);
  if (!back) {
    return Unexpected(back.error());
  }
  const JournalLine line = line_of(step, taken.edit, taken.name);
  if (auto appended = journal_.append({&line, 1}); !appended) {
    take_back({std::move(*back)});
    return Unexpected(appended.error());
  }
  HistoryStep way_back{std::move(*back), taken.name};
  is_undo ? history_.undone(std::move(way_back)) : history_.redone(std::move(way_back));
  ++unsaved_;
  fold_if_long();
  return taken;
}

calib::Result<HistoryStep, Problem> OpenDossier::undo() { return step(JournalStep::kUndo); }
calib::Result<HistoryStep, Problem> OpenDossier::redo() { return step(JournalStep::kRedo); }

calib::Result<calib::Done, Problem> OpenDossier::save() {
  if (auto problem = not_for_changes()) {
    return Unexpected(std::move(*problem));
  }
  if (unsaved_ == 0) {
    return calib::Done{};
  }
  const std::string text = dossier_text(dossier_);
  const std::string sha256 =
      calib::sha256_of_bytes({reinterpret_cast<const unsigned char*>(text.data()), text.size()});
  // First the journal says what dossier.json will be; then dossier.json is that; then the journal
  // goes. After a kill between any two of these, replay() knows what has been saved. A journal that
  // somebody took away has nothing to say: all is in the text.
  if (journal_.is_in_place()) {
    const JournalLine line{utc_text(options_.clock()), JournalSave{sha256}};
    if (auto appended = journal_.append({&line, 1}); !appended) {
      return appended;
    }
  }
  if (auto written = write_dossier_text(folder_, text); !written) {
    return written;
  }
  unsaved_ = 0;
  fold_edits_ = options_.fold_after_edits;
  fold_bytes_ = options_.fold_after_bytes;
  fold_problem_.reset();
  // Saved it is: where the journal will not go, its last line says so, and edits go on after it.
  if (const auto emptied = journal_.begin_anew(sha256); !emptied) {
    fold_bytes_ += journal_.bytes();
  }
  return calib::Done{};
}

void OpenDossier::fold_if_long() {
  if (unsaved_ < fold_edits_ && journal_.bytes() < fold_bytes_) {
    return;
  }
  if (auto saved = save(); !saved) {
    fold_problem_ = saved.error();
    // The edits are safe. Tried again when as much again has been added, not with every edit.
    fold_edits_ = unsaved_ + options_.fold_after_edits;
    fold_bytes_ = journal_.bytes() + options_.fold_after_bytes;
  }
}

}  // namespace measure
