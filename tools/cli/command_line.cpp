#include "tools/cli/command_line.h"

#include <algorithm>
#include <iostream>
#include <memory>

#include "tools/cli/options.h"

namespace cli {
namespace {

// A code point of the private use area: in no name that a person types.
constexpr std::string_view kShield = "\xEE\x80\x80";

/// The library's own --help-all stops at groups of commands: this one opens them.
class OpeningGroups : public CLI::Formatter {
 public:
  std::string make_expanded(const CLI::App* command) const override {
    const auto inner = command->get_subcommands([](const CLI::App*) { return true; });
    if (inner.empty()) return CLI::Formatter::make_expanded(command);
    std::string text;
    for (const CLI::App* each : inner) {
      text += command->get_name() + " " + make_expanded(each) + "\n";
    }
    return text;
  }
};

/// The innermost subcommand that was typed, for pointing to its help.
std::string typed_command(const CLI::App& app) {
  std::string name = app.get_name();
  const auto chosen = app.get_subcommands();
  return chosen.empty() ? name : name + " " + typed_command(*chosen.front());
}

std::string one_sentence(std::string text) {
  for (auto at = text.find(kShield); at != std::string::npos; at = text.find(kShield)) {
    text.erase(at, kShield.size());
  }
  std::replace(text.begin(), text.end(), '\n', ' ');
  while (!text.empty() && (text.back() == ' ' || text.back() == '.')) {
    text.pop_back();
  }
  return text;
}

}  // namespace

std::string shielded(std::string argument, bool after_dashes) {
  const bool is_list = argument.size() >= 2 && argument.front() == '[' && argument.back() == ']';
  const bool is_option = after_dashes && argument.starts_with('-');
  return is_list || is_option ? std::string(kShield) + argument : argument;
}

std::string unshielded(std::string argument) {
  return argument.starts_with(kShield) ? argument.substr(kShield.size()) : argument;
}

int run_command_line(int argument_count, const char* const* arguments) {
  CLI::App app("Dimensions with honest error bars, from photographs.", "scantling");
  app.require_subcommand(1);
  app.formatter(std::make_shared<OpeningGroups>());  // before the commands, which inherit it
  app.set_help_all_flag("--help-all", "Help of all commands");
  app.footer(
      "Start with: scantling board, scantling calibrate, scantling dossier new.\n"
      "Examples are of the demo original: its photos and tables lie in datasets/hauler, and "
      "tools/try "
      "makes its dossier.\n"
      "Exit codes: 0 done, 2 the input, 3 the survey cannot be solved as it stands, 1 our fault.");
  Chosen chosen;
  add_calibration_commands(app, chosen);
  add_dossier_commands(app, chosen);
  add_survey_commands(app, chosen);

  std::vector<std::string> typed;
  bool after_dashes = false;
  for (int i = 1; i < argument_count; ++i) {
    const std::string argument = arguments[i];
    if (argument == "--" && !after_dashes) {
      after_dashes = true;
    } else {
      typed.push_back(shielded(argument, after_dashes));
    }
  }
  std::reverse(typed.begin(), typed.end());  // CLI11 wants them backwards
  try {
    app.parse(std::move(typed));
  } catch (const CLI::Success& help) {
    return app.exit(help);
  } catch (const CLI::ParseError& cause) {
    // A word that is no command is left over while the parser only misses one: name the word.
    if (app.get_subcommands().empty() && argument_count > 1 && arguments[1][0] != '-') {
      complain(std::string("There is no command \"") + arguments[1] +
               "\": see \"scantling --help\".");
      return exit_code(calib::Blame::kInput);
    }
    complain(one_sentence(cause.what()) + ": see \"" + typed_command(app) + " --help\".");
    return exit_code(calib::Blame::kInput);
  }
  const Outcome outcome =
      chosen ? chosen() : Outcome(refused("No command was given: see \"scantling --help\"."));
  if (!outcome) {
    complain(outcome.error().sentence);
    return exit_code(outcome.error().blame);
  }
  return 0;
}

}  // namespace cli
