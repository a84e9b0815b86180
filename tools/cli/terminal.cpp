#include "tools/cli/terminal.h"

#include <chrono>
#include <cstdio>
#include <iostream>
#include <mutex>

#include <unistd.h>

namespace cli {

int exit_code(calib::Blame blame) {
  switch (blame) {
    case calib::Blame::kInput:
      return 2;
    case calib::Blame::kSurvey:
      return 3;
    case calib::Blame::kOurs:
      return 1;
  }
  return 1;
}

void say(const std::string& line) { std::cout << line << '\n'; }
void complain(const std::string& sentence) { std::cerr << "scantling: " << sentence << '\n'; }
void warn(const std::string& sentence) { std::cerr << "scantling: warning: " << sentence << '\n'; }

struct Progress::State {
  using Clock = std::chrono::steady_clock;
  std::mutex guard;
  Clock::time_point begin = Clock::now();
  bool is_terminal = ::isatty(STDERR_FILENO) != 0;
  bool shown = false;
};

Progress::Progress() : state_(std::make_unique<State>()) {}

Progress::~Progress() {
  if (state_->shown) {
    std::fputs("\r\033[K", stderr);
  }
}

void Progress::show(const std::string& text) {
  const std::lock_guard lock(state_->guard);
  if (!state_->is_terminal || State::Clock::now() - state_->begin < std::chrono::seconds(1)) {
    return;
  }
  state_->shown = true;
  std::fputs(("\r\033[K" + text).c_str(), stderr);
  std::fflush(stderr);
}

void Progress::show(double share, const std::string& text) {
  char percent[16];
  std::snprintf(percent, sizeof percent, "%3.0f %% ", 100.0 * share);
  show(percent + text);
}

}  // namespace cli
