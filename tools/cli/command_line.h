// From what was typed to what is run.
#pragma once

namespace cli {

/// Parses and runs one command. Returns the exit code: 0 done, 2 the user's input, 3 the survey
/// cannot be solved as it stands, 1 our fault.
[[nodiscard]] int run_command_line(int argument_count, const char* const* arguments);

}  // namespace cli
