// Numbers as a person reads them: GUM rounding, units, inches and their fractions, feet.
#pragma once

#include <optional>
#include <string>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/dimension/dimension.h"

namespace measure {

enum class TextUnit { kMm, kCm, kM, kInch, kInchFraction, kFootInch };

struct ValueText {
  std::string value;                         ///< "123.46"
  std::string uncertainty;                   ///< "0.12"; empty where there is none
  std::string unit;                          ///< "mm", "in", "°"
  [[nodiscard]] std::string joined() const;  ///< "123.46 ± 0.12 mm"
};

/// Value and U, U to two significant digits and the value to the same place (JCGM 100:2008, 7.2.6).
/// Fractions: the value to the nearest 1/denominator inch, U as a decimal inch beside it.
[[nodiscard]] ValueText length_text(double value_mm, double U_mm, TextUnit unit,
                                    int denominator = 64);
/// Areas in the square of the unit; where lengths are in fractions, in decimal square inches, or
/// square feet.
[[nodiscard]] ValueText area_text(double value_mm2, double U_mm2, TextUnit unit);
[[nodiscard]] ValueText angle_text(double value_rad, double U_rad);
[[nodiscard]] ValueText plain_text(double value, double U);

/// Two uncertainties that are compared.
struct ComparedTexts {
  std::string first, second, unit;
};
/// Two significant digits each, or as many more as it takes that what is not equal does not look
/// so: "0.1004", "0.1000". Above 0.
[[nodiscard]] ComparedTexts compared_lengths(double first_mm, double second_mm, TextUnit unit);
[[nodiscard]] ComparedTexts compared_angles(double first_rad, double second_rad);

/// Any result in the unit chosen; interval results as "[low, high]".
[[nodiscard]] std::string result_text(const DimensionResult& result, TextUnit unit,
                                      int denominator = 64);

/// "mm", "cm", "m", "in", "in-fraction", "ft-in".
[[nodiscard]] std::optional<TextUnit> parse_text_unit(const std::string& word);

}  // namespace measure
