// Programs that are not ours, started by tests: what they say, and whether they were content.
#pragma once

#include <array>
#include <cstdio>
#include <string>

#include <sys/wait.h>

namespace testing_support {

struct ProgramEnd {
  int code = -1;
  std::string said;  ///< both outputs
};

inline ProgramEnd run_outside(const std::string& command) {
  ProgramEnd end;
  FILE* pipe = ::popen((command + " 2>&1").c_str(), "r");
  std::array<char, 4096> part{};
  while (pipe != nullptr && std::fgets(part.data(), part.size(), pipe) != nullptr) {
    end.said += part.data();
  }
  const int status = pipe != nullptr ? ::pclose(pipe) : -1;
  end.code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  return end;
}

/// One of the readers beside this file, which say what differs and end with 0 where nothing does.
inline std::string reader(const std::string& script) {
  return std::string(SCANTLING_PYTHON) + " " + SCANTLING_SOURCE + "/tests/measure/sheet/" + script +
         " ";
}

}  // namespace testing_support
