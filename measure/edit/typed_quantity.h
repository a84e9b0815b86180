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

/// What may stand between a number's whole part and its decimals. A comma is for places that show
/// at once how it was read; on a command line it could as well group thousands.
enum class DecimalSign { kPoint, kPointOrComma };

/// The number that the whole text is, or nothing; independent of the locale. With both signs in one
/// number, or one of them twice, it is none.
[[nodiscard]] std::optional<double> parse_number(std::string_view text,
                                                 DecimalSign sign = DecimalSign::kPoint);

/// "25mm", "2.5 cm", "0.3m", "11.811in", "20um" or "20µm". Inches and feet also with fractions and
/// together: "3/8\"", "11 13/16 in", "1 ft 3 3/8 in", "2'".
///
/// Errors: a Problem if there is no number, no unit, another unit, a fraction that is none, or a
/// decimal comma where none is allowed.
[[nodiscard]] calib::Result<calib::Millimetres, calib::Problem> parse_length(
    std::string_view text, DecimalSign sign = DecimalSign::kPoint);

/// "1:48"; the denominator may have decimals.
[[nodiscard]] calib::Result<ScaleRatio, calib::Problem> parse_ratio(
    std::string_view text, DecimalSign sign = DecimalSign::kPoint);

/// "9x6": columns and rows.
[[nodiscard]] calib::Result<std::pair<int, int>, calib::Problem> parse_grid(std::string_view text);

}  // namespace measure
