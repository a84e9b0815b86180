#include "calib/file/atomic_write.h"

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <optional>
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

/// New contents beside a file, on the disk but not in its place yet; gone again unless finished.
class UnfinishedFile {
 public:
  static Result<UnfinishedFile, Problem> begin(const fs::path& file, std::string_view contents);
  UnfinishedFile(UnfinishedFile&& other) noexcept
      : file_(std::move(other.file_)),
        target_(std::move(other.target_)),
        unfinished_(std::exchange(other.unfinished_, {})) {}
  UnfinishedFile(const UnfinishedFile&) = delete;
  UnfinishedFile& operator=(UnfinishedFile&&) = delete;
  ~UnfinishedFile() {
    if (!unfinished_.empty()) ::unlink(unfinished_.c_str());
  }
  Result<Done, Problem> finish() {
    if (::rename(unfinished_.c_str(), target_.c_str()) != 0) return not_written(file_, errno);
    unfinished_.clear();
    // The new name is on the disk only when the folder is.
    sync_folder_of(target_);
    return Done{};
  }

 private:
  UnfinishedFile(fs::path file, fs::path target, std::string unfinished)
      : file_(std::move(file)), target_(std::move(target)), unfinished_(std::move(unfinished)) {}
  fs::path file_;    // as it was named
  fs::path target_;  // where that leads
  std::string unfinished_;
};

Result<UnfinishedFile, Problem> UnfinishedFile::begin(const fs::path& file,
                                                      std::string_view contents) {
  std::error_code ignored;
  // A rename would replace a link by a file: write to where it leads.
  fs::path target = fs::is_symlink(file, ignored) ? fs::weakly_canonical(file, ignored) : file;
  if (target.empty() || !target.has_filename()) {
    return not_written(file, EISDIR);
  }
  if (fs::is_directory(target, ignored)) {
    return not_written(file, EISDIR);
  }
  const fs::path folder = target.has_parent_path() ? target.parent_path() : fs::path(".");

  mode_t permissions = kUsualPermissions;
  struct stat existing {};
  if (::stat(target.c_str(), &existing) == 0) {
    permissions = existing.st_mode & 07777;
  }

  std::string name(".");
  name += target.filename().string();
  name += kUnfinished;
  name += "XXXXXX";
  std::string unfinished = (folder / name).string();
  OpenFile out(::mkostemp(unfinished.data(), O_CLOEXEC));
  if (!out.is_open()) {
    return not_written(file, errno);
  }
  UnfinishedFile begun(file, target, unfinished);
  if (const int error = write_and_sync(out, contents, permissions)) {
    return not_written(file, error);
  }
  return begun;
}

}  // namespace

Result<Done, Problem> atomic_write(const fs::path& file, std::string_view contents) {
  auto begun = UnfinishedFile::begin(file, contents);
  if (!begun) return Unexpected(begun.error());
  return begun->finish();
}

Result<Done, Problem> atomic_write_all(std::span<const FileContents> files) {
  std::vector<UnfinishedFile> begun;
  begun.reserve(files.size());
  for (const FileContents& file : files) {
    auto next = UnfinishedFile::begin(file.file, file.contents);
    if (!next) return Unexpected(next.error());
    begun.push_back(std::move(*next));
  }
  for (UnfinishedFile& file : begun) {
    if (auto finished = file.finish(); !finished) return finished;
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
