#include "measure/sheet/sheet_font.h"

#include <algorithm>
#include <memory>
#include <vector>

#include <pango/pangocairo.h>

namespace measure {
namespace {

// Laid out at one size and drawn at any: positions are whole 1024ths of its unit.
constexpr double kDesignSize = 1000.0;

struct Unref {
  void operator()(void* object) const { g_object_unref(object); }
};
template <typename T>
using Object = std::unique_ptr<T, Unref>;

class Fonts {
 public:
  Fonts() : map_(pango_cairo_font_map_new()), context_(pango_font_map_create_context(map_.get())) {
    cairo_font_options_t* options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    pango_cairo_context_set_font_options(context_.get(), options);
    cairo_font_options_destroy(options);
    // Never fitted to a surface: what a text measures would hang on what was drawn before it.
    pango_cairo_context_set_resolution(context_.get(), 72.0);
    pango_context_set_round_glyph_positions(context_.get(), FALSE);
    // Else the locale would choose among fonts of the Han letters.
    pango_context_set_language(context_.get(), pango_language_from_string("en"));
    layout_.reset(pango_layout_new(context_.get()));
    pango_layout_set_single_paragraph_mode(layout_.get(), TRUE);
    pango_layout_set_auto_dir(layout_.get(), FALSE);
    // Searched for letter by letter.
    PangoAttrList* attributes = pango_attr_list_new();
    pango_attr_list_insert(attributes, pango_attr_font_features_new("liga=0, clig=0, dlig=0"));
    pango_layout_set_attributes(layout_.get(), attributes);
    pango_attr_list_unref(attributes);
    for (const bool bold : {false, true}) {
      PangoFontDescription* font = pango_font_description_new();
      pango_font_description_set_family(font, kSheetFont);
      pango_font_description_set_weight(font, bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
      pango_font_description_set_absolute_size(font, kDesignSize * PANGO_SCALE);
      descriptions_.emplace_back(font, &pango_font_description_free);
    }
  }

  PangoLayoutLine* line(const std::string& text, bool bold) {
    PangoLayoutLine* laid_out = lay_out(text, bold);
    if (pango_layout_get_unknown_glyphs_count(layout_.get()) == 0) {
      return laid_out;
    }
    // Pango would draw a box of hexadecimal digits, of whatever size.
    std::string drawn = text;
    for (const std::string& letter : missing(laid_out)) {
      for (auto at = drawn.find(letter); at != std::string::npos; at = drawn.find(letter, at)) {
        drawn.replace(at, letter.size(), kReplacement);
      }
    }
    return lay_out(drawn, bold);
  }
  /// Each once, in their order.
  std::vector<std::string> missing_of(const std::string& text) {
    return missing(lay_out(text, false));
  }

 private:
  static constexpr const char* kReplacement = "\uFFFD";  // the sheet font has it

  PangoLayoutLine* lay_out(const std::string& text, bool bold) {
    pango_layout_set_font_description(layout_.get(), descriptions_[bold ? 1 : 0].get());
    pango_layout_set_text(layout_.get(), text.c_str(), static_cast<int>(text.size()));
    return pango_layout_get_line_readonly(layout_.get(), 0);
  }

  static std::vector<std::string> missing(const PangoLayoutLine* line) {
    std::vector<std::string> letters;
    for (const GSList* run = line->runs; run; run = run->next) {
      const PangoGlyphString* glyphs = static_cast<const PangoGlyphItem*>(run->data)->glyphs;
      for (int i = 0; i < glyphs->num_glyphs; ++i) {
        const PangoGlyph glyph = glyphs->glyphs[i].glyph;
        if (glyph == PANGO_GLYPH_EMPTY || (glyph & PANGO_GLYPH_UNKNOWN_FLAG) == 0) {
          continue;
        }
        char letter[6];
        const int length =
            g_unichar_to_utf8(glyph & ~static_cast<PangoGlyph>(PANGO_GLYPH_UNKNOWN_FLAG), letter);
        const std::string one(letter, static_cast<std::size_t>(length));
        if (std::find(letters.begin(), letters.end(), one) == letters.end()) {
          letters.push_back(one);
        }
      }
    }
    return letters;
  }

  using Description = std::unique_ptr<PangoFontDescription, decltype(&pango_font_description_free)>;

  Object<PangoFontMap> map_;
  Object<PangoContext> context_;
  Object<PangoLayout> layout_;
  std::vector<Description> descriptions_;
};

Fonts& fonts() {
  // Pango's objects belong to one thread.
  thread_local Fonts fonts_of_thread;
  return fonts_of_thread;
}

}  // namespace

double text_width_of_em(const std::string& text, double em, bool bold) {
  PangoRectangle logical;
  pango_layout_line_get_extents(fonts().line(text, bold), nullptr, &logical);
  return logical.width / (kDesignSize * PANGO_SCALE) * em;
}

double text_width(const std::string& text, double capital_height_mm) {
  return text_width_of_em(text, font_size(capital_height_mm));
}

void show_text(cairo_t* cairo, const std::string& text, double em, bool bold) {
  cairo_save(cairo);
  double x = 0.0, y = 0.0;
  cairo_get_current_point(cairo, &x, &y);
  cairo_translate(cairo, x, y);
  cairo_scale(cairo, em / kDesignSize, em / kDesignSize);
  cairo_move_to(cairo, 0.0, 0.0);
  pango_cairo_show_layout_line(cairo, fonts().line(text, bold));
  cairo_restore(cairo);
  cairo_move_to(cairo, x, y);
}

std::string letters_without_font(const std::string& text) {
  std::string letters;
  for (const std::string& letter : fonts().missing_of(text)) {
    letters += letter;
  }
  return letters;
}

}  // namespace measure
