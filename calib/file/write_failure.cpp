#include "calib/file/write_failure.h"

#include <cerrno>
#include <cstring>
#include <string>

#include <fcntl.h>
#include <unistd.h>

namespace calib {

namespace fs = std::filesystem;

std::string write_remedy(int error) {
  switch (error) {
    case ENOSPC:
    case EDQUOT:
    case EFBIG:
      return "the disk is full or a limit on file size is reached: make room and try again";
    case EACCES:
    case EPERM:
      return "there is no permission to write: change the permissions of the folder or choose "
             "another place";
    case EROFS:
      return "the disk can only be read: choose another place";
    case ENOENT:
    case ENOTDIR:
      return "its folder does not exist: make the folder or correct the path";
    case EISDIR:
      return "it is a folder: give the name of a file";
    case ENAMETOOLONG:
      return "its name is too long: choose a shorter one";
    default:
      return std::string("the system says \"") + std::strerror(error) +
             "\": check the disk and try again";
  }
}

Unexpected<Problem> not_written(const fs::path& file, int error) {
  return Unexpected(Problem{file.string() + " was not written: " + write_remedy(error) +
                            "; nothing was changed."});
}

int write_all(int descriptor, std::string_view contents) {
  while (!contents.empty()) {
    const ssize_t written = ::write(descriptor, contents.data(), contents.size());
    if (written < 0) {
      if (errno == EINTR) {
        continue;
      }
      return errno;
    }
    if (written == 0) {
      return ENOSPC;
    }
    contents.remove_prefix(static_cast<std::size_t>(written));
  }
  return 0;
}

void sync_folder_of(const fs::path& file) {
  const fs::path folder = file.has_parent_path() ? file.parent_path() : fs::path(".");
  const int descriptor = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (descriptor >= 0) {
    ::fsync(descriptor);
    ::close(descriptor);
  }
}

}  // namespace calib
