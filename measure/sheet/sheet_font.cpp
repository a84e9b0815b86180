#include "measure/sheet/sheet_font.h"

#include <memory>

namespace measure {

void choose_sheet_font(cairo_t* cairo, double capital_height_mm, bool bold) {
  cairo_select_font_face(cairo, kSheetFont, CAIRO_FONT_SLANT_NORMAL,
                         bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_font_size(cairo, font_size(capital_height_mm));
  const std::unique_ptr<cairo_font_options_t, decltype(&cairo_font_options_destroy)> options(
      cairo_font_options_create(), &cairo_font_options_destroy);
  cairo_font_options_set_hint_metrics(options.get(), CAIRO_HINT_METRICS_OFF);
  cairo_font_options_set_hint_style(options.get(), CAIRO_HINT_STYLE_NONE);
  cairo_set_font_options(cairo, options.get());
}

double text_width(const std::string& text, double capital_height_mm) {
  // Measured large: small sizes are rounded to the grid of the font.
  constexpr double kLarge = 100.0;
  const std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)> surface(
      cairo_image_surface_create(CAIRO_FORMAT_A8, 1, 1), &cairo_surface_destroy);
  const std::unique_ptr<cairo_t, decltype(&cairo_destroy)> cairo(cairo_create(surface.get()),
                                                                 &cairo_destroy);
  choose_sheet_font(cairo.get(), kLarge);
  cairo_text_extents_t extents{};
  cairo_text_extents(cairo.get(), text.c_str(), &extents);
  return extents.x_advance * capital_height_mm / kLarge;
}

}  // namespace measure
