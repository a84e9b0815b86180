// What needs the survey solved: shapes as measured, coordinates, and how a dimension is known.
#include <cmath>

#include "calib/base/units.h"
#include "measure/dimension/explain.h"
#include "measure/dimension/form_result.h"
#include "measure/dimension/quantity_text.h"
#include "measure/store/dossier_file.h"
#include "measure/store/forms_json.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/survey_run.h"
#include "tools/cli/table.h"
#include "tools/cli/typed.h"

namespace cli {
namespace {

using measure::FormResult;
using measure::TextUnit;

constexpr double kCoverageFactor = 2.0;

TextUnit unit_of(const std::string& word) {
  return measure::parse_text_unit(word).value_or(TextUnit::kMm);
}

/// A length of the survey with its U; where there is no scale bar a number without a unit.
std::string length_or_number(double value, double u, TextUnit unit, bool is_mm) {
  return is_mm ? measure::length_text(value, kCoverageFactor * u, unit).joined()
               : measure::plain_text(value, kCoverageFactor * u).joined();
}

std::string size_text(const FormResult& result, TextUnit unit, bool is_mm) {
  using measure::FormKind;
  const double u_radius = std::sqrt(result.covariance(6, 6));
  switch (result.form.kind) {
    case FormKind::kCircle:
    case FormKind::kSphere:
    case FormKind::kCylinder:
      return "diameter " + length_or_number(2 * result.form.radius, 2 * u_radius, unit, is_mm);
    case FormKind::kCone:
      return "full angle " +
             measure::angle_text(2 * result.form.half_angle,
                                 2 * kCoverageFactor * std::sqrt(result.covariance(7, 7)))
                 .joined();
    default:
      return result.gap ? "lines pass at " + (is_mm ? measure::length_text(*result.gap, 0, unit)
                                                    : measure::plain_text(*result.gap, 0))
                                                 .joined()
                        : "";
  }
}

/// What the form is called whose deviation is tested.
std::string truth_word(measure::FormKind kind) {
  switch (kind) {
    case measure::FormKind::kLine:
      return "straight";
    case measure::FormKind::kPlane:
      return "flat";
    case measure::FormKind::kPoint:
      return "";
    default:
      return "round";
  }
}

std::string form_text(const FormResult& result, TextUnit unit, bool is_mm) {
  if (!result.test) {
    return "";
  }
  const std::string deviation =
      length_or_number(result.test->deviation, result.test->u_deviation, unit, is_mm);
  const std::string word = result.pairs.empty() ? truth_word(result.form.kind) : "symmetric";
  return (result.test->within ? word + " within the error bars"
                              : "not " + word + ": more than the error bars explain") +
         ", range " + deviation;
}

void print_pairs(const FormResult& result, TextUnit unit, bool is_mm) {
  Table table({"pair about \"" + result.name + "\"", "departure from symmetry", ""});
  for (const measure::PairDepartureResult& pair : result.pairs) {
    const auto text = [&](double value, double U) {
      return is_mm ? measure::length_text(value, U, unit) : measure::plain_text(value, U);
    };
    std::string value = text(pair.value, kCoverageFactor * pair.u).joined();
    if (pair.interval) {
      const double U = (pair.interval->second - pair.interval->first) / 2;
      const measure::ValueText low = text(pair.interval->first, U),
                               high = text(pair.interval->second, U);
      value = low.value + " … " + high.value + " " + high.unit + " (95.45 %)";
    }
    table.add({pair.first + " / " + pair.second, value,
               pair.symmetric ? "symmetric within the error bars" : "not symmetric"});
  }
  say(table.text());
}

std::string contribution_text(const measure::Contribution& c) {
  using What = measure::Contribution::What;
  switch (c.what) {
    case What::kMark:
      return "mark of \"" + c.item + "\" in " + c.photo;
    case What::kShapeMark:
      return "marks on \"" + c.item + "\" in " + c.photo;
    case What::kCamera:
      return "calibration of camera \"" + c.item + "\"";
    case What::kBar:
      return "scale bar \"" + c.item + "\"";
    case What::kShared:
      return c.item;
    case What::kDefinition:
      return "where the places are on the original (definition and form)";
  }
  return "";
}

}  // namespace

Outcome run(const ShapesCommand& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  if (dossier->shapes.empty()) {
    return refused("The dossier " + command.folder +
                   " holds no shapes: add one with \"scantling shape add\".");
  }
  const auto survey = solve(command.folder, *dossier);
  if (!survey) {
    return calib::Unexpected(survey.error());
  }
  const auto forms = measure::evaluate_forms(*survey, *dossier);
  if (command.json) {
    say(measure::forms_json(forms, survey->report()));
    return calib::Done{};
  }
  const TextUnit unit = unit_of(command.units);
  const bool is_mm = survey->report().unit == measure::LengthUnit::kMillimetre;
  Table table({"shape", "is a", "size", "form"});
  for (const FormResult& form : forms) {
    if (form.problem.empty()) {
      table.add({form.name, measure::form_word(form.form.kind), size_text(form, unit, is_mm),
                 form_text(form, unit, is_mm)});
    } else {
      table.add({form.name, "", "no place", ""});
    }
  }
  say(table.text());
  for (const FormResult& form : forms) {
    if (!form.pairs.empty()) print_pairs(form, unit, is_mm);
    if (!form.problem.empty()) say(form.problem);
  }
  say("Value ± U at the original's scale, U = 2 u.");
  say(survey->report().temperature_sentence);
  warn_of(survey->report());
  return calib::Done{};
}

Outcome run(const CoordinatesCommand& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  double factor = 1.0;
  if (command.scale != "original") {
    if (!dossier->model_scale) {
      return refused("The dossier " + command.folder +
                     " has no model scale: set it with \"scantling dossier set\".");
    }
    factor = dossier->model_scale->denominator;
    if (command.scale != "full") {
      const auto replica = typed_number(
          "--scale 1:", command.scale.starts_with("1:") ? command.scale.substr(2) : command.scale);
      if (!replica || !(*replica > 0)) {
        return refused("--scale must be original, full or a replica's ratio like 1:72, not \"" +
                       command.scale + "\".");
      }
      factor /= *replica;
    }
  }
  const auto survey = solve(command.folder, *dossier);
  if (!survey) {
    return calib::Unexpected(survey.error());
  }
  const auto coordinates = measure::evaluate_coordinates(*survey, *dossier);
  if (command.json) {
    say(measure::coordinates_json(coordinates, dossier->axes.has_value(), survey->report()));
    return calib::Done{};
  }
  const TextUnit unit = unit_of(command.units);
  const bool is_mm = survey->report().unit == measure::LengthUnit::kMillimetre;
  Table table({"point", "x", "y", "z"},
              {Align::kLeft, Align::kRight, Align::kRight, Align::kRight});
  std::vector<std::string> problems;
  for (const measure::CoordinatesResult& point : coordinates) {
    if (!point.problem.empty()) {
      problems.push_back(point.problem);
      continue;
    }
    std::vector<std::string> cells{point.name};
    for (int axis = 0; axis < 3; ++axis) {
      cells.push_back(length_or_number(factor * point.value[axis],
                                       factor * std::sqrt(point.covariance(axis, axis)), unit,
                                       is_mm));
    }
    table.add(cells);
  }
  say(table.text());
  for (const std::string& sentence : problems) say(sentence);
  say(dossier->axes ? "In the model axes, value ± U, U = 2 u."
                    : "In the survey's own axes, which mean nothing but to each other: say which "
                      "plane, line and point are yours with \"scantling axes set\". Value ± U, U = "
                      "2 u.");
  warn_of(survey->report());
  return calib::Done{};
}

Outcome run(const ExplainCommand& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  const auto survey = solve(command.folder, *dossier);
  if (!survey) {
    return calib::Unexpected(survey.error());
  }
  const auto explanation = measure::explain(*survey, *dossier, command.name);
  if (!explanation) {
    return refused("\"" + command.name + "\" cannot be explained: " + explanation.error());
  }
  if (command.json) {
    say(measure::explanation_json(*explanation));
    return calib::Done{};
  }
  const TextUnit unit = unit_of(command.units);
  const measure::DimensionResult& result = explanation->result;
  say("\"" + command.name + "\": " + measure::result_text(result, unit) + "  (" + result.kind +
      ", at the original's scale)");
  measure::DimensionResult part = result;
  part.interval.reset();
  const auto u_text = [&](double u) {
    part.value = 0;
    part.U = u;
    const std::string text = measure::result_text(part, unit);
    const auto sign = text.find("± ");
    return sign == std::string::npos ? text : text.substr(sign + std::string("± ").size());
  };
  constexpr double kWorthNaming = 0.01;
  Table table({"share", "u alone", "what carries it"},
              {Align::kRight, Align::kRight, Align::kLeft});
  double rest = 0;
  std::size_t unnamed = 0;
  for (const measure::Contribution& c : explanation->contributions) {
    if (!command.all && c.share < kWorthNaming) {
      rest += c.share;
      ++unnamed;
      continue;
    }
    table.add({fixed(100 * c.share, 1) + " %", u_text(c.u), contribution_text(c)});
  }
  if (unnamed > 0) {
    table.add({fixed(100 * rest, 1) + " %", "",
               count_of(unnamed, "smaller one") + " (--all names them)"});
  }
  say(table.text());
  Table photos({"share", "photo"}, {Align::kRight, Align::kLeft});
  for (const auto& [photo, share] : explanation->by_photo)
    photos.add({fixed(100 * share, 1) + " %", photo});
  say(photos.text());
  if (result.external_reliability) {
    say("A blunder in one mark that the test just misses would move it by " +
        u_text(*result.external_reliability) + " at most.");
  }
  if (!result.note.empty()) say(result.note);
  return calib::Done{};
}

}  // namespace cli
