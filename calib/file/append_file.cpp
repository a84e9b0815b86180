#include "calib/file/append_file.h"

#include <cerrno>
#include <utility>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "calib/file/write_failure.h"

namespace calib {

namespace fs = std::filesystem;

Result<AppendFile, Problem> AppendFile::open(const fs::path& file) {
  const int descriptor = ::open(file.c_str(), O_WRONLY | O_APPEND | O_CLOEXEC | O_NONBLOCK);
  if (descriptor < 0) {
    return not_written(file, errno);
  }
  AppendFile opened(file, descriptor, 0);
  struct stat status {};
  if (::fstat(descriptor, &status) != 0) {
    return not_written(file, errno);
  }
  if (!S_ISREG(status.st_mode)) {
    return not_written(file, EISDIR);
  }
  opened.size_ = static_cast<std::uintmax_t>(status.st_size);
  return opened;
}

AppendFile::AppendFile(AppendFile&& other) noexcept
    : file_(std::move(other.file_)),
      descriptor_(std::exchange(other.descriptor_, -1)),
      size_(other.size_),
      has_remains_(other.has_remains_) {}

AppendFile& AppendFile::operator=(AppendFile&& other) noexcept {
  std::swap(file_, other.file_);
  std::swap(descriptor_, other.descriptor_);
  std::swap(size_, other.size_);
  std::swap(has_remains_, other.has_remains_);
  return *this;
}

AppendFile::~AppendFile() {
  if (descriptor_ >= 0) {
    ::close(descriptor_);
  }
}

int AppendFile::cut_back() {
  if (::ftruncate(descriptor_, static_cast<off_t>(size_)) != 0 || ::fsync(descriptor_) != 0) {
    return errno;
  }
  has_remains_ = false;
  return 0;
}

Result<Done, Problem> AppendFile::append(std::string_view text) {
  if (has_remains_) {
    if (const int error = cut_back()) {
      return not_written(file_, error);
    }
  }
  int error = write_all(descriptor_, text);
  if (error == 0 && ::fsync(descriptor_) != 0) {
    error = errno;
  }
  if (error != 0) {
    has_remains_ = true;
    // A failure here is met again, and told, by the next append.
    [[maybe_unused]] const int later = cut_back();
    return not_written(file_, error);
  }
  size_ += text.size();
  return Done{};
}

Result<Done, Problem> AppendFile::shorten(std::uintmax_t size) {
  const std::uintmax_t before = std::exchange(size_, size);
  if (const int error = cut_back()) {
    size_ = before;
    return not_written(file_, error);
  }
  return Done{};
}

bool AppendFile::is_in_place() const {
  struct stat named {
  }, opened{};
  return ::stat(file_.c_str(), &named) == 0 && ::fstat(descriptor_, &opened) == 0 &&
         named.st_ino == opened.st_ino && named.st_dev == opened.st_dev &&
         (has_remains_ || static_cast<std::uintmax_t>(opened.st_size) == size_);
}

Result<Done, Problem> remove_file(const fs::path& file) {
  if (::unlink(file.c_str()) != 0) {
    if (errno == ENOENT) {
      return Done{};
    }
    return not_written(file, errno);
  }
  sync_folder_of(file);
  return Done{};
}

}  // namespace calib
