#include <algorithm>
#include <filesystem>
#include <set>
#include <string>
#include <vector>

#include "calib/board/board_pdf.h"
#include "measure/dimension/dimension.h"
#include "measure/dimension/quantity_text.h"
#include "measure/edit/typed_quantity.h"
#include "measure/sheet/day.h"
#include "measure/store/dossier_file.h"
#include "measure/store/files_json.h"
#include "measure/store/results_file.h"
#include "measure/store/sheet_files.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/held_interrupt.h"
#include "tools/cli/survey_run.h"
#include "tools/cli/terminal.h"
#include "tools/cli/typed.h"

namespace cli {
namespace {

namespace fs = std::filesystem;

/// The replica scales that were typed take the place of the dossier's, for this sheet only.
Outcome take_replica_scales(const SheetCommand& command, measure::Dossier& dossier) {
  if (command.replica_scales.empty()) return calib::Done{};
  if (!dossier.model_scale) {
    return refused(
        "--replica-scale: the dossier does not tell the original's own scale: give it with "
        "\"scantling dossier set DIR --model-scale 1:48\".");
  }
  dossier.replica_scales.clear();
  for (const std::string& text : command.replica_scales) {
    const auto ratio = measure::parse_ratio(text);
    if (!ratio) return refused("--replica-scale: " + ratio.error().sentence);
    auto& scales = dossier.replica_scales;
    if (std::find(scales.begin(), scales.end(), *ratio) == scales.end()) scales.push_back(*ratio);
  }
  return calib::Done{};
}

Typed<std::set<measure::SheetPart>> parts_of(const std::vector<std::string>& words) {
  std::set<measure::SheetPart> parts;
  for (const std::string& word : words) {
    if (word == "dimensions") {
      parts.insert(measure::SheetPart::kDimensions);
    } else if (word == "templates") {
      parts.insert(measure::SheetPart::kTemplates);
    } else if (word == "data") {
      parts.insert(measure::SheetPart::kData);
    } else {
      return refused("--parts: \"" + word + "\" is none of dimensions, templates and data.");
    }
  }
  if (parts.empty()) parts = measure::SheetFilesOptions{}.parts;
  return parts;
}

/// Before the work, not after it: the folder itself is made when all files are.
Outcome may_be_folder(const fs::path& output) {
  std::error_code failed;
  fs::path existing = output;
  while (!fs::exists(existing, failed) && !failed && existing.has_parent_path() &&
         existing.parent_path() != existing) {
    existing = existing.parent_path();
  }
  // What cannot be looked at, the writing will say.
  if (failed || !fs::exists(existing, failed)) return calib::Done{};
  if (!fs::is_directory(existing, failed)) {
    return refused("--output: the folder " + output.string() + " cannot be made (" +
                   existing.string() + " is no folder): name another.");
  }
  return calib::Done{};
}

}  // namespace

Outcome run(const SheetCommand& command) {
  const auto parsed = measure::read_dossier(command.folder);
  if (!parsed) return calib::Unexpected(parsed.error());
  const std::string fingerprint = measure::fingerprint(*parsed);
  measure::Dossier shown = *parsed;
  measure::Dossier* const dossier = &shown;
  if (dossier->dimensions.empty()) {
    return refused("The dossier " + command.folder +
                   " asks for no dimension: add one with \"scantling dimension add\".");
  }
  if (!command.date.empty() && !measure::is_day(command.date)) {
    return refused("--date: \"" + command.date + "\" is no day: write it as 2025-05-17.");
  }
  const auto paper = calib::paper_named(command.paper);
  if (!paper) return calib::Unexpected(paper.error());
  const auto parts = parts_of(command.parts);
  if (!parts) return calib::Unexpected(parts.error());
  for (const std::string& name : command.draw) {
    if (!measure::form_of(*dossier, name)) {
      return refused("--draw: the dossier has no point or shape \"" + name +
                     "\": \"scantling shape list " + command.folder + "\" shows the shapes.");
    }
  }
  measure::SheetFilesOptions files_options;
  measure::SheetOptions& options = files_options.sheet;
  const auto tolerance = typed_length_mm("--tolerance", command.tolerance);
  if (!tolerance) return calib::Unexpected(tolerance.error());
  if (!(*tolerance > 0)) return refused("--tolerance: it must be above zero: 0.1mm.");
  options.tolerance_mm = *tolerance;
  if (auto taken = take_replica_scales(command, *dossier); !taken) return taken;
  for (const std::string& name : command.only) {
    if (std::none_of(dossier->dimensions.begin(), dossier->dimensions.end(),
                     [&](const auto& asked) { return asked.name == name; })) {
      return refused("--only: the dossier has no dimension \"" + name +
                     "\": \"scantling dimension list " + command.folder + "\" shows their names.");
    }
  }
  if (command.output.empty()) return refused("--output: give the name of a folder.");
  const fs::path output = command.output;
  if (auto usable = may_be_folder(output); !usable) return usable;
  const auto cameras = measure::read_cameras(command.folder, *dossier);
  if (!cameras) return calib::Unexpected(cameras.error());
  const auto survey = solve(command.folder, *dossier);
  if (!survey) return calib::Unexpected(survey.error());
  Progress progress;
  const auto show = [&](double share, const std::string& what) { progress.show(share, what); };
  options.date = command.date;
  options.measured_by = command.by;
  options.dossier = fs::absolute(fs::path(command.folder)).lexically_normal().filename().string();
  if (options.dossier.empty()) {  // "hauler/"
    options.dossier =
        fs::absolute(fs::path(command.folder)).lexically_normal().parent_path().filename().string();
  }
  options.fingerprint = fingerprint;
  options.only = command.only;
  options.unit = measure::parse_text_unit(command.unit).value_or(measure::TextUnit::kMm);
  options.denominator = command.fraction;
  options.photo_file = [&](const measure::Photo& photo) {
    return measure::path_of(command.folder, photo.file);
  };
  options.progress = show;
  files_options.paper = *paper;
  files_options.parts = *parts;
  files_options.onto = command.onto;
  files_options.draw = command.draw;
  // All are made before any is written: a sheet is not left half new, half old.
  const auto made = measure::sheet_files(*survey, *dossier, *cameras, files_options);
  if (!made) return calib::Unexpected(made.error());
  const auto files = [&] {
    const HeldInterrupt held;
    return measure::write_sheet_files(output, *made, HeldInterrupt::came);
  }();
  if (!files) return calib::Unexpected(files.error());
  if (command.json) {
    say(measure::files_json(*files, made->check_sentence, made->warnings));
    return calib::Done{};
  }
  for (const fs::path& file : *files) say(file.string());
  if (!made->check_sentence.empty()) say(made->check_sentence);
  for (const std::string& sentence : made->warnings) warn(sentence);
  return calib::Done{};
}

}  // namespace cli
