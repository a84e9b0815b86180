#include "measure/store/open_dossier.h"

#include <algorithm>
#include <csignal>
#include <cstdlib>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "calib/board/photo_hash.h"
#include "measure/edit/apply.h"
#include "measure/store/replay.h"
#include "measure/store/verify.h"
#include "tests/calib/file/scratch_folder.h"
#include "tests/measure/edit/small_dossier.h"
#include "tests/measure/store/random_edits.h"

namespace measure {
namespace {

namespace fs = std::filesystem;
using testing::AllOf;
using testing::HasSubstr;
using testing_support::contents_of;
using testing_support::put;
using testing_support::RandomEdits;
using testing_support::ScratchFolder;
using testing_support::small_dossier;
using testing_support::snapshot;

/// A folder with small_dossier in it.
class OpenDossierTest : public testing::Test {
 protected:
  void SetUp() override { ASSERT_TRUE(create_dossier(folder_.path(), small_dossier())); }

  [[nodiscard]] OpenDossier reopened(const OpenDossierOptions& options = {}) const {
    auto open = OpenDossier::open_for_change(folder_.path(), options);
    if (!open) {
      ADD_FAILURE() << open.error().sentence;
      std::abort();
    }
    return std::move(*open);
  }
  [[nodiscard]] bool has_journal() const { return fs::exists(journal_); }

