// The one font of all sheets, and how wide a text in it is. Private to this room: shows cairo.
#pragma once

#include <string>

#include <cairo.h>

namespace measure {

inline constexpr double kPointsPerMillimetre = 72.0 / 25.4;
inline constexpr const char* kSheetFont = "DejaVu Sans";

/// Text is told by the height of its capitals, as drafting has it (ISO 3098: 1.8, 2.5, 3.5 mm …;
/// from memory). Of the font's size: capitals, and what goes above and below the line.
inline constexpr double kCapitalHeight = 0.729;
inline constexpr double kAscent = 0.80, kDescent = 0.22;

[[nodiscard]] constexpr double font_size(double capital_height_mm) {
  return capital_height_mm / kCapitalHeight;
}
/// Height of a line of text with everything that hangs out of it.
[[nodiscard]] constexpr double text_box_height(double capital_height_mm) {
  return (kAscent + kDescent) * font_size(capital_height_mm);
}
/// From the lower border of that box up to the line that letters stand on.
[[nodiscard]] constexpr double baseline_in_box(double capital_height_mm) {
  return kDescent * font_size(capital_height_mm);
}

/// Chooses it for what is drawn next; widths do not depend on the device.
void choose_sheet_font(cairo_t* cairo, double capital_height_mm, bool bold = false);
[[nodiscard]] double text_width(const std::string& text, double capital_height_mm);

}  // namespace measure
