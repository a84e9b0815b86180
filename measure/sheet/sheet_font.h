// The one font of all sheets, how wide a text in it is, and what is written in its place where it
// lacks a letter.
#pragma once

#include <string>

typedef struct _cairo cairo_t;  // NOLINT: as cairo names it

namespace measure {

inline constexpr double kPointsPerMillimetre = 72.0 / 25.4;
inline constexpr const char* kSheetFont = "DejaVu Sans";

/// Text is told by the height of its capitals, as drafting has it (ISO 3098: 1.8, 2.5, 3.5 mm …;
/// from memory). Of the font's size, the height of an em: capitals, and what goes above and below
/// the line.
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

// Letters that the font lacks are taken from others of the system, the same ones every time and
// whatever the locale. Widths do not depend on the device. Each thread has fonts of its own.

[[nodiscard]] double text_width(const std::string& text, double capital_height_mm);
/// In the unit of `em`, the font's size.
[[nodiscard]] double text_width_of_em(const std::string& text, double em, bool bold = false);
/// Writes one line from the current point on, which it leaves where it was, in the current colour.
void show_text(cairo_t* cairo, const std::string& text, double em, bool bold = false);

/// The letters of the text that no font of this system has, each once, in their order: the sign for
/// a missing letter (U+FFFD) is written in their place.
[[nodiscard]] std::string letters_without_font(const std::string& text);

}  // namespace measure
