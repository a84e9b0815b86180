#include "measure/sheet/text_pages.h"

#include <utility>

#include "measure/sheet/sheet_font.h"

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

TextPages::TextPages(PdfDocument& document, const Eigen::Vector2d& page_points, int total_pages,
                     std::string running_head, std::string running_foot)
    : document_(document),
      page_points_(page_points),
      total_pages_(total_pages),
      running_head_(std::move(running_head)),
      running_foot_(std::move(running_foot)) {
  new_page();
}

double TextPages::left() const { return kSideMargin; }
double TextPages::width() const { return page_points_.x() - 2 * kSideMargin; }
double TextPages::bottom() const { return page_points_.y() - kBottomMargin; }
double TextPages::top() const { return kTopMargin + (page_ > 1 ? kHeadRoom : 0.0); }

bool TextPages::need(double height) {
  if (y + height <= bottom() || y <= top() + 0.5) return false;
  new_page();
  return true;
}

void TextPages::new_page() {
  if (page_ > 0) document_.next_page();
  ++page_;
  frame();
  y = top();
}

void TextPages::finish() { document_.next_page(); }

void TextPages::frame() {
  if (page_ > 1) {
    text(left(), kTopMargin + 5, running_head_, kSmall);
    rule(kTopMargin + 9);
  }
  const double foot = page_points_.y() - kBottomMargin + 17;
  rule(foot - 11);
  // As wide as the rest of the line allows.
  const std::string pages =
      "page " + std::to_string(page_) + " of " + std::to_string(counting() ? 100 : total_pages_);
  const auto lines = wrapped(running_foot_, kSmall, width() - width_of(pages, kSmall) - 12);
  if (!lines.empty()) text(left(), foot, lines.front(), kSmall);
  text_right(left() + width(), foot, pages, kSmall);
}

void TextPages::text(double x, double baseline, const std::string& words, const Type& type) {
  if (counting()) return;
  cairo_set_source_rgb(cairo(), type.ink.r, type.ink.g, type.ink.b);
  cairo_move_to(cairo(), x, baseline);
  show_text(cairo(), words, type.size, type.bold);
}

void TextPages::text_right(double x, double baseline, const std::string& words, const Type& type) {
  text(x - width_of(words, type), baseline, words, type);
}

double TextPages::width_of(const std::string& words, const Type& type) const {
  return text_width_of_em(words, type.size, type.bold);
}

std::vector<std::string> TextPages::wrapped(const std::string& words, const Type& type,
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

void TextPages::paragraph(const std::string& words, const Type& type, double x, double width) {
  for (const std::string& line : wrapped(words, type, width)) {
    need(line_height(type));
    text(x, y + type.size, line, type);
    y += line_height(type);
  }
}

void TextPages::rule(double y_at, const Ink& ink, double thickness) {
  if (counting()) return;
  cairo_set_source_rgb(cairo(), ink.r, ink.g, ink.b);
  cairo_set_line_width(cairo(), thickness);
  cairo_move_to(cairo(), left(), y_at);
  cairo_line_to(cairo(), left() + width(), y_at);
  cairo_stroke(cairo());
}

void TextPages::fill(double x, double y_at, double w, double h, const Ink& ink) {
  if (counting()) return;
  cairo_set_source_rgb(cairo(), ink.r, ink.g, ink.b);
  cairo_rectangle(cairo(), x, y_at, w, h);
  cairo_fill(cairo());
}

void TextPages::heading(const std::string& words, double room_below) {
  if (y > top() + 1) y += 12;
  need(line_height(kHeading) + 4 + room_below);
  text(left(), y + kHeading.size, words, kHeading);
  y += line_height(kHeading) + 4;
}

}  // namespace measure::internal
