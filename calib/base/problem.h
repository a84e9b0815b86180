// What a person is told when something of theirs cannot be used.
#pragma once

#include <string>

namespace calib {

/// Who can mend a problem; the command line turns it into its exit code.
enum class Blame {
  kInput,   ///< the user's input: exit code 2
  kSurvey,  ///< the survey cannot be solved as it stands: exit code 3
  kOurs,    ///< our own fault: exit code 1
};

/// A sentence that names the file, the item and the remedy.
struct Problem {
  std::string sentence;
  Blame blame = Blame::kInput;
};

}  // namespace calib
