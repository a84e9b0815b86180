#include <cerrno>
#include <cstring>
#include <filesystem>
#include <system_error>
#include <vector>

#include <unistd.h>

#include "tools/cli/commands.h"

namespace cli {

Outcome run(const DeskCommand& command) {
  namespace fs = std::filesystem;
  // The desk lies beside this program, wherever both were put.
  std::error_code failed;
  const fs::path self = fs::read_symlink("/proc/self/exe", failed);
  const fs::path program = self.parent_path() / "scantling-desk";
  if (failed || !fs::exists(program, failed)) {
    return refused("The desk is not installed beside this command (" + program.string() +
                   "): build it with -DSCANTLING_DESK=ON, or install scantling-desk.");
  }
  std::vector<std::string> words{program.string()};
  if (!command.folder.empty()) words.push_back(fs::absolute(command.folder).string());
  std::vector<char*> arguments;
  for (std::string& word : words) arguments.push_back(word.data());
  arguments.push_back(nullptr);
  execv(program.c_str(), arguments.data());
  return refused("The desk could not be started (" + program.string() +
                 "): " + std::strerror(errno) + ".");
}

}  // namespace cli
