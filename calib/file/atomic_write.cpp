#include "calib/file/atomic_write.h"

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <system_error>
#include <utility>
#include <vector>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "calib/file/write_failure.h"

namespace calib {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view kUnfinished = ".unfinished-";
constexpr mode_t kUsualPermissions = 0644;

class OpenFile {
 public:
  explicit OpenFile(int descriptor) : descriptor_(descriptor) {}
  OpenFile(const OpenFile&) = delete;
  OpenFile& operator=(const OpenFile&) = delete;
  ~OpenFile() { close_now(); }
  [[nodiscard]] int get() const { return descriptor_; }
  [[nodiscard]] bool is_open() const { return descriptor_ >= 0; }
  /// Network and quota file systems report a full disk only here.
  int close_now() {
    const int descriptor = std::exchange(descriptor_, -1);
    return descriptor < 0 ? 0 : ::close(descriptor);
  }

 private:
  int descriptor_;
};

/// 0, or the errno that kept the bytes from the disk.
int write_and_sync(OpenFile& out, std::string_view contents, mode_t permissions) {
  if (const int error = write_all(out.get(), contents)) {
    return error;
  }
  if (::fchmod(out.get(), permissions) != 0 || ::fsync(out.get()) != 0 || out.close_now() != 0) {
    return errno;
  }
  return 0;
}

/// A file that is written beside its place, and removed unless it is given its name.
class Staged {
 public:
  explicit Staged(fs::path file) : file_(std::move(file)) {}
  Staged(Staged&& other) noexcept
      : file_(std::move(other.file_)),
        target_(std::move(other.target_)),
        unfinished_(std::exchange(other.unfinished_, {})) {}
  Staged& operator=(Staged&&) = delete;
  ~Staged() {
    if (!unfinished_.empty()) {
      ::unlink(unfinished_.c_str());
    }
  }
  [[nodiscard]] const fs::path& file() const { return file_; }

  /// 0, or the errno that kept the contents from the disk.
  int write(std::string_view contents) {
    std::error_code ignored;
    // A rename would replace a link by a file: write to where it leads.
    target_ = fs::is_symlink(file_, ignored) ? fs::weakly_canonical(file_, ignored) : file_;
    if (target_.empty() || !target_.has_filename() || fs::is_directory(target_, ignored)) {
      return EISDIR;
    }
    const fs::path folder = target_.has_parent_path() ? target_.parent_path() : fs::path(".");
    mode_t permissions = kUsualPermissions;
    struct stat existing {};
    if (::stat(target_.c_str(), &existing) == 0) {
      permissions = existing.st_mode & 07777;
    }
    std::string name(".");
    name += target_.filename().string();
    name += kUnfinished;
    name += "XXXXXX";
    std::string unfinished = (folder / name).string();
    OpenFile out(::mkostemp(unfinished.data(), O_CLOEXEC));
    if (!out.is_open()) {
      return errno;
    }
    unfinished_ = std::move(unfinished);
    return write_and_sync(out, contents, permissions);
  }

  /// 0, or the errno that kept the file from its name.
  int give_name() {
    if (::rename(unfinished_.c_str(), target_.c_str()) != 0) {
      return errno;
    }
    unfinished_.clear();
    return 0;
  }
  /// The new name is on the disk only when the folder is.
  void sync_name() const { sync_folder_of(target_); }

 private:
  fs::path file_, target_;
  std::string unfinished_;
};

/// Folders that were made for files, and go unless they are kept.
class MadeFolders {
 public:
  MadeFolders() = default;
  MadeFolders(const MadeFolders&) = delete;
  MadeFolders& operator=(const MadeFolders&) = delete;
  ~MadeFolders() {
    // The innermost first; one that somebody has put something into stays.
    for (auto folder = made_.rbegin(); folder != made_.rend(); ++folder) {
      ::rmdir(folder->c_str());
    }
  }
  void keep() { made_.clear(); }

