#include <filesystem>
#include <utility>
#include <vector>

#include "measure/dimension/dimension.h"
#include "measure/dimension/quantity_text.h"
#include "measure/dimension/stock.h"
#include "measure/store/dossier_file.h"
#include "measure/store/stock_file.h"
#include "measure/store/stock_json.h"
#include "tools/cli/commands.h"
#include "tools/cli/survey_run.h"
#include "tools/cli/table.h"

namespace cli {
namespace {

namespace fs = std::filesystem;

/// The table that ships: beside the installed command, or in the tree that it was built from.
fs::path shipped_table() {
  std::error_code ignored;
  const fs::path command = fs::read_symlink("/proc/self/exe", ignored);
  const fs::path installed = command.parent_path().parent_path() / "share" / "scantling" / "stock" /
                             measure::kCommonStockFileName;
  return fs::exists(installed, ignored) ? installed
                                        : fs::path(SCANTLING_STOCK) / measure::kCommonStockFileName;
}

std::string head_of(const std::string& scale) {
  return scale == "model" ? "original" : scale == "full" ? "full size" : scale;
}

}  // namespace

Outcome run(const StockCommand& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  const auto kind = measure::parse_stock_kind(command.kind);
  if (!kind) {
    return refused("--as must be sheet, strip, rod or tube, not \"" + command.kind + "\".");
  }
  const auto table =
      measure::read_stock_table(command.table.empty() ? shipped_table() : fs::path(command.table));
  if (!table) {
    return calib::Unexpected(table.error());
  }
  measure::Dossier asked = *dossier;
  std::erase_if(asked.dimensions,
                [&](const measure::AskedDimension& d) { return d.name != command.name; });
  if (asked.dimensions.empty()) {
    return refused("There is no dimension \"" + command.name +
                   "\" in the dossier: check the name (\"scantling dimension list\").");
  }
  if (measure::length_exponent(asked.dimensions.front().kind) != 1) {
    return refused("Dimension \"" + command.name + "\" is no length: stock is sold by lengths.");
  }
  const auto survey = solve(command.folder, *dossier);
  if (!survey) {
    return calib::Unexpected(survey.error());
  }
  if (survey->report().unit != measure::LengthUnit::kMillimetre) {
    return refused("The survey has no scale bar, so \"" + command.name +
                   "\" has no length: add one with \"scantling bar add\".");
  }
  std::vector<measure::StockAtScale> answers;
  for (const measure::DimensionResult& result : measure::evaluate_dimensions(*survey, asked)) {
    if (!result.problem.empty()) {
      return refused("\"" + command.name + "\" has no value: " + result.problem);
    }
    // Full size is what the thing would measure, not what a model is built of.
    if (result.scale == "full") continue;
    if (!(result.value > 0)) {
      return refused("\"" + command.name + "\" is " +
                     measure::result_text(result, measure::TextUnit::kMm) +
                     ": stock has sizes above 0, so ask for a length that has no sign.");
    }
    auto answer = measure::nearest_stock(
        *table, {result.value, result.u, result.effective_dof, *kind, command.material});
    if (!answer) {
      return refused((command.table.empty() ? "" : command.table + ": ") + answer.error().sentence);
    }
    answers.push_back({result, *std::move(answer)});
  }
  if (command.json) {
    say(measure::stock_json(command.name, *kind, command.material, table->name, answers,
                            survey->report().warnings));
    return calib::Done{};
  }
  Table lines({"scale", "measured", "as " + command.kind});
  for (const measure::StockAtScale& at : answers) {
    lines.add({head_of(at.result.scale), measure::result_text(at.result, measure::TextUnit::kMm),
               at.answer.sentence});
  }
  say(lines.text());
  warn_of(survey->report());
  return calib::Done{};
}

}  // namespace cli