  ScratchFolder folder_;
  fs::path file_ = folder_ / "dossier.json", journal_ = folder_ / "journal.ndjson";
};

/// Runs in a child process, whose limits and death are its own; returns its exit code.
template <typename Work>
int in_child(const Work& work) {
  const pid_t child = ::fork();
  if (child == 0) {
    ::_exit(work());
  }
  int status = -1;
  ::waitpid(child, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/// A limit on the size of files stops a write in its middle, as a full disk does.
void limit_files_to(rlim_t bytes) {
  const rlimit limit{bytes, RLIM_INFINITY};
  ::setrlimit(RLIMIT_FSIZE, &limit);
  std::signal(SIGXFSZ, SIG_IGN);
}

TEST_F(OpenDossierTest, WritesNothingUntilSomethingIsChanged) {
  const auto before = snapshot(folder_.path());
  {
    OpenDossier open = reopened();
    EXPECT_FALSE(open.is_read_only());
    EXPECT_EQ(open.recovery_sentence(), "");
    EXPECT_FALSE(open.change(AddPoint{{"A", ""}}));
    EXPECT_FALSE(open.undo());
    EXPECT_FALSE(open.redo());
    EXPECT_TRUE(open.save());
  }
  EXPECT_EQ(snapshot(folder_.path()), before);
}

TEST_F(OpenDossierTest, HasAnEditOnTheDiskBeforeItIsDone) {
  OpenDossier open = reopened();
  const std::string saved = contents_of(file_);
  ASSERT_TRUE(open.change(AddPoint{{"new", ""}}));
  EXPECT_EQ(open.unsaved(), 1u);
  EXPECT_EQ(contents_of(file_), saved);
  // Readers see it while the dossier is open here.
  const auto read = read_dossier(folder_.path());
  ASSERT_TRUE(read) << read.error().sentence;
  EXPECT_TRUE(*read == open.dossier());
  ASSERT_TRUE(open.save());
  EXPECT_EQ(open.unsaved(), 0u);
  EXPECT_FALSE(has_journal());
  EXPECT_EQ(contents_of(file_), dossier_text(open.dossier()));
}

TEST_F(OpenDossierTest, KeepsUndoAndRedoThroughACrash) {
  Dossier after_first, after_second;
  {
    OpenDossier open = reopened();
    ASSERT_TRUE(open.change(AddPoint{{"one", ""}}));
    after_first = open.dossier();
    ASSERT_TRUE(open.change(RenamePoint{"A", "Z"}, "a name of its own"));
    after_second = open.dossier();
    EXPECT_EQ(open.undo()->name, "a name of its own");
  }
  OpenDossier open = reopened();
  EXPECT_EQ(open.recovered(), 3u);
  EXPECT_THAT(open.recovery_sentence(), HasSubstr("3 edits were taken from journal.ndjson"));
  EXPECT_TRUE(open.dossier() == after_first);
  ASSERT_NE(open.history().next_redo(), nullptr);
  EXPECT_EQ(open.history().next_redo()->name, "a name of its own");
  EXPECT_EQ(open.redo()->name, "a name of its own");
  EXPECT_TRUE(open.dossier() == after_second);
  EXPECT_TRUE(open.undo() && open.undo());
  EXPECT_TRUE(open.dossier() == small_dossier());
  EXPECT_FALSE(open.undo());
  EXPECT_EQ(open.redo()->name, "add point \"one\"");
}

TEST_F(OpenDossierTest, ForgetsWhatWasUndoneOnceSomethingElseIsDone) {
  OpenDossier open = reopened();
  ASSERT_TRUE(open.change(AddPoint{{"one", ""}}));
  ASSERT_TRUE(open.undo());
  ASSERT_TRUE(open.change(AddPoint{{"two", ""}}));
  EXPECT_FALSE(open.redo());
}

TEST_F(OpenDossierTest, UndoesAMarkAndWhatWasFurtherDoneToItInOneStep) {
  // Said not to be visible there, which a mark takes back.
  const Mark clicked{"a.jpg", "D", {10, 20}, 0.5, MarkSource::kByHand, false};
  Mark other = clicked, refined = clicked;
  other.photo = "b, turned.jpg";
  refined.position_px = {10.25, 20.5};
  refined.source = MarkSource::kRefined;
  const Edit further = set_mark(refined);
  Dossier before, after_click, after;
  {
    OpenDossier open = reopened();
    ASSERT_TRUE(open.change(SetDossierName{"one"}));
    before = open.dossier();
    ASSERT_TRUE(open.change(set_mark(clicked)));
    // Another mark, and one more that is taken back, before the refinement comes.
    ASSERT_TRUE(open.change(set_mark(other)));
    ASSERT_TRUE(open.change(SetDossierName{"another"}));
    ASSERT_TRUE(open.undo());
    const std::size_t steps = open.history().undo_steps().size();
    ASSERT_TRUE(open.change_further(further, {"a.jpg", "D"}));
    EXPECT_EQ(open.history().undo_steps().size(), steps);
    EXPECT_EQ(open.history().redo_steps().size(), 1u) << "what was undone can still be redone";
    after = open.dossier();
  }
  OpenDossier open = reopened();
  EXPECT_TRUE(open.dossier() == after);
  ASSERT_TRUE(open.redo());
  EXPECT_EQ(open.dossier().name, "another");
  ASSERT_TRUE(open.undo());
  ASSERT_TRUE(open.undo());
  after_click = before;
  ASSERT_TRUE(apply(further, after_click));
  EXPECT_TRUE(open.dossier() == after_click) << "the other mark, alone";
  EXPECT_EQ(open.undo()->name, "set mark \"D\" in \"a.jpg\"");
  EXPECT_TRUE(open.dossier() == before) << "both that concern the mark";
  ASSERT_TRUE(open.redo());
  EXPECT_TRUE(open.dossier() == after_click) << "refined at once";
}

TEST_F(OpenDossierTest, WhatWasFurtherDoneToAMarkOfNoStepIsAStepOfItsOwn) {
  OpenDossier open = reopened();
  const Mark mark = small_dossier().marks.front();
  Mark moved = mark;
  moved.position_px.x() += 0.25;
  ASSERT_TRUE(open.change_further(set_mark(moved), {mark.photo, mark.point}));
  ASSERT_TRUE(open.undo());
  EXPECT_TRUE(open.dossier() == small_dossier());
}

TEST_F(OpenDossierTest, UndoesAcrossASaveAndThroughACrashAfterIt) {
  Dossier halfway;
  {
    OpenDossier open = reopened();
    ASSERT_TRUE(open.change(AddPoint{{"one", ""}}));
    halfway = open.dossier();
    ASSERT_TRUE(open.change(AddPoint{{"two", ""}}));
    ASSERT_TRUE(open.save());
    ASSERT_TRUE(open.change(AddPoint{{"three", ""}}));
    ASSERT_TRUE(open.undo() && open.undo());
    EXPECT_TRUE(open.dossier() == halfway);
  }
  OpenDossier open = reopened();
  EXPECT_TRUE(open.dossier() == halfway);
  EXPECT_EQ(open.redo()->name, "add point \"two\"");
  EXPECT_EQ(open.redo()->name, "add point \"three\"");
}

TEST_F(OpenDossierTest, OpensASecondTimeReadOnlyAndSaysSo) {
  OpenDossier first = reopened();
  ASSERT_TRUE(first.change(AddPoint{{"new", ""}}));
  auto second = OpenDossier::open(folder_.path());
  ASSERT_TRUE(second) << second.error().sentence;
  EXPECT_TRUE(second->is_read_only());
  EXPECT_THAT(
      second->read_only_sentence(),
      AllOf(HasSubstr("Another program"), HasSubstr("process " + std::to_string(::getpid())),
            HasSubstr("only be looked at")));
  EXPECT_EQ(second->recovery_sentence(), "");
  EXPECT_TRUE(second->dossier() == first.dossier());
  const auto before = snapshot(folder_.path());
  EXPECT_FALSE(second->change(AddPoint{{"x", ""}}));
  EXPECT_FALSE(second->change_and_save(AddPoint{{"x", ""}}));
  EXPECT_FALSE(second->undo());
  EXPECT_FALSE(second->save());
  EXPECT_THAT(OpenDossier::open_for_change(folder_.path()).error().sentence,
              AllOf(HasSubstr("Another program"), HasSubstr("close it there")));
  EXPECT_EQ(snapshot(folder_.path()), before);
}

TEST_F(OpenDossierTest, TakesSeveralEditsTogetherOrNone) {
  OpenDossier open = reopened();
  const std::vector<NamedEdit> bad{{AddPoint{{"one", ""}}, ""}, {RemovePoint{"none"}, ""}};
  EXPECT_FALSE(open.change_all(bad));
  EXPECT_TRUE(open.dossier() == small_dossier());
  EXPECT_FALSE(has_journal());
  const std::vector<NamedEdit> good{{AddPoint{{"one", ""}}, ""}, {AddPoint{{"two", ""}}, "2nd"}};
  ASSERT_TRUE(open.change_all(good));
  EXPECT_EQ(open.unsaved(), 2u);
  EXPECT_EQ(open.undo()->name, "2nd");
  EXPECT_EQ(open.undo()->name, "add point \"one\"");
}

TEST_F(OpenDossierTest, FoldsALongJournalByItself) {
  OpenDossier open = reopened({.fold_after_edits = 10});
  for (int i = 0; i < 25; ++i) {
    ASSERT_TRUE(open.change(AddPoint{{"n" + std::to_string(i), ""}}));
  }
  EXPECT_EQ(open.unsaved(), 5u);
  const auto saved = dossier_from_text(contents_of(file_), "dossier.json");
  ASSERT_TRUE(saved);
  EXPECT_EQ(saved->points.size(), small_dossier().points.size() + 20);
  for (int i = 0; i < 25; ++i) {
    ASSERT_TRUE(open.undo()) << i;
  }
  EXPECT_TRUE(open.dossier() == small_dossier());
}

TEST_F(OpenDossierTest, NotesTheTimeOfEachEdit) {
  OpenDossier open = reopened({.clock = [] {
    return std::chrono::system_clock::time_point(std::chrono::seconds(1'800'000'000));
  }});
  ASSERT_TRUE(open.change(AddPoint{{"new", ""}}));
  // date -u -d @1800000000
  EXPECT_THAT(contents_of(journal_), HasSubstr("\"utc\":\"2027-01-15T08:00:00Z\""));
}

TEST_F(OpenDossierTest, GivesTheSameDossierThroughAnyEditsUndosSavesAndCrashes) {
  for (std::uint32_t seed = 1; seed <= 8; ++seed) {
    ASSERT_TRUE(write_dossier(folder_.path(), small_dossier()));
    RandomEdits edits(seed);
    // The states that undo must lead back to, and redo forth.
    std::vector<Dossier> past, future;
    Dossier now = small_dossier();
    std::optional<OpenDossier> open(reopened({.fold_after_edits = 40}));
    for (int step = 0; step < 150; ++step) {
      const int turn = edits.below(20);
      if (turn < 4) {
        const bool could = open->history().next_undo() != nullptr;
        ASSERT_EQ(open->undo().has_value(), could);
        if (could) {
          ASSERT_FALSE(past.empty());
          future.push_back(std::exchange(now, past.back()));
          past.pop_back();
        }
      } else if (turn < 7) {
        const bool could = open->history().next_redo() != nullptr;
        ASSERT_EQ(open->redo().has_value(), could);
        if (could) {
          ASSERT_FALSE(future.empty());
          past.push_back(std::exchange(now, future.back()));
          future.pop_back();
        }
      } else if (turn == 7) {
        ASSERT_TRUE(open->save());
      } else if (turn == 8) {
        // What a kill does between two edits; the history before the last save is gone with it.
        const std::size_t undo = open->history().undo_steps().size();
        const std::size_t unsaved = open->unsaved();
        open.reset();
        open.emplace(reopened({.fold_after_edits = 40}));
        EXPECT_EQ(open->unsaved(), unsaved);
        EXPECT_LE(open->history().undo_steps().size(), undo);
        past.erase(past.begin(), past.end() - std::ptrdiff_t(open->history().undo_steps().size()));
        future.erase(future.begin(),
                     future.end() - std::ptrdiff_t(open->history().redo_steps().size()));
      } else if (turn < 11 && future.empty() && !now.marks.empty()) {
        Mark mark = now.marks[std::size_t(edits.below(int(now.marks.size())))];
        mark.position_px /= 2;
        const MarkKey key{mark.photo, mark.point};
        const auto& steps = open->history().undo_steps();
        std::size_t joined = steps.size();
        while (joined > 0 && !concerns(steps[joined - 1].edit, key)) --joined;
        ASSERT_TRUE(open->change_further(set_mark(mark), key));
        if (joined == 0) past.push_back(now);
        ASSERT_EQ(steps.size(), past.size());
        for (std::size_t later = joined; joined > 0 && later < past.size(); ++later) {
          ASSERT_TRUE(apply(set_mark(mark), past[later]));
        }
        ASSERT_TRUE(apply(set_mark(mark), now));
      } else {
        const Edit edit = edits.next(now);
        ASSERT_TRUE(open->change(edit)) << describe(edit);
        past.push_back(now);
        future.clear();
        ASSERT_TRUE(apply(edit, now));
      }
      ASSERT_TRUE(open->dossier() == now) << "seed " << seed << ", step " << step;
      const auto read = read_dossier(folder_.path());
      ASSERT_TRUE(read) << read.error().sentence;
      ASSERT_TRUE(*read == now) << "seed " << seed << ", step " << step;
    }
    while (open->undo()) {
      ASSERT_FALSE(past.empty());
      ASSERT_TRUE(open->dossier() == past.back());
      past.pop_back();
    }
    open.reset();
    fs::remove(journal_);
  }
}

// What a crash leaves
// -----------------------------------------------------------------------------------------------

TEST_F(OpenDossierTest, TakesTheWholeLinesOfAJournalThatIsCutAnywhere) {
  std::vector<Dossier> states{small_dossier()};
  std::vector<std::size_t> lengths;
  {
    OpenDossier open = reopened();
    for (int i = 0; i < 6; ++i) {
      ASSERT_TRUE(open.change(AddPoint{{"n" + std::to_string(i), ""}}));
      states.push_back(open.dossier());
      lengths.push_back(contents_of(journal_).size());
    }
  }
  const std::string whole = contents_of(journal_);
  // The file is made with its first edit in it: it is never shorter than that.
  for (std::size_t size = lengths.front(); size <= whole.size(); ++size) {
    put(journal_, whole.substr(0, size));
    // A line of which only the end is missing counts, too.
    const auto edits = std::size_t(
        std::count_if(lengths.begin(), lengths.end(), [&](auto end) { return end <= size + 1; }));
    const auto replayed = replay(folder_.path());
    ASSERT_TRUE(replayed) << replayed.error().sentence;
    ASSERT_TRUE(replayed->dossier == states[edits]) << size;
    ASSERT_EQ(replayed->unsaved, edits);
    if (size % 7 == 0 || size + 1 == lengths[2]) {
      OpenDossier open = reopened();
      const bool is_torn = !replayed->journal.torn.empty();
      EXPECT_EQ(open.recovery_sentence().find("cut short") != std::string::npos, is_torn);
      EXPECT_EQ(contents_of(journal_).size(), size) << "opening alone must not write";
      ASSERT_TRUE(open.change(SetDossierName{"mended"}));
      const auto again = replay(folder_.path());
      ASSERT_TRUE(again) << size << ": " << again.error().sentence;
      EXPECT_TRUE(again->dossier == open.dossier());
      EXPECT_EQ(again->unsaved, edits + 1);
      if (is_torn) {
        EXPECT_EQ(contents_of(folder_ / torn_file_name(replayed->journal.torn)),
                  replayed->journal.torn);
      }
    }
  }
}

TEST_F(OpenDossierTest, RefusesDamageBeforeTheLastLineAndTouchesNothing) {
  {
    OpenDossier open = reopened();
    for (int i = 0; i < 4; ++i) {
      ASSERT_TRUE(open.change(AddPoint{{"n" + std::to_string(i), ""}}));
    }
  }
  const std::string whole = contents_of(journal_);
  const std::size_t last_line = whole.rfind('\n', whole.size() - 2) + 1;
  for (std::size_t at = 0; at < last_line; at += 3) {
    std::string damaged = whole;
    damaged[at] = damaged[at] == '\n' ? ' ' : char(damaged[at] ^ 0x10);
    put(journal_, damaged);
    const auto before = snapshot(folder_.path());
    const auto open = OpenDossier::open(folder_.path());
    ASSERT_FALSE(open) << at;
    const auto line = 1 + std::count(whole.begin(), whole.begin() + std::ptrdiff_t(at), '\n');
    EXPECT_THAT(open.error().sentence,
                AllOf(HasSubstr("journal.ndjson, line " + std::to_string(line)),
                      HasSubstr("move it out of the folder")))
        << at;
    ASSERT_EQ(snapshot(folder_.path()), before);
  }
  // A line that is gone altogether.
  const std::size_t second = whole.find('\n') + 1;
  std::string shorter = whole;
  shorter.erase(second, whole.find('\n', second) + 1 - second);
  put(journal_, shorter);
  EXPECT_THAT(OpenDossier::open(folder_.path()).error().sentence, HasSubstr("a line is missing"));
}

TEST_F(OpenDossierTest, RefusesAJournalOfANewerMajorVersion) {
  {
    OpenDossier open = reopened();
    ASSERT_TRUE(open.change(AddPoint{{"new", ""}}));
  }
  // Sealed anew, as a newer program would have.
  std::string text = testing_support::with(contents_of(journal_), "\"major\":1", "\"major\":2");
  const std::size_t end = text.find(",\"check\":\"");
  const std::string check =
      calib::sha256_of_bytes({reinterpret_cast<const unsigned char*>(text.data()), end});
  text.replace(end + 10, 16, check.substr(0, 16));
  put(journal_, text);
  const auto before = snapshot(folder_.path());
  const auto open = OpenDossier::open(folder_.path());
  ASSERT_FALSE(open);
  EXPECT_THAT(open.error().sentence, AllOf(HasSubstr("line 1"), HasSubstr("newer Scantling")));
  EXPECT_EQ(snapshot(folder_.path()), before);
}

TEST_F(OpenDossierTest, RefusesAJournalOfAnotherDossierFile) {
  {
    OpenDossier open = reopened();
    ASSERT_TRUE(open.change(AddPoint{{"new", ""}}));
  }
  Dossier other = small_dossier();
  ASSERT_TRUE(apply(SetDossierName{"other"}, other));
  ASSERT_TRUE(write_dossier(folder_.path(), other));
  const auto before = snapshot(folder_.path());
  const auto open = OpenDossier::open(folder_.path());
  ASSERT_FALSE(open);
  EXPECT_THAT(open.error().sentence,
              AllOf(HasSubstr("1 edit of another dossier.json"), HasSubstr("bring that")));
  EXPECT_EQ(snapshot(folder_.path()), before);
  fs::remove(journal_);
  EXPECT_TRUE(OpenDossier::open(folder_.path()));
}

TEST_F(OpenDossierTest, TakesNoEditTwiceWhicheverStepOfASaveIsTheLast) {
  const std::string old_text = contents_of(file_);
  std::string with_save_line;
  Dossier changed;
  {
    OpenDossier open = reopened();
    ASSERT_TRUE(open.change(AddDimension{{"twice?", Distance{"A", "B"}}, {}}));
    ASSERT_TRUE(open.change(SetDossierName{"changed"}));
    changed = open.dossier();
    // A save of which only the first step comes about: the journal may still grow, dossier.json is
    // too large for the limit.
    ASSERT_EQ(in_child([&] {
                limit_files_to(contents_of(journal_).size() + 200);
                return open.save() ? 1 : 0;
              }),
              0);
    with_save_line = contents_of(journal_);
    ASSERT_THAT(with_save_line, HasSubstr("\"step\":\"save\""));
    ASSERT_EQ(contents_of(file_), old_text);
  }
  // Killed after the first step.
  EXPECT_EQ(reopened().recovered(), 2u);
  EXPECT_TRUE(reopened().dossier() == changed);
  // Killed after the second: dossier.json is new, the journal still there.
  ASSERT_TRUE(write_dossier(folder_.path(), changed));
  EXPECT_EQ(reopened().recovered(), 0u);
  EXPECT_EQ(reopened().recovery_sentence(), "");
  EXPECT_TRUE(reopened().dossier() == changed);
  // Edits go on after it, and are taken from it.
  Dossier further;
  {
    OpenDossier open = reopened();
    ASSERT_TRUE(open.change(AddPoint{{"further", ""}}));
    further = open.dossier();
  }
  EXPECT_EQ(reopened().recovered(), 1u);
  EXPECT_TRUE(reopened().dossier() == further);
  ASSERT_TRUE(reopened().save());
  EXPECT_FALSE(has_journal());
  EXPECT_TRUE(reopened().dossier() == further);
}

TEST_F(OpenDossierTest, TakesAnEditBackWhereTheDiskIsFull) {
  OpenDossier open = reopened();
  ASSERT_TRUE(open.change(AddPoint{{"fits", ""}}));
  const auto before = snapshot(folder_.path());
  const int code = in_child([&] {
    // Room for half a line more.
    limit_files_to(contents_of(journal_).size() + 60);
    const Dossier was = open.dossier();
    const auto changed = open.change(AddPoint{{"does not fit", ""}});
    if (changed || changed.error().sentence.find("journal.ndjson") == std::string::npos ||
        changed.error().sentence.find("disk is full") == std::string::npos) {
      return 1;
    }
    if (!(open.dossier() == was) || open.unsaved() != 1 || open.undo() || open.redo() ||
        open.history().undo_steps().size() != 1) {
      return 2;
    }
    // Once there is room, all goes on.
    limit_files_to(RLIM_INFINITY);
    return open.change(AddPoint{{"fits now", ""}}) && open.undo() ? 0 : 3;
  });
  EXPECT_EQ(code, 0);
  const auto replayed = replay(folder_.path());
  ASSERT_TRUE(replayed) << replayed.error().sentence;
  EXPECT_TRUE(replayed->dossier == open.dossier());
  EXPECT_EQ(replayed->unsaved, 3u);
  EXPECT_THAT(contents_of(journal_), testing::StartsWith(before.at(journal_.string())));
}

TEST_F(OpenDossierTest, LeavesNoJournalWhereItsFirstEditDoesNotFit) {
  const auto before = snapshot(folder_.path());
  EXPECT_EQ(
      in_child([&] {
        OpenDossier open = reopened();
        limit_files_to(100);
        return !open.change(AddPoint{{"new", ""}}) && open.dossier() == small_dossier() ? 0 : 1;
      }),
      0);
  EXPECT_EQ(snapshot(folder_.path()), before);
}

TEST_F(OpenDossierTest, TakesACommandsEditBackWhereDossierJsonDoesNotFit) {
  for (const bool has_journal_before : {false, true}) {
    if (has_journal_before) {
      ASSERT_TRUE(reopened().change(AddPoint{{"before", ""}}));
    }
    const auto before = snapshot(folder_.path());
    EXPECT_EQ(in_child([&] {
                OpenDossier open = reopened();
                const Dossier was = open.dossier();
                const std::size_t unsaved = open.unsaved();
                limit_files_to(2000);
                const auto changed = open.change_and_save(AddPoint{{"new", ""}});
                return !changed &&
                               changed.error().sentence.find("dossier.json") != std::string::npos &&
                               open.dossier() == was && open.unsaved() == unsaved
                           ? 0
                           : 1;
              }),
              0);
    EXPECT_EQ(snapshot(folder_.path()), before);
  }
  ASSERT_TRUE(reopened().change_and_save(AddPoint{{"new", ""}}));
  EXPECT_FALSE(has_journal());
}

TEST_F(OpenDossierTest, SavesAllWhereSomebodyTookTheJournalAway) {
  OpenDossier open = reopened();
  ASSERT_TRUE(open.change(AddPoint{{"one", ""}}));
  fs::remove(journal_);
  const auto changed = open.change(AddPoint{{"two", ""}});
  ASSERT_FALSE(changed);
  EXPECT_THAT(changed.error().sentence, HasSubstr("save the dossier now"));
  ASSERT_TRUE(open.save());
  ASSERT_TRUE(open.change(AddPoint{{"two", ""}}));
  const auto read = read_dossier(folder_.path());
  ASSERT_TRUE(read);
  EXPECT_TRUE(*read == open.dossier());
}

TEST_F(OpenDossierTest, IsVerifiedWithItsJournal) {
  OpenDossier open = reopened();
  ASSERT_TRUE(open.change(AddPoint{{"one", ""}}));
  const auto findings = verify(folder_.path(), open.dossier());
  EXPECT_TRUE(std::any_of(findings.begin(), findings.end(), [](const Finding& finding) {
    return finding.severity == Severity::kNotice &&
           finding.sentence.find("journal.ndjson holds 1 edit of 20") != std::string::npos;
  }));
}

/// Does one thing at random; tells with 's' that a save begins, with 'd' that an edit is done.
template <typename Tell>
void work_once(OpenDossier& open, RandomEdits& edits, const Tell& tell) {
  const int turn = edits.below(16);
  if (turn < 2) {
    tell('s');
    if (!open.save()) {
      std::abort();
    }
    return;
  }
  const bool is_done = turn < 4   ? open.undo().has_value()
                       : turn < 6 ? open.redo().has_value()
                                  : open.change(edits.next(open.dossier())).has_value();
  if (is_done) {
    tell('d');
  }
}

/// Opens the dossier and works without end, telling a pipe.
[[noreturn]] void work_without_end(const fs::path& folder, std::uint32_t seed, int pipe) {
  auto open = OpenDossier::open_for_change(folder, {.fold_after_edits = 25});
  if (!open) {
    ::_exit(1);
  }
  RandomEdits edits(seed);
  while (true) {
    work_once(*open, edits, [&](char what) {
      if (::write(pipe, &what, 1) != 1) {
        ::_exit(2);
      }
    });
  }
}

/// Starts the work in a child and kills it so long after so many tellings; what it told.
std::string told_before_kill(const fs::path& folder, std::uint32_t seed, std::size_t tellings,
                             char last_telling, useconds_t delay_us) {
  int pipe[2];
  if (::pipe(pipe) != 0) {
    std::abort();
  }
  const pid_t child = ::fork();
  if (child == 0) {
    ::close(pipe[0]);
    work_without_end(folder, seed, pipe[1]);
  }
  ::close(pipe[1]);
  std::string told;
  char what = 0;
  while ((told.size() < tellings || (!told.empty() && told.back() != last_telling)) &&
         ::read(pipe[0], &what, 1) == 1) {
    told += what;
  }
  ::usleep(delay_us);
  ::kill(child, SIGKILL);
  int status = 0;
  ::waitpid(child, &status, 0);
  EXPECT_TRUE(WIFSIGNALED(status)) << "the child failed with code " << WEXITSTATUS(status);
  while (::read(pipe[0], &what, 1) == 1) {
    told += what;
  }
  ::close(pipe[0]);
  return told;
}

TEST_F(OpenDossierTest, LosesNothingThatWasDoneWhenKilledAtAnyMoment) {
  // Disks differ by a factor of a thousand: kills are spread over the time that a save takes here.
  const auto begin = std::chrono::steady_clock::now();
  ASSERT_TRUE(reopened().change_and_save(AddPoint{{"first", ""}}));
  const auto save_us = std::chrono::duration_cast<std::chrono::microseconds>(
                           std::chrono::steady_clock::now() - begin)
                           .count();
  std::mt19937 random(5);
  std::uniform_int_distribution<std::size_t> tellings(0, 10);
  std::uniform_int_distribution<useconds_t> delay_us(0, useconds_t(1.5 * double(save_us)));
  std::size_t done_in_all = 0;
  int between_edits = 0, in_a_save = 0, after_a_save = 0;
  for (std::uint32_t kill = 0; kill < 150; ++kill) {
    // What the child finds, for doing the same again.
    const ScratchFolder twin;
    for (const fs::path& file : {file_, journal_}) {
      if (fs::exists(file)) {
        fs::copy(file, twin.path());
      }
    }
    const std::string told = told_before_kill(folder_.path(), kill, tellings(random),
                                              kill % 2 == 0 ? 'd' : 's', delay_us(random));
    const auto done = std::size_t(std::count(told.begin(), told.end(), 'd'));
    done_in_all += done;

    ASSERT_TRUE(dossier_from_text(contents_of(file_), "dossier.json"))
        << "dossier.json is not whole after kill " << kill;
    const auto found = read_dossier(folder_.path());
    ASSERT_TRUE(found) << "kill " << kill << ": " << found.error().sentence;
    const std::string journal = fs::exists(journal_) ? contents_of(journal_) : "";
    const bool ends_with_save = journal.rfind("\"step\":\"save\"") != std::string::npos &&
                                journal.rfind("\"step\":\"save\"") > journal.rfind("\"edit\"");
    ++(journal.empty() ? after_a_save : ends_with_save ? in_a_save : between_edits);

    // It must be what it was when the last thing was told as done, or one thing further.
    auto again = OpenDossier::open_for_change(twin.path(), {.fold_after_edits = 25});
    ASSERT_TRUE(again) << again.error().sentence;
    RandomEdits edits(kill);
    std::size_t redone = 0;
    while (redone < done || (redone == done && !(again->dossier() == *found))) {
      work_once(*again, edits, [&](char what) { redone += what == 'd' ? 1 : 0; });
    }
    ASSERT_TRUE(again->dossier() == *found) << "kill " << kill << " after " << done << " edits";
  }
  EXPECT_GT(done_in_all, 500u) << "the kills came too early to prove anything";
  EXPECT_GT(between_edits, 5);
  EXPECT_GT(in_a_save, 5);
  EXPECT_GT(after_a_save, 0);
  RecordProperty("done", int(done_in_all));
  RecordProperty("killed_in_a_save", in_a_save);
}

}  // namespace
}  // namespace measure
