// Files copied into a dossier, taken back where the command fails after all.
#pragma once

#include <filesystem>
#include <vector>

#include "tools/cli/terminal.h"

namespace cli {

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
  [[nodiscard]] Outcome copy(const std::filesystem::path& from, const std::filesystem::path& to);
  void keep();

 private:
  std::vector<std::filesystem::path> files_, folders_;
};

}  // namespace cli
