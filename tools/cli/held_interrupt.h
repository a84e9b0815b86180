// Ctrl+C while files are written.
#pragma once

namespace cli {

/// While it lives, SIGINT, SIGTERM and SIGHUP are only noted, so that what was begun can be taken
/// back; at its end the first that came takes effect. One at a time.
class HeldInterrupt {
 public:
  HeldInterrupt();
  HeldInterrupt(const HeldInterrupt&) = delete;
  HeldInterrupt& operator=(const HeldInterrupt&) = delete;
  ~HeldInterrupt();
  [[nodiscard]] static bool came();
};

}  // namespace cli
