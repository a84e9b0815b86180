// Files copied into a dossier, taken back where the work fails after all.
#pragma once

#include <filesystem>
#include <vector>

#include "calib/base/problem.h"
#include "calib/base/result.h"

namespace measure {

/// A file that must lie in the dossier before an edit may name it.
struct WantedCopy {
  std::filesystem::path from, to;
  friend bool operator==(const WantedCopy&, const WantedCopy&) = default;
};

class FileCopies {
 public:
  FileCopies() = default;
  FileCopies(const FileCopies&) = delete;
  FileCopies& operator=(const FileCopies&) = delete;
  /// Takes back every copy that was not kept, and the folders made for them.
  ~FileCopies();

  /// Makes the folder, too. A file of the same contents that is there already will do.
  ///
  /// Errors: another file has the name; what atomic_write says.
  [[nodiscard]] calib::Result<calib::Done, calib::Problem> copy(const WantedCopy& wanted);
  /// A file that was written here by other means, to be taken back, too.
  void take_over(const std::filesystem::path& file) { files_.push_back(file); }
  void keep();

 private:
  std::vector<std::filesystem::path> files_, folders_;
};

}  // namespace measure
