// How commands are typed. Seen by the *_options.cpp and command_line.cpp alone.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include <CLI/CLI.hpp>

#include "tools/cli/commands.h"
#include "tools/cli/terminal.h"

namespace cli {

/// The command that was typed, ready to run.
using Chosen = std::function<Outcome()>;

/// CLI11 takes "[A,B]" apart as a list, and "-x" after "--" for an option of the next subcommand;
/// names may look like that. Such arguments are shielded before parsing and unshielded by every
/// option.
[[nodiscard]] std::string shielded(std::string argument, bool after_dashes);
[[nodiscard]] std::string unshielded(std::string argument);

/// Adds options of one subcommand and remembers what to run.
template <typename Command>
class Subcommand {
 public:
  Subcommand(CLI::App& parent, const std::string& name, const std::string& does,
             const std::string& example, Chosen& chosen)
      : app_(parent.add_subcommand(name, does)), command_(std::make_shared<Command>()) {
    app_->footer("Example:\n  " + example);
    app_->callback([command = command_, &chosen] { chosen = [command] { return run(*command); }; });
  }

  Command* operator->() { return command_.get(); }
  [[nodiscard]] CLI::App& app() { return *app_; }

  CLI::Option* text(const std::string& name, std::string& field, const std::string& help) {
    return app_->add_option(name, field, help)->transform(unshielded);
  }
  /// Any number of values, one at least.
  CLI::Option* texts(const std::string& name, std::vector<std::string>& field,
                     const std::string& help) {
    return app_->add_option(name, field, help)->transform(unshielded);
  }
  /// Exactly so many values.
  CLI::Option* texts(const std::string& name, std::vector<std::string>& field, int count,
                     const std::string& help) {
    return app_->add_option(name, field, help)->expected(count)->transform(unshielded);
  }
  CLI::Option* flag(const std::string& name, bool& field, const std::string& help) {
    return app_->add_flag(name, field, help);
  }
  template <typename Number>
  CLI::Option* number(const std::string& name, Number& field, const std::string& help) {
    return app_->add_option(name, field, help);
  }
  CLI::Option* folder() {
    return text("DIR", command_->folder, "folder of the dossier")->required();
  }

 private:
  CLI::App* app_;
  std::shared_ptr<Command> command_;
};

void add_calibration_commands(CLI::App& app, Chosen& chosen);
void add_dossier_commands(CLI::App& app, Chosen& chosen);
void add_survey_commands(CLI::App& app, Chosen& chosen);

}  // namespace cli
