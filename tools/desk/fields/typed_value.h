// Lengths and numbers as typed in the desk: comma or point, and the unit of the desk where none is
// typed.
#pragma once

#include <QString>
#include <optional>
#include <vector>

#include "calib/base/result.h"
#include "measure/dimension/quantity_text.h"
#include "measure/dossier/dossier.h"

namespace desk {

/// A value, or the sentence why there is none.
template <typename T>
using TypedValue = calib::Result<T, QString>;

/// "mm", "cm", "m", "in": what is added to a length typed without a unit.
[[nodiscard]] QString unit_word(measure::TextUnit unit);

/// Millimetres.
[[nodiscard]] TypedValue<double> typed_length_mm(const QString& text, measure::TextUnit fallback);
[[nodiscard]] TypedValue<double> typed_number(const QString& text);
/// "1:48", or "48" alone.
[[nodiscard]] TypedValue<measure::ScaleRatio> typed_ratio(const QString& text);

/// Ratios with spaces between, "1:72 1:24", each once.
[[nodiscard]] TypedValue<std::vector<measure::ScaleRatio>> typed_ratios(const QString& text);

/// How a length was read: "= 300.0375 mm", and in inches where that is the desk's unit.
[[nodiscard]] QString length_reading(double length_mm, measure::TextUnit unit);

/// "0.2 mm", "0.02 cm", "0.0078740157 in": not rounded, as it could be typed.
[[nodiscard]] QString typed_text(double length_mm, measure::TextUnit unit);

/// "1:48".
[[nodiscard]] QString ratio_text(const measure::ScaleRatio& ratio);
/// Shortest text that reads back as the number: "0.05".
[[nodiscard]] QString number_text(double value);

}  // namespace desk
