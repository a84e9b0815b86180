#include "measure/sheet/pdf_page.h"

#include <utility>

namespace measure::internal {
namespace {

constexpr double kSideMargin = 14.0 * kPointsPerMillimetre;
constexpr double kTopMargin = 13.0 * kPointsPerMillimetre;
constexpr double kBottomMargin = 17.0 * kPointsPerMillimetre;
constexpr double kHeadRoom = 16.0;

/// Start of the next UTF-8 sign.
std::size_t next_sign(const std::string& text, std::size_t at) {
  ++at;
  while (at < text.size() && (static_cast<unsigned char>(text[at]) & 0xC0) == 0x80) ++at;
  return at;
}

}  // namespace

PdfPages::PdfPages(cairo_surface_t* surface, double width, double height, int total_pages,
                   std::string running_head, std::string running_foot)
    : cairo_(cairo_create(surface)),
      page_width_(width),
      page_height_(height),
      total_pages_(total_pages),
      running_head_(std::move(running_head)),
      running_foot_(std::move(running_foot)) {
  new_page();
}

PdfPages::~PdfPages() { cairo_destroy(cairo_); }

double PdfPages::left() const { return kSideMargin; }
double PdfPages::width() const { return page_width_ - 2 * kSideMargin; }
double PdfPages::bottom() const { return page_height_ - kBottomMargin; }
double PdfPages::top() const { return kTopMargin + (page_ > 1 ? kHeadRoom : 0.0); }

bool PdfPages::need(double height) {
  if (y + height <= bottom() || y <= top() + 0.5) return false;
  new_page();
  return true;
}

void PdfPages::new_page() {
  if (page_ > 0) cairo_show_page(cairo_);
  ++page_;
  frame();
  y = top();
}

void PdfPages::finish() { cairo_show_page(cairo_); }

void PdfPages::frame() {
  if (page_ > 1) {
    text(left(), kTopMargin + 5, running_head_, kSmall);
    rule(kTopMargin + 9);
  }
  const double foot = page_height_ - kBottomMargin + 17;
  rule(foot - 11);
  // As wide as the rest of the line allows.
  const std::string pages =
      "page " + std::to_string(page_) + " of " + std::to_string(counting() ? 100 : total_pages_);
  const auto lines = wrapped(running_foot_, kSmall, width() - width_of(pages, kSmall) - 12);
  if (!lines.empty()) text(left(), foot, lines.front(), kSmall);
  text_right(left() + width(), foot, pages, kSmall);
}

void PdfPages::choose(const Type& type) {
  cairo_select_font_face(cairo_, "DejaVu Sans", CAIRO_FONT_SLANT_NORMAL,
                         type.bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_font_size(cairo_, type.size);
  cairo_set_source_rgb(cairo_, type.ink.r, type.ink.g, type.ink.b);
}

void PdfPages::text(double x, double baseline, const std::string& words, const Type& type) {
  if (counting()) return;
  choose(type);
  cairo_move_to(cairo_, x, baseline);
  cairo_show_text(cairo_, words.c_str());
}

void PdfPages::text_right(double x, double baseline, const std::string& words, const Type& type) {
  text(x - width_of(words, type), baseline, words, type);
}

double PdfPages::width_of(const std::string& words, const Type& type) const {
  return measure_(words, type.size, type.bold);
}

std::vector<std::string> PdfPages::wrapped(const std::string& words, const Type& type,
                                           double width) const {
  std::vector<std::string> lines;
  std::string line;
  const auto take = [&](const std::string& word) {
    const std::string longer = line.empty() ? word : line + " " + word;
    if (width_of(longer, type) <= width) {
      line = longer;
      return;
    }
    if (!line.empty()) lines.push_back(std::exchange(line, {}));
    if (width_of(word, type) <= width) {
      line = word;
      return;
    }
    // A word wider than the column is cut where it must be.
    for (std::size_t at = 0; at < word.size();) {
      const std::size_t end = next_sign(word, at);
      const std::string sign = word.substr(at, end - at);
      if (!line.empty() && width_of(line + sign, type) > width) {
        lines.push_back(std::exchange(line, {}));
      }
      line += sign;
      at = end;
    }
  };
  for (std::size_t at = 0; at <= words.size();) {
    std::size_t space = std::min(words.find(' ', at), words.size());
    // An uncertainty stays with its sign and its unit.
    if (words.compare(at, space - at, "±") == 0) {
      for (int more = 0; more < 2 && space < words.size(); ++more) {
        space = std::min(words.find(' ', space + 1), words.size());
      }
    }
    if (space > at) take(words.substr(at, space - at));
    at = space + 1;
  }
  if (!line.empty()) lines.push_back(line);
  return lines;
}

void PdfPages::paragraph(const std::string& words, const Type& type, double x, double width) {
  for (const std::string& line : wrapped(words, type, width)) {
    need(line_height(type));
    text(x, y + type.size, line, type);
    y += line_height(type);
  }
}

void PdfPages::rule(double y_at, const Ink& ink, double thickness) {
  if (counting()) return;
  cairo_set_source_rgb(cairo_, ink.r, ink.g, ink.b);
  cairo_set_line_width(cairo_, thickness);
  cairo_move_to(cairo_, left(), y_at);
  cairo_line_to(cairo_, left() + width(), y_at);
  cairo_stroke(cairo_);
}

void PdfPages::fill(double x, double y_at, double w, double h, const Ink& ink) {
  if (counting()) return;
  cairo_set_source_rgb(cairo_, ink.r, ink.g, ink.b);
  cairo_rectangle(cairo_, x, y_at, w, h);
  cairo_fill(cairo_);
}

void PdfPages::heading(const std::string& words, double room_below) {
  if (y > top() + 1) y += 12;
  need(line_height(kHeading) + 4 + room_below);
  text(left(), y + kHeading.size, words, kHeading);
  y += line_height(kHeading) + 4;
}

}  // namespace measure::internal
