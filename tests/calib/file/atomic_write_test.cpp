#include "calib/file/atomic_write.h"

#include <csignal>
#include <cstdlib>
#include <random>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/calib/file/scratch_folder.h"

namespace calib {
namespace {

namespace fs = std::filesystem;
using testing::AllOf;
using testing::HasSubstr;
using testing_support::contents_of;
using testing_support::put;
using testing_support::ScratchFolder;
using testing_support::snapshot;

/// Runs in a child process, whose limits and death are its own; returns waitpid's status.
template <typename Work>
int in_child(const Work& work) {
  const pid_t child = ::fork();
  if (child == 0) {
    ::_exit(work());
  }
  int status = -1;
  ::waitpid(child, &status, 0);
  return status;
}

TEST(AtomicWrite, ReplacesTheContentsAndLeavesNothingElse) {
  const ScratchFolder folder;
  ASSERT_TRUE(atomic_write(folder / "a.json", "old"));
  ASSERT_TRUE(atomic_write(folder / "a.json", "new"));
  EXPECT_EQ(snapshot(folder.path()),
            (std::map<std::string, std::string>{{(folder / "a.json").string(), "new"}}));
}

TEST(AtomicWrite, KeepsPermissionsAndFollowsALink) {
  const ScratchFolder folder;
  put(folder / "real.json", "old");
  ::chmod((folder / "real.json").c_str(), 0600);
  fs::create_symlink("real.json", folder / "link.json");
  ASSERT_TRUE(atomic_write(folder / "link.json", "new"));
  EXPECT_TRUE(fs::is_symlink(folder / "link.json"));
  EXPECT_EQ(contents_of(folder / "real.json"), "new");
  EXPECT_EQ(fs::status(folder / "real.json").permissions(),
            fs::perms::owner_read | fs::perms::owner_write);
}

TEST(AtomicWrite, NamesTheFileAndTheRemedyWhereItCannotWrite) {
  const ScratchFolder folder;
  const auto no_folder = atomic_write(folder / "nowhere/a.json", "x");
  ASSERT_FALSE(no_folder);
  EXPECT_THAT(no_folder.error().sentence,
              AllOf(HasSubstr("nowhere/a.json"), HasSubstr("make the folder")));
  EXPECT_EQ(no_folder.error().blame, Blame::kInput);
  fs::create_directory(folder / "sub");
  const auto is_folder = atomic_write(folder / "sub", "x");
  ASSERT_FALSE(is_folder);
  EXPECT_THAT(is_folder.error().sentence, HasSubstr("it is a folder"));
}

TEST(AtomicWrite, LeavesTheOldFileWhereTheDiskIsFull) {
  const ScratchFolder folder;
  put(folder / "a.json", "old");
  const auto before = snapshot(folder.path());
  const int status = in_child([&] {
    // A limit on the size of files stops a write in its middle, as a full disk does.
    const rlimit limit{4096, 4096};
    ::setrlimit(RLIMIT_FSIZE, &limit);
    std::signal(SIGXFSZ, SIG_IGN);
    const auto written = atomic_write(folder / "a.json", std::string(100'000, 'x'));
    const bool is_told =
        !written && written.error().sentence.find("disk is full") != std::string::npos;
    return is_told ? 0 : 1;
  });
  EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0);
  EXPECT_EQ(snapshot(folder.path()), before);
}

TEST(AtomicWrite, LeavesTheOldFileOrTheNewWhenKilledAtAnyMoment) {
  const ScratchFolder folder;
  const fs::path file = folder / "a.json";
  const std::string old_text(300'000, 'o'), new_text(500'000, 'n');
  put(file, old_text);
  std::mt19937 random(7);
  std::uniform_int_distribution<useconds_t> delay_us(0, 3000);
  bool was_old = false, was_new = false;
  for (int i = 0; i < 200; ++i) {
    const pid_t child = ::fork();
    if (child == 0) {
      for (bool turn = true;; turn = !turn) {
        [[maybe_unused]] const auto written = atomic_write(file, turn ? new_text : old_text);
      }
    }
    ::usleep(delay_us(random));
    ::kill(child, SIGKILL);
    ::waitpid(child, nullptr, 0);
    const std::string found = contents_of(file);
    ASSERT_TRUE(found == old_text || found == new_text)
        << found.size() << " bytes after kill " << i;
    was_old |= found == old_text;
    was_new |= found == new_text;
  }
  EXPECT_TRUE(was_old && was_new) << "the kills came too early or too late to prove anything";
  // What the kills left behind is known by its name.
  for (const auto& entry : fs::directory_iterator(folder.path())) {
    EXPECT_TRUE(entry.path() == file || is_interrupted_write(entry.path())) << entry.path();
  }
}

/// Three files, two of them in folders that are missing.
std::vector<FileContents> sheet_in(const fs::path& folder, std::string_view contents) {
  return {{folder / "sheet" / "page.html", contents},
          {folder / "sheet" / "data" / "points.csv", contents},
          {folder / "sheet" / "data" / "more" / "points.obj", contents}};
}

/// All paths below a folder, folders too.
std::vector<fs::path> paths_in(const fs::path& folder) {
  std::vector<fs::path> paths;
  for (const auto& entry : fs::recursive_directory_iterator(folder)) paths.push_back(entry.path());
  return paths;
}

TEST(AtomicWriteAll, MakesFoldersReplacesFilesAndLeavesOthersAlone) {
  const ScratchFolder folder;
  ASSERT_TRUE(atomic_write_all(sheet_in(folder.path(), "old")));
  put(folder / "sheet/data/mine.txt", "mine");
  ASSERT_TRUE(atomic_write_all(sheet_in(folder.path(), "new")));
  EXPECT_EQ(snapshot(folder.path()),
            (std::map<std::string, std::string>{
                {(folder / "sheet/page.html").string(), "new"},
                {(folder / "sheet/data/points.csv").string(), "new"},
                {(folder / "sheet/data/mine.txt").string(), "mine"},
                {(folder / "sheet/data/more/points.obj").string(), "new"}}));
}

TEST(AtomicWriteAll, LeavesNothingWhereItIsStoppedBeforeAnyFile) {
  for (int asked_before = 0; asked_before <= 3; ++asked_before) {
    const ScratchFolder folder;
    int asked = 0;
    const auto written =
        atomic_write_all(sheet_in(folder.path(), "new"), [&] { return asked++ == asked_before; });
    ASSERT_FALSE(written) << asked_before;
    EXPECT_THAT(written.error().sentence, HasSubstr("stopped: nothing was written"));
    EXPECT_EQ(paths_in(folder.path()), std::vector<fs::path>()) << asked_before;
  }
}

TEST(AtomicWriteAll, LeavesAllOldFilesWhereOneCannotBeWritten) {
  const ScratchFolder folder;
  ASSERT_TRUE(atomic_write_all(sheet_in(folder.path(), "old")));
  put(folder / "file", "a file, not a folder");
  const auto before = snapshot(folder.path());
  // In the last place of all: one in a folder that is a file, and one too large for the disk.
  auto files = sheet_in(folder.path(), "new");
  files.push_back({folder / "file" / "below", "new"});
  const auto no_folder = atomic_write_all(files);
  ASSERT_FALSE(no_folder);
  EXPECT_THAT(no_folder.error().sentence,
              AllOf(HasSubstr("file/below"), HasSubstr("nothing was changed")));
  EXPECT_EQ(snapshot(folder.path()), before);
  const std::string large(100'000, 'x');
  files.back() = {folder / "made" / "for" / "large", large};
  const int status = in_child([&] {
    const rlimit limit{4096, 4096};
    ::setrlimit(RLIMIT_FSIZE, &limit);
    std::signal(SIGXFSZ, SIG_IGN);
    const auto written = atomic_write_all(files);
    const bool is_told =
        !written && written.error().sentence.find("disk is full") != std::string::npos;
    return is_told ? 0 : 1;
  });
  EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0);
  EXPECT_EQ(snapshot(folder.path()), before);
  EXPECT_FALSE(fs::exists(folder / "made"));
}

TEST(AtomicWriteAll, LeavesWholeFilesOnlyWhenKilledAtAnyMoment) {
  const ScratchFolder folder;
  const std::string old_text(300'000, 'o'), new_text(500'000, 'n');
  ASSERT_TRUE(atomic_write_all(sheet_in(folder.path(), old_text)));
  std::mt19937 random(7);
  std::uniform_int_distribution<useconds_t> delay_us(0, 6000);
  for (int i = 0; i < 50; ++i) {
    const pid_t child = ::fork();
    if (child == 0) {
      for (bool turn = true;; turn = !turn) {
        [[maybe_unused]] const auto written =
            atomic_write_all(sheet_in(folder.path(), turn ? new_text : old_text));
      }
    }
    ::usleep(delay_us(random));
    ::kill(child, SIGKILL);
    ::waitpid(child, nullptr, 0);
    for (const FileContents& each : sheet_in(folder.path(), "")) {
      const std::string found = contents_of(each.file);
      ASSERT_TRUE(found == old_text || found == new_text)
          << found.size() << " bytes in " << each.file << " after kill " << i;
    }
  }
}

TEST(ReadWholeFile, SaysWhatIsWrongWithAPath) {
  const ScratchFolder folder;
  EXPECT_THAT(read_whole_file(folder / "none").error().sentence, HasSubstr("does not exist"));
  EXPECT_THAT(read_whole_file(folder.path()).error().sentence, HasSubstr("is a folder"));
  EXPECT_THAT(read_whole_file("/dev/zero").error().sentence, HasSubstr("device"));
  put(folder / "large", "12345678");
  EXPECT_FALSE(read_whole_file(folder / "large", 4));
}

}  // namespace
}  // namespace calib
