#include "measure/store/dossier_file.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/table.h"
#include "tools/cli/typed.h"

namespace cli {
namespace {

Typed<measure::ScaleBar> bar_of(const BarAdd& command) {
  measure::ScaleBar bar;
  bar.name = command.name;
  bar.from = command.from;
  bar.to = command.to;
  bar.certificate = command.certificate;
  bar.check_only = command.check;
  struct Length {
    const char* option;
    const std::string& text;
    double& field;
  };
  for (const Length& length :
       {Length{"--length", command.length, bar.length_mm}, Length{"--u", command.u, bar.u_own_mm},
        Length{"--u-common", command.u_common, bar.u_common_mm}}) {
    if (length.text.empty()) {
      continue;
    }
    const auto value_mm = typed_length_mm(length.option, length.text);
    if (!value_mm) {
      return calib::Unexpected(value_mm.error());
    }
    length.field = *value_mm;
  }
  const auto expansion = typed_uncertain("--expansion", command.expansion, command.expansion_u);
  if (!expansion) {
    return calib::Unexpected(expansion.error());
  }
  bar.expansion_per_K = *expansion;
  const auto temperature =
      typed_uncertain("--temperature", command.temperature, command.temperature_u);
  if (!temperature) {
    return calib::Unexpected(temperature.error());
  }
  bar.temperature_C = *temperature;
  return bar;
}

}  // namespace

Outcome run(const BarAdd& command) {
  const auto bar = bar_of(command);
  if (!bar) {
    return calib::Unexpected(bar.error());
  }
  return change_dossier(command.folder, measure::AddBar{*bar});
}

Outcome run(const BarList& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  Table table(
      {"scale bar", "from", "to", "length mm", "u mm", "u common mm", "certificate", ""},
      {Align::kLeft, Align::kLeft, Align::kLeft, Align::kRight, Align::kRight, Align::kRight});
  for (const measure::ScaleBar& bar : dossier->bars) {
    table.add({bar.name, bar.from, bar.to, fixed(bar.length_mm, 4), fixed(bar.u_own_mm, 4),
               bar.u_common_mm > 0.0 ? fixed(bar.u_common_mm, 4) : "", bar.certificate,
               bar.check_only ? "check only" : ""});
  }
  say(table.text());
  return calib::Done{};
}

Outcome run(const BarRemove& command) {
  return change_dossier(command.folder, measure::RemoveBar{command.name});
}

}  // namespace cli