  /// 0, or the errno that kept a folder from being made.
  int make(const fs::path& folder) {
    std::error_code failed;
    if (folder.empty() || fs::is_directory(folder, failed)) {
      return 0;
    }
    if (folder.has_relative_path() && folder.parent_path() != folder) {
      if (const int error = make(folder.parent_path())) {
        return error;
      }
    }
    if (fs::create_directory(folder, failed)) {
      made_.push_back(folder);
    }
    return failed ? failed.value() : fs::is_directory(folder, failed) ? 0 : ENOTDIR;
  }

 private:
  std::vector<fs::path> made_;
};

}  // namespace

Result<Done, Problem> atomic_write(const fs::path& file, std::string_view contents) {
  Staged staged(file);
  if (const int error = staged.write(contents)) {
    return not_written(file, error);
  }
  if (const int error = staged.give_name()) {
    return not_written(file, error);
  }
  staged.sync_name();
  return Done{};
}

Result<Done, Problem> atomic_write_all(std::span<const FileContents> files,
                                       const std::function<bool()>& stop) {
  MadeFolders folders;  // outlives what lies in them
  std::vector<Staged> all;
  all.reserve(files.size());
  for (const FileContents& each : files) {
    if (stop && stop()) {
      return Unexpected(Problem{"The writing was stopped: nothing was written."});
    }
    if (const int error = folders.make(each.file.parent_path())) {
      return not_written(each.file, error);
    }
    if (const int error = all.emplace_back(each.file).write(each.contents)) {
      return not_written(each.file, error);
    }
  }
  if (stop && stop()) {
    return Unexpected(Problem{"The writing was stopped: nothing was written."});
  }
  for (std::size_t i = 0; i < all.size(); ++i) {
    const int error = all[i].give_name();
    if (error != 0 && i == 0) {
      return not_written(all[i].file(), error);
    }
    folders.keep();
    if (error != 0) {
      return Unexpected(Problem{all[i].file().string() +
                                " was not written: " + write_remedy(error) + "; of " +
                                std::to_string(all.size()) + " files the first " +
                                std::to_string(i) + " are new, the others as before."});
    }
  }
  for (const Staged& each : all) {
    each.sync_name();
  }
  return Done{};
}

bool is_interrupted_write(const fs::path& file) {
  const std::string name = file.filename().string();
  return name.starts_with('.') && name.find(kUnfinished) != std::string::npos;
}

Result<std::string, Problem> read_whole_file(const fs::path& file, std::size_t largest_bytes) {
  const auto refused = [&](const std::string& fault) {
    return Unexpected(Problem{file.string() + " " + fault});
  };
  const OpenFile in(::open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
  if (!in.is_open()) {
    switch (errno) {
      case ENOENT:
      case ENOTDIR:
        return refused("does not exist: check the path.");
      case EACCES:
      case EPERM:
        return refused("may not be read: change its permissions.");
      default:
        return refused(std::string("cannot be read (") + std::strerror(errno) +
                       "): check the disk.");
    }
  }
  struct stat status {};
  if (::fstat(in.get(), &status) != 0 || !S_ISREG(status.st_mode)) {
    return refused("is a folder or a device: give the name of a file.");
  }
  if (static_cast<std::uintmax_t>(status.st_size) > largest_bytes) {
    return refused("is larger than " + std::to_string(largest_bytes >> 20) +
                   " MB: is it the right file?");
  }
  std::string contents(static_cast<std::size_t>(status.st_size), '\0');
  std::size_t filled = 0;
  while (filled < contents.size()) {
    const ssize_t count = ::read(in.get(), contents.data() + filled, contents.size() - filled);
    if (count < 0 && errno == EINTR) {
      continue;
    }
    if (count < 0) {
      return refused(std::string("cannot be read to its end (") + std::strerror(errno) +
                     "): check the disk.");
    }
    if (count == 0) {
      break;
    }
    filled += static_cast<std::size_t>(count);
  }
  contents.resize(filled);
  return contents;
}

}  // namespace calib
