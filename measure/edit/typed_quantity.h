// Lengths, ratios and numbers as a person types them.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/base/units.h"
#include "measure/dossier/dossier.h"

namespace measure {

/// The number that the whole text is, or nothing. A decimal point, never a comma; independent of
/// the locale.
[[nodiscard]] std::optional<double> parse_number(std::string_view text);

/// "25mm", "2.5 cm", "0.3m", "11.811in", "20um" or "20µm".
///
/// Errors: a Problem if there is no number, no unit, another unit, or a decimal comma.
[[nodiscard]] calib::Result<calib::Millimetres, calib::Problem> parse_length(std::string_view text);

/// "1:48"; the denominator may have decimals.
[[nodiscard]] calib::Result<ScaleRatio, calib::Problem> parse_ratio(std::string_view text);

/// "9x6": columns and rows.
[[nodiscard]] calib::Result<std::pair<int, int>, calib::Problem> parse_grid(std::string_view text);

}  // namespace measure
