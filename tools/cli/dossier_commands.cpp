#include "measure/edit/apply.h"
#include "measure/edit/name_rules.h"
#include "measure/edit/warnings.h"
#include "measure/store/dossier_file.h"
#include "measure/store/results_file.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/table.h"
#include "tools/cli/typed.h"

namespace cli {
namespace {

using measure::Dossier;
using measure::Edit;

Typed<measure::ScaleRatio> typed_ratio(const std::string& option, const std::string& text) {
  const auto ratio = measure::parse_ratio(text);
  if (!ratio) {
    return refused(option + ": " + ratio.error().sentence);
  }
  return *ratio;
}

/// The scales as they stand, with what the settings change.
Typed<measure::SetScales> scales_of(const DossierSettings& settings, const Dossier& dossier) {
  measure::SetScales scales{dossier.model_scale, dossier.replica_scales};
  if (!settings.model_scale.empty()) {
    const auto ratio = typed_ratio("--model-scale", settings.model_scale);
    if (!ratio) {
      return calib::Unexpected(ratio.error());
    }
    scales.model_scale = *ratio;
  }
  if (!settings.model_scale_u.empty()) {
    const auto u = typed_number("--model-scale-u", settings.model_scale_u);
    if (!u) {
      return calib::Unexpected(u.error());
    }
    if (!scales.model_scale) {
      return refused("--model-scale-u needs --model-scale: give it too.");
    }
    scales.model_scale->u = *u;
  }
  if (!settings.replica_scales.empty()) {
    scales.replica_scales.clear();
  }
  for (const std::string& text : settings.replica_scales) {
    const auto ratio = typed_ratio("--replica-scale", text);
    if (!ratio) {
      return calib::Unexpected(ratio.error());
    }
    scales.replica_scales.push_back(*ratio);
  }
  return scales;
}

Typed<Edit> edit_of(const DossierSettings& settings, const Dossier& dossier) {
  measure::EditGroup group;
  if (!settings.name.empty()) {
    group.edits.push_back(measure::SetDossierName{settings.name});
  }
  const auto scales = scales_of(settings, dossier);
  if (!scales) {
    return calib::Unexpected(scales.error());
  }
  group.edits.push_back(*scales);
  const auto temperature =
      typed_uncertain("--temperature", settings.temperature, settings.temperature_u);
  if (!temperature) {
    return calib::Unexpected(temperature.error());
  }
  if (*temperature) {
    group.edits.push_back(measure::SetTemperature{*temperature});
  }
  const auto expansion = typed_uncertain("--expansion", settings.expansion, settings.expansion_u);
  if (!expansion) {
    return calib::Unexpected(expansion.error());
  }
  if (*expansion) {
    group.edits.push_back(measure::SetExpansion{*expansion});
  }
  return Edit(std::move(group));
}

std::string ratio_text(const measure::ScaleRatio& ratio) {
  std::string text = std::to_string(ratio.denominator);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.ends_with('.')) {
    text.pop_back();
  }
  return "1:" + text;
}

std::string results_text(measure::ResultsState state) {
  switch (state) {
    case measure::ResultsState::kNone:
      return "none yet";
    case measure::ResultsState::kCurrent:
      return "current";
    case measure::ResultsState::kStale:
      return "stale: the dossier has changed since; run \"scantling adjust\"";
    case measure::ResultsState::kUnreadable:
      return "cannot be read; run \"scantling adjust\"";
  }
  return "";
}

}  // namespace

Outcome run(const DossierNew& command) {
  Dossier dossier;
  DossierSettings settings = command.settings;
  if (settings.name.empty()) {
    settings.name = std::filesystem::weakly_canonical(settings.folder).filename().string();
  }
  const auto edit = edit_of(settings, dossier);
  if (!edit) {
    return calib::Unexpected(edit.error());
  }
  if (const auto applied = measure::apply(*edit, dossier); !applied) {
    return calib::Unexpected(applied.error());
  }
  if (auto created = measure::create_dossier(settings.folder, dossier); !created) {
    return created;
  }
  for (const std::string& sentence : measure::warnings_after(*edit, dossier)) {
    warn(sentence);
  }
  say("Made the dossier " + settings.folder + ".");
  return calib::Done{};
}

Outcome run(const DossierSet& command) {
  return change_dossier(command.settings.folder,
                        [&](const Dossier& dossier) { return edit_of(command.settings, dossier); });
}

Outcome run(const DossierShow& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  std::string replicas;
  for (const measure::ScaleRatio& ratio : dossier->replica_scales) {
    replicas += (replicas.empty() ? "" : ", ") + ratio_text(ratio);
  }
  const auto uncertain = [](const std::optional<measure::Uncertain>& value, double factor,
                            const std::string& unit) {
    return value ? fixed(value->value * factor, 2) + " ± " + fixed(value->u * factor, 2) + unit +
                       " (u)"
                 : std::string("not told");
  };
  Table table({"dossier", dossier->name});
  table.add({"original to full size",
             dossier->model_scale ? ratio_text(*dossier->model_scale) : "not told"});
  table.add({"replicas", replicas.empty() ? "none" : replicas});
  table.add({"temperature", uncertain(dossier->temperature_C, 1.0, " °C")});
  table.add({"expansion", uncertain(dossier->expansion_per_K, 1e6, "e-6 per K")});
  table.add({"cameras", std::to_string(dossier->cameras.size())});
  table.add({"photos", std::to_string(dossier->photos.size())});
  table.add({"points", std::to_string(dossier->points.size())});
  table.add({"marks", std::to_string(dossier->marks.size())});
  table.add({"scale bars", std::to_string(dossier->bars.size())});
  table.add({"dimensions", std::to_string(dossier->dimensions.size())});
  table.add({"results", results_text(measure::results_state(command.folder, *dossier))});
  say(table.text());
  return calib::Done{};
}

}  // namespace cli
