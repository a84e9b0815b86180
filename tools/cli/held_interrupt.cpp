#include "tools/cli/held_interrupt.h"

#include <array>
#include <csignal>

namespace cli {
namespace {

constexpr std::array kSignals = {SIGINT, SIGTERM, SIGHUP};

volatile std::sig_atomic_t came_first = 0;
std::array<struct sigaction, kSignals.size()> before;

void note(int signal) {
  if (came_first == 0) came_first = signal;
}

}  // namespace

HeldInterrupt::HeldInterrupt() {
  came_first = 0;
  struct sigaction held {};
  held.sa_handler = note;
  held.sa_flags = SA_RESTART;
  for (std::size_t i = 0; i < kSignals.size(); ++i) {
    ::sigaction(kSignals[i], nullptr, &before[i]);
    // What nohup or a shell has told us to ignore stays ignored.
    if (before[i].sa_handler != SIG_IGN) ::sigaction(kSignals[i], &held, nullptr);
  }
}

HeldInterrupt::~HeldInterrupt() {
  for (std::size_t i = 0; i < kSignals.size(); ++i) ::sigaction(kSignals[i], &before[i], nullptr);
  if (came_first != 0) ::raise(came_first);
}

bool HeldInterrupt::came() { return came_first != 0; }

}  // namespace cli
