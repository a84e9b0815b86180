// Typed values with the name of their option in the sentence.
#pragma once

#include <optional>
#include <string>

#include "calib/base/units.h"
#include "calib/board/checkerboard.h"
#include "measure/dossier/dossier.h"
#include "measure/edit/typed_quantity.h"
#include "measure/store/mark_csv.h"
#include "tools/cli/terminal.h"

namespace cli {

template <typename T>
using Typed = calib::Result<T, calib::Problem>;

[[nodiscard]] inline Typed<double> typed_number(const std::string& option,
                                                const std::string& text) {
  const auto number = measure::parse_number(text);
  if (!number) {
    return refused(option + ": \"" + text +
                   "\" is no number: write it with a decimal point, without a unit.");
  }
  return *number;
}

[[nodiscard]] inline Typed<double> typed_length_mm(const std::string& option,
                                                   const std::string& text) {
  const auto length = measure::parse_length(text);
  if (!length) {
    return refused(option + ": " + length.error().sentence);
  }
  return length->value();
}

/// A value with its standard uncertainty; nothing where neither is given. One alone is refused: a
/// value without uncertainty is a guess.
[[nodiscard]] inline Typed<std::optional<measure::Uncertain>> typed_uncertain(
    const std::string& option, const std::string& value, const std::string& u) {
  if (value.empty() && u.empty()) {
    return std::optional<measure::Uncertain>();
  }
  if (value.empty() || u.empty()) {
    return refused(option + " and " + option + "-u belong together: give both.");
  }
  const auto number = typed_number(option, value);
  if (!number) {
    return calib::Unexpected(number.error());
  }
  const auto uncertainty = typed_number(option + "-u", u);
  if (!uncertainty) {
    return calib::Unexpected(uncertainty.error());
  }
  return std::optional(measure::Uncertain{*number, *uncertainty});
}

[[nodiscard]] inline Typed<calib::BoardSpec> typed_board(const std::string& inner,
                                                         const std::string& square) {
  const auto grid = measure::parse_grid(inner);
  if (!grid) {
    return refused("--inner: " + grid.error().sentence);
  }
  const auto square_mm = typed_length_mm("--square", square);
  if (!square_mm) {
    return calib::Unexpected(square_mm.error());
  }
  const calib::BoardSpec board{grid->first, grid->second, *square_mm};
  if (const auto problem = board.first_problem()) {
    return refused(*problem);
  }
  return board;
}

/// How a table of marks is to be read. Errors: --pixel-origin missing, --sigma no number above 0.
[[nodiscard]] Typed<measure::MarkTableOptions> typed_table_options(const std::string& table,
                                                                   const std::string& pixel_origin,
                                                                   const std::string& turned,
                                                                   const std::string& sigma);

/// One value is a list with commas; several are names as they stand, so that names may hold commas.
[[nodiscard]] std::vector<std::string> names_in(const std::vector<std::string>& typed);

/// "by hand", "refined", "imported".
[[nodiscard]] std::string source_word(measure::MarkSource source);

}  // namespace cli
