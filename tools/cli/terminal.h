// Where a command speaks: results on stdout, warnings and progress on stderr.
#pragma once

#include <memory>
#include <string>

#include "calib/base/problem.h"
#include "calib/base/result.h"

namespace cli {

/// What a command returns: done, or the sentence and who can mend it.
using Outcome = calib::Result<calib::Done, calib::Problem>;

[[nodiscard]] inline calib::Unexpected<calib::Problem> refused(
    std::string sentence, calib::Blame blame = calib::Blame::kInput) {
  return calib::Unexpected(calib::Problem{std::move(sentence), blame});
}

/// Exit code of a problem: 2 the user's input, 3 the survey, 1 our own fault.
[[nodiscard]] int exit_code(calib::Blame blame);

/// One line of result on stdout.
void say(const std::string& line);
/// "scantling: …" on stderr.
void complain(const std::string& sentence);
/// "scantling: warning: …" on stderr.
void warn(const std::string& sentence);

/// A line on stderr that is written over and over while work lasts, and taken away at its end.
/// Shown only on a terminal, and only once the work has lasted for a second. Safe to call from
/// several threads.
class Progress {
 public:
  Progress();
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;
  ~Progress();
  void show(const std::string& text);
  void show(double share, const std::string& text);

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace cli
