#include "measure/sheet/text_width.h"

#include <cairo.h>

namespace measure {
namespace {

constexpr double kDesignSize = 1000.0;

cairo_scaled_font_t* make_font(cairo_font_weight_t weight) {
  cairo_font_face_t* face =
      cairo_toy_font_face_create("DejaVu Sans", CAIRO_FONT_SLANT_NORMAL, weight);
  cairo_matrix_t size, identity;
  cairo_matrix_init_scale(&size, kDesignSize, kDesignSize);
  cairo_matrix_init_identity(&identity);
  cairo_font_options_t* options = cairo_font_options_create();
  cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
  cairo_scaled_font_t* font = cairo_scaled_font_create(face, &size, &identity, options);
  cairo_font_options_destroy(options);
  cairo_font_face_destroy(face);
  return font;
}

}  // namespace

struct TextWidth::Fonts {
  cairo_scaled_font_t* normal = make_font(CAIRO_FONT_WEIGHT_NORMAL);
  cairo_scaled_font_t* bold = make_font(CAIRO_FONT_WEIGHT_BOLD);
  Fonts() = default;
  Fonts(const Fonts&) = delete;
  Fonts& operator=(const Fonts&) = delete;
  ~Fonts() {
    cairo_scaled_font_destroy(normal);
    cairo_scaled_font_destroy(bold);
  }
};

TextWidth::TextWidth() : fonts_(std::make_unique<Fonts>()) {}
TextWidth::TextWidth(TextWidth&&) noexcept = default;
TextWidth& TextWidth::operator=(TextWidth&&) noexcept = default;
TextWidth::~TextWidth() = default;

double TextWidth::operator()(const std::string& text, double size, bool bold) const {
  cairo_text_extents_t extents;
  cairo_scaled_font_text_extents(bold ? fonts_->bold : fonts_->normal, text.c_str(), &extents);
  return extents.x_advance * size / kDesignSize;
}

}  // namespace measure
