#include <algorithm>
#include <cmath>
#include <map>

#include "calib/base/units.h"
#include "measure/dimension/dimension.h"
#include "measure/dimension/quantity_text.h"
#include "measure/store/dossier_file.h"
#include "measure/store/results_file.h"
#include "measure/store/survey_json.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/survey_run.h"
#include "tools/cli/table.h"

namespace cli {
namespace {

using measure::DimensionResult;

/// Head of a column: as VOCABULARY.md names the scales to people.
std::string head_of(const std::string& scale) {
  return scale == "model" ? "original" : scale == "full" ? "full size" : scale;
}

/// The group that most of the variance comes from.
std::string main_share(const DimensionResult& result) {
  const auto largest =
      std::max_element(result.budget.begin(), result.budget.end(),
                       [](const auto& a, const auto& b) { return a.second < b.second; });
  if (largest == result.budget.end()) {
    return "";
  }
  return largest->first + " " + fixed(100.0 * largest->second, 0) + " %";
}

void print(const std::vector<DimensionResult>& results, const DimensionsCommand& command) {
  const auto unit = measure::parse_text_unit(command.units).value_or(measure::TextUnit::kMm);
  std::vector<std::string> scales;
  for (const DimensionResult& result : results) {
    if (std::find(scales.begin(), scales.end(), result.scale) == scales.end()) {
      scales.push_back(result.scale);
    }
  }
  std::vector<std::string> heads{"dimension"};
  std::vector<Align> alignment{Align::kLeft};
  for (const std::string& scale : scales) {
    heads.push_back(head_of(scale));
    alignment.push_back(Align::kRight);
  }
  heads.insert(heads.end(), {"k", "mostly from"});
  alignment.insert(alignment.end(), {Align::kRight, Align::kLeft});
  Table table(heads, alignment);
  std::vector<std::string> problems;
  for (auto first = results.begin(); first != results.end();) {
    // Entries of one dimension follow each other, one for each scale.
    const auto last = std::find_if(first, results.end(), [&](const DimensionResult& result) {
      return result.name != first->name;
    });
    std::vector<std::string> cells(heads.size());
    cells[0] = first->name;
    if (!first->problem.empty()) {
      cells[1] = "no value";
      problems.push_back(first->name + ": " + first->problem);
    } else {
      for (auto result = first; result != last; ++result) {
        const auto column =
            std::find(scales.begin(), scales.end(), result->scale) - scales.begin() + 1;
        cells[static_cast<std::size_t>(column)] =
            measure::result_text(*result, unit, command.fraction);
      }
      cells[heads.size() - 2] = first->interval ? "interval" : fixed(first->k, 2);
      cells[heads.size() - 1] = main_share(*first);
    }
    table.add(cells);
    first = last;
  }
  say(table.text());
  for (const std::string& sentence : problems) {
    say(sentence);
  }
  say("Value ± U, U = k·u with p = 95.45 %; [low, high]: shortest interval of simulated surveys "
      "with the same p.");
}

/// Monte Carlo figures are in mm or rad; people read degrees.
void print(const std::vector<measure::MonteCarloComparison>& comparisons) {
  Table table(
      {"dimension", "runs", "u first order", "sd simulated", "95.45 % low", "high", "unit"},
      {Align::kLeft, Align::kRight, Align::kRight, Align::kRight, Align::kRight, Align::kRight});
  for (const auto& comparison : comparisons) {
    const bool is_angle = comparison.unit == measure::DimensionUnit::kRadian;
    const double factor = is_angle ? calib::kDegreesPerRadian : 1.0;
    const std::string unit = is_angle                                                 ? "°"
                             : comparison.unit == measure::DimensionUnit::kMillimetre ? "mm"
                             : comparison.unit == measure::DimensionUnit::kSquareMillimetre
                                 ? "mm²"
                                 : "ratio";
    table.add({comparison.name, std::to_string(comparison.runs),
               fixed(comparison.first_order_u * factor, 5), fixed(comparison.sd * factor, 5),
               fixed(comparison.low * factor, 4), fixed(comparison.high * factor, 4), unit});
  }
  say(table.text());
}

}  // namespace

Outcome run(const DimensionsCommand& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  if (dossier->dimensions.empty()) {
    return refused("The dossier " + command.folder +
                   " asks for no dimension: add one with \"scantling dimension add\".");
  }
  const auto survey = solve(command.folder, *dossier);
  if (!survey) {
    return calib::Unexpected(survey.error());
  }
  const measure::DimensionOptions options{.at_reference_temperature = command.at_20C,
                                          .seed = command.seed};
  const auto results = measure::evaluate_dimensions(*survey, *dossier, options);
  std::vector<measure::MonteCarloComparison> comparisons;
  if (command.monte_carlo) {
    Progress progress;
    comparisons = measure::monte_carlo(*survey, *dossier, *command.monte_carlo, command.seed,
                                       [&](double share) { progress.show(share, "simulating"); });
  }
  // results.json always holds the lengths as found: what is asked once for 20 °C goes to the
  // terminal only.
  const auto as_found = command.at_20C ? measure::evaluate_dimensions(*survey, *dossier) : results;
  if (auto written = measure::write_results(command.folder, *dossier, survey->report(), as_found);
      !written) {
    return written;
  }
  if (command.json) {
    say(measure::dimensions_json(results, comparisons, survey->report()));
    return calib::Done{};
  }
  print(results, command);
  if (!comparisons.empty()) {
    print(comparisons);
  }
  say(command.at_20C ? std::string("Lengths of the original at 20 °C.")
                     : survey->report().temperature_sentence);
  warn_of(survey->report());
  return calib::Done{};
}

}  // namespace cli
