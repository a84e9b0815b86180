#include "measure/intake/file_copies.h"

#include <system_error>

#include "calib/file/atomic_write.h"

namespace measure {
namespace {

namespace fs = std::filesystem;
constexpr std::size_t kLargestCopy_bytes = std::size_t{4} << 30;

}  // namespace

FileCopies::~FileCopies() {
  std::error_code ignored;
  for (const fs::path& file : files_) {
    fs::remove(file, ignored);
  }
  for (auto folder = folders_.rbegin(); folder != folders_.rend(); ++folder) {
    fs::remove(*folder, ignored);
  }
}

void FileCopies::keep() {
  files_.clear();
  folders_.clear();
}

calib::Result<calib::Done, calib::Problem> FileCopies::copy(const WantedCopy& wanted) {
  const auto& [from, to] = wanted;
  const auto bytes = calib::read_whole_file(from, kLargestCopy_bytes);
  if (!bytes) {
    return calib::Unexpected(bytes.error());
  }
  std::error_code ignored;
  if (fs::exists(to, ignored)) {
    const auto there = calib::read_whole_file(to, kLargestCopy_bytes);
    if (there && *there == *bytes) {
      return calib::Done{};
    }
    return calib::Unexpected(calib::Problem{to.string() + " exists already: rename " +
                                            from.string() + ", or remove that file."});
  }
  const fs::path folder = to.parent_path();
  if (!fs::exists(folder, ignored) && fs::create_directory(folder, ignored)) {
    folders_.push_back(folder);
  }
  auto written = calib::atomic_write(to, *bytes);
  if (written) {
    files_.push_back(to);
  }
  return written;
}

}  // namespace measure
