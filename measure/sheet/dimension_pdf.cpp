#include "measure/sheet/dimension_pdf.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <memory>

#include <cairo.h>

#include "measure/sheet/day.h"
#include "measure/sheet/pdf_document.h"
#include "measure/sheet/sheet_font.h"
#include "measure/sheet/text_pages.h"

namespace measure {
namespace {

using Eigen::Vector2d;
using internal::Ink;
using internal::kAccent;
using internal::kBlack;
using internal::kBody;
using internal::kGrey;
using internal::kHeading;
using internal::kPale;
using internal::kRule;
using internal::kSmall;
using internal::kStrong;
using internal::kTitle;
using internal::kWarning;
using internal::kWhite;
using internal::TextPages;
using internal::Type;

constexpr double kSmallestWidth_mm = 148.0, kSmallestHeight_mm = 205.0;  // A5, nearly
constexpr std::size_t kScalesInTable = 3;
constexpr std::size_t kNameColumns = 3;
constexpr double kCellPadding = 4.0;
constexpr Type kNumber{7.9, false, kBlack};

struct Column {
  std::string head;
  double width = 0.0;
  bool right = false;
};

struct Cell {
  std::string text;
  Type type = kBody;
  std::string under = {};  ///< a second, smaller text below
};

/// Rows under heads that are repeated on every page.
class Table {
 public:
  Table(TextPages& pages, std::vector<Column> columns)
      : pages_(pages), columns_(std::move(columns)) {
    head();
  }

  void row(const std::vector<Cell>& cells) {
    std::vector<std::vector<std::string>> lines, under;
    double height = 0;
    for (std::size_t c = 0; c < columns_.size(); ++c) {
      const double width = columns_[c].width - kCellPadding;
      lines.push_back(pages_.wrapped(cells[c].text, cells[c].type, width));
      under.push_back(cells[c].under.empty() ? std::vector<std::string>{}
                                             : pages_.wrapped(cells[c].under, kSmall, width));
      height = std::max(
          height, static_cast<double>(lines.back().size()) * TextPages::line_height(cells[c].type) +
                      static_cast<double>(under.back().size()) * TextPages::line_height(kSmall));
    }
    height += 3.5;
    if (pages_.need(height)) head();
    double x = pages_.left();
    for (std::size_t c = 0; c < columns_.size(); ++c) {
      double y = pages_.y + 1.5;
      const auto put = [&](const std::vector<std::string>& texts, const Type& type) {
        for (const std::string& line : texts) {
          if (columns_[c].right) {
            pages_.text_right(x + columns_[c].width - kCellPadding, y + type.size, line, type);
          } else {
            pages_.text(x, y + type.size, line, type);
          }
          y += TextPages::line_height(type);
        }
      };
      put(lines[c], cells[c].type);
      put(under[c], kSmall);
      x += columns_[c].width;
    }
    pages_.y += height;
    pages_.rule(pages_.y, {0.86, 0.86, 0.86}, 0.4);
  }

 private:
  void head() {
    const Type type{7.4, true, kBlack};
    std::vector<std::vector<std::string>> lines;
    std::size_t most = 1;
    for (const Column& column : columns_) {
      lines.push_back(pages_.wrapped(column.head, type, column.width - kCellPadding));
      most = std::max(most, lines.back().size());
    }
    const double height = static_cast<double>(most) * TextPages::line_height(type) + 4;
    // Heads without a row below them help nobody.
    pages_.need(height + 3 * TextPages::line_height(kBody));
    pages_.fill(pages_.left(), pages_.y, pages_.width(), height, kPale);
    double x = pages_.left();
    for (std::size_t c = 0; c < columns_.size(); ++c) {
      double y = pages_.y + 2;
      for (const std::string& line : lines[c]) {
        if (columns_[c].right) {
          pages_.text_right(x + columns_[c].width - kCellPadding, y + type.size, line, type);
        } else {
          pages_.text(x + (c == 0 ? 2 : 0), y + type.size, line, type);
        }
        y += TextPages::line_height(type);
      }
      x += columns_[c].width;
    }
    pages_.y += height;
    pages_.rule(pages_.y, kBlack, 0.6);
    pages_.y += 1;
  }

  TextPages& pages_;
  std::vector<Column> columns_;
};

std::string joined(const std::vector<SheetShare>& shares, std::size_t most) {
  std::string text;
  double rest = 0;
  std::size_t others = 0;
  for (std::size_t i = 0; i < shares.size(); ++i) {
    if (i >= most) {
      rest += shares[i].share;
      ++others;
      continue;
    }
    text += (i > 0 ? "; " : "") + shares[i].name;
    if (!shares[i].detail.empty()) {
      // A whole hash stands at the end of the sheet.
      text += " (" +
              (shares[i].detail.size() == 64 ? "SHA-256 " + shares[i].detail.substr(0, 16) + "…"
                                             : shares[i].detail) +
              ")";
    }
    text += " " + share_text(shares[i].share);
  }
  if (others > 0) text += "; " + std::to_string(others) + " more " + share_text(rest);
  return text;
}

class DimensionSheet {
 public:
  DimensionSheet(const SheetContent& content, const DimensionPdfOptions& options)
      : content_(content), options_(options) {}

  /// Returns false where it was stopped.
  bool draw(TextPages& pages) {
    first_page(pages);
    dimension_table(pages);
    weak_spots(pages);
    for (std::size_t p = 0; p < content_.pictures.size(); ++p) {
      if (options_.cancelled && options_.cancelled()) return false;
      if (!pages.counting() && options_.progress) {
        options_.progress(static_cast<double>(p) / static_cast<double>(content_.pictures.size()),
                          "setting the pages");
      }
      picture(pages, p);
    }
    origins(pages);
    sources(pages);
    pages.finish();
    return true;
  }

 private:
  void first_page(TextPages& pages) {
    pages.text(pages.left(), pages.y + 9, "Dimension sheet", {9.5, false, kAccent});
    pages.y += 15;
    for (const std::string& line : pages.wrapped(content_.original, kTitle, pages.width())) {
      pages.text(pages.left(), pages.y + kTitle.size, line, kTitle);
      pages.y += TextPages::line_height(kTitle);
    }
    pages.y += 4;
    known_lengths(pages);
    facts(pages);
    pages.heading("How to read it", 30);
    for (const std::string& sentence : content_.reading) {
      pages.paragraph(sentence, kBody, pages.left(), pages.width());
      pages.y += 2;
    }
    pages.heading("Cautions", 30);
    for (const std::string& sentence : content_.cautions) {
      pages.paragraph(sentence, kBody, pages.left(), pages.width());
      pages.y += 1;
    }
  }

  void known_lengths(TextPages& pages) {
    const Type type{9.5, true, content_.checks_agree ? kBlack : kWarning};
    const auto lines = pages.wrapped(content_.check_sentence, type, pages.width() - 16);
    const double height = static_cast<double>(lines.size()) * TextPages::line_height(type) + 10;
    pages.fill(pages.left(), pages.y, pages.width(), height, kPale);
    pages.fill(pages.left(), pages.y, 3, height, content_.checks_agree ? kAccent : kWarning);
    double y = pages.y + 5;
    for (const std::string& line : lines) {
      pages.text(pages.left() + 10, y + type.size, line, type);
      y += TextPages::line_height(type);
    }
    pages.y += height + 4;
    if (content_.known_lengths.empty()) return;
    const double w = pages.width();
    Table table(pages, {{"known length", 0.17 * w},
                        {"used as", 0.1 * w},
                        {"certified", 0.195 * w, true},
                        {"found", 0.145 * w, true},
                        {"error", 0.18 * w, true},
                        {"error / U", 0.08 * w, true},
                        {"", 0.13 * w}});
    for (const SheetKnownLength& known : content_.known_lengths) {
      const Type mark = known.within ? kNumber : Type{7.9, true, kWarning};
      table.row({{known.name, kStrong},
                 {known.check_only ? "check" : "scale bar"},
                 {known.certified, kNumber},
                 {known.found.empty() ? "—" : known.found, kNumber},
                 {known.error.empty() ? "—" : known.error, mark},
                 {known.error_over_U.empty() ? "—" : known.error_over_U, mark},
                 {known.remark, known.remark.empty() ? kBody : kSmall}});
    }
    pages.y += 2;
  }

  void facts(TextPages& pages) {
    pages.y += 8;
    const double head_width = 78;
    for (const SheetFact& fact : content_.facts) {
      const auto lines = pages.wrapped(fact.text, kBody, pages.width() - head_width);
      const double height = static_cast<double>(std::max<std::size_t>(1, lines.size())) *
                            TextPages::line_height(kBody);
      pages.need(height + 3);
      pages.text(pages.left(), pages.y + kBody.size + 1, fact.head, {8.5, false, kGrey});
      double y = pages.y + 1;
      for (const std::string& line : lines) {
        pages.text(pages.left() + head_width, y + kBody.size, line, kBody);
        y += TextPages::line_height(kBody);
      }
      pages.y += height + 3;
      pages.rule(pages.y, {0.86, 0.86, 0.86}, 0.4);
    }
  }

  [[nodiscard]] std::string pictures_of(const SheetDimension& dimension) const {
    std::string text;
    for (const std::size_t p : dimension.pictures) {
      text += (text.empty() ? "" : ", ") + std::to_string(p + 1);
    }
    return text.empty() ? "—" : text;
  }

  void dimension_table(TextPages& pages) {
    // More scales than fit stand in further tables.
    for (std::size_t first = 0; first < content_.scales.size(); first += kScalesInTable) {
      const std::size_t last = std::min(first + kScalesInTable, content_.scales.size());
      pages.heading(first == 0 ? "Dimensions" : "Dimensions at further scales", 60);
      const double w = pages.width();
      const auto scales = static_cast<double>(last - first);
      const double scale_width = scales >= 3 ? 94.0 : 110.0;
      std::vector<Column> columns{{"no.", 24},
                                  {"dimension", w - 24 - scales * scale_width - 26 - 30 - 34}};
      for (std::size_t s = first; s < last; ++s) {
        columns.push_back({content_.scales[s].head, scale_width, true});
      }
      columns.push_back({"k", 26, true});
      columns.push_back({"ν eff", 30, true});
      columns.push_back({"picture", 34, true});
      if (content_.dimensions.empty()) {
        pages.paragraph("No dimension was asked.", kBody, pages.left(), w);
        return;
      }
      Table table(pages, columns);
      for (const SheetDimension& dimension : content_.dimensions) {
        std::vector<Cell> cells{
            {std::to_string(dimension.number), kStrong},
            {dimension.name, kBody,
             dimension.problem.empty() ? dimension.kind
                                       : dimension.kind + "; " + dimension.problem}};
        const Type type{7.9, false, dimension.weak ? kWarning : kBlack};
        for (std::size_t s = first; s < last; ++s) {
          cells.push_back({dimension.problem.empty() ? dimension.text(s, content_.first_unit)
                                                     : std::string(s == first ? "no value" : "—"),
                           type,
                           s == 0 && dimension.weak && dimension.problem.empty() ? "weak" : ""});
        }
        cells.push_back({dimension.is_interval ? "—" : dimension.k, kNumber});
        cells.push_back({dimension.effective_dof, kNumber});
        cells.push_back({pictures_of(dimension), kNumber});
        table.row(cells);
      }
    }
  }

  void weak_spots(TextPages& pages) {
    const bool any_weak = std::any_of(content_.dimensions.begin(), content_.dimensions.end(),
                                      [](const SheetDimension& d) { return d.weak; });
    pages.heading("Weak spots", 30);
    const double w = pages.width();
    if (!any_weak && content_.weak_spots.empty()) {
      pages.paragraph("None: every dimension is known within its tolerance.", kBody, pages.left(),
                      w);
    }
    for (const SheetDimension& dimension : content_.dimensions) {
      if (!dimension.weak) continue;
      pages.need(2 * TextPages::line_height(kBody));
      std::string text = std::to_string(dimension.number) + "  ";
      if (dimension.weak_sentences.empty()) {
        text += quoted(dimension.name) +
                (dimension.problem.empty() ? " is weak" : " has no value: " + dimension.problem);
      } else {
        text += dimension.weak_sentences.front();
      }
      pages.paragraph(text, kBody, pages.left(), w);
      for (std::size_t i = 1; i < dimension.weak_sentences.size(); ++i) {
        pages.paragraph(dimension.weak_sentences[i], kSmall, pages.left() + 14, w - 14);
      }
      pages.y += 3;
    }
    for (const std::string& sentence : content_.weak_spots) {
      pages.paragraph(sentence, kBody, pages.left(), w);
      pages.y += 2;
    }
    if (!content_.doubted.empty()) {
      pages.heading("Doubted marks", 50);
      Table table(pages, {{"point", 0.34 * w}, {"photo", 0.2 * w}, {"", 0.46 * w}});
      for (const SheetDoubt& doubt : content_.doubted) {
        table.row({{doubt.point}, {doubt.photo}, {doubt.text}});
      }
    }
    if (!content_.warnings.empty()) {
      pages.heading("Warnings of the survey", 30);
      for (const std::string& sentence : content_.warnings) {
        pages.paragraph(sentence, kBody, pages.left(), w);
        pages.y += 2;
      }
    }
  }

  static std::string quoted(const std::string& name) { return "“" + name + "”"; }

  // Pictures
  // ---------------------------------------------------------------------------------------

  void picture(TextPages& pages, std::size_t index) {
    const SheetPicture& picture = content_.pictures[index];
    if (index == 0) {
      // The pictures begin on a page of their own: two of them fill it.
      if (pages.y > pages.top() + 1) pages.new_page();
      pages.heading("Photographs", 0);
    }
    const std::string title = "Picture " + std::to_string(index + 1);
    const std::string rest = (picture.is_part ? ": part of " : ": ") + picture.photo + ", camera " +
                             picture.camera + "; values of the original";
    // Names of what is drawn, in columns below.
    const double column = pages.width() / kNameColumns;
    std::vector<std::vector<std::string>> names;
    for (const DrawnDimension& one : picture.drawn) {
      const SheetDimension& dimension = content_.dimensions[one.dimension];
      names.push_back(pages.wrapped(std::to_string(dimension.number) + "  " + dimension.name,
                                    kSmall, column - 10));
    }
    const std::size_t rows = (names.size() + kNameColumns - 1) / kNameColumns;
    std::vector<std::size_t> lines_of_row(rows, 0);
    double names_height = 0;
    for (std::size_t i = 0; i < names.size(); ++i) {
      lines_of_row[i / kNameColumns] = std::max(lines_of_row[i / kNameColumns], names[i].size());
    }
    for (const std::size_t lines : lines_of_row) {
      names_height += static_cast<double>(lines) * TextPages::line_height(kSmall);
    }
    const double text_height = TextPages::line_height(kStrong) + 6 + names_height + 10;
    // Two lying pictures to a page, or one that stands.
    const double heading = TextPages::line_height(kHeading) + 4;
    const double page_room = pages.bottom() - pages.top();
    const bool lies = picture.size.x() > 1.2 * picture.size.y();
    const double room = (page_room - heading) / (lies ? 2 : 1) - text_height;
    const double scale =
        std::min(pages.width() / picture.size.x(), std::max(60.0, room) / picture.size.y());
    const double height = scale * picture.size.y();
    pages.need(height + text_height);
    pages.text(pages.left(), pages.y + kStrong.size, title, kStrong);
    pages.text(pages.left() + pages.width_of(title, kStrong), pages.y + kStrong.size, rest, kBody);
    pages.y += TextPages::line_height(kStrong) + 2;
    if (!pages.counting()) {
      const double x = pages.left() + (pages.width() - scale * picture.size.x()) / 2;
      cairo_t* cairo = pages.cairo();
      cairo_save(cairo);
      cairo_translate(cairo, x, pages.y);
      cairo_scale(cairo, scale, scale);
      draw_photo(cairo, picture);
      cairo_rectangle(cairo, 0, 0, picture.size.x(), picture.size.y());
      cairo_clip(cairo);
      for (const DrawnDimension& one : picture.drawn) draw_lines(cairo, one);
      for (const DrawnDimension& one : picture.drawn) draw_label(pages, one);
      cairo_restore(cairo);
    }
    pages.y += height + 4;
    for (std::size_t r = 0; r < rows; ++r) {
      for (std::size_t c = 0; c < kNameColumns && r * kNameColumns + c < names.size(); ++c) {
        double y = pages.y;
        for (const std::string& line : names[r * kNameColumns + c]) {
          pages.text(pages.left() + static_cast<double>(c) * column, y + kSmall.size, line, kSmall);
          y += TextPages::line_height(kSmall);
        }
      }
      pages.y += static_cast<double>(lines_of_row[r]) * TextPages::line_height(kSmall);
    }
    pages.y += 10;
  }

  static void draw_photo(cairo_t* cairo, const SheetPicture& picture) {
    // The PDF takes the JPEG's own bytes; the surface only says how large it is.
    cairo_surface_t* image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, picture.jpeg_size.width,
                                                        picture.jpeg_size.height);
    auto* copy = static_cast<unsigned char*>(std::malloc(picture.jpeg.size()));
    if (copy) {
      std::copy(picture.jpeg.begin(), picture.jpeg.end(), copy);
      if (cairo_surface_set_mime_data(image, CAIRO_MIME_TYPE_JPEG, copy, picture.jpeg.size(),
                                      &std::free, copy) != CAIRO_STATUS_SUCCESS) {
        std::free(copy);
      }
    }
    cairo_save(cairo);
    cairo_scale(cairo, picture.size.x() / picture.jpeg_size.width,
                picture.size.y() / picture.jpeg_size.height);
    cairo_set_source_surface(cairo, image, 0, 0);
    cairo_paint(cairo);
    cairo_restore(cairo);
    cairo_surface_destroy(image);
  }

  static void trace(cairo_t* cairo, const std::vector<Vector2d>& points) {
    cairo_move_to(cairo, points.front().x(), points.front().y());
    for (std::size_t i = 1; i < points.size(); ++i) {
      cairo_line_to(cairo, points[i].x(), points[i].y());
    }
  }

  static void draw_lines(cairo_t* cairo, const DrawnDimension& one) {
    cairo_set_line_join(cairo, CAIRO_LINE_JOIN_ROUND);
    cairo_set_line_cap(cairo, CAIRO_LINE_CAP_BUTT);
    // A pale casing first, so that the lines read on any photo.
    for (const bool casing : {true, false}) {
      for (const DrawnStroke& stroke : one.strokes) {
        const bool strong = stroke.kind == StrokeKind::kDimensionLine;
        const double width = strong ? 2.6 : 1.8;
        if (casing) {
          cairo_set_source_rgba(cairo, 1, 1, 1, 0.85);
          cairo_set_line_width(cairo, width + 3.6);
          cairo_set_dash(cairo, nullptr, 0, 0);
        } else {
          cairo_set_source_rgb(cairo, kAccent.r, kAccent.g, kAccent.b);
          cairo_set_line_width(cairo, width);
          static const std::array<double, 4> kChain = {22, 5, 3, 5};
          const bool chain = stroke.kind == StrokeKind::kCentreLine;
          cairo_set_dash(cairo, kChain.data(), chain ? static_cast<int>(kChain.size()) : 0, 0);
        }
        trace(cairo, stroke.points);
        cairo_stroke(cairo);
      }
      cairo_set_dash(cairo, nullptr, 0, 0);
      for (const DrawnArrow& arrow : one.arrows) {
        const Vector2d side(-arrow.direction.y(), arrow.direction.x());
        const Vector2d back = arrow.tip - kArrowLength * arrow.direction;
        trace(cairo, {arrow.tip, back + kArrowWidth / 2 * side, back - kArrowWidth / 2 * side});
        cairo_close_path(cairo);
        if (casing) {
          cairo_set_source_rgba(cairo, 1, 1, 1, 0.85);
          cairo_set_line_width(cairo, 3.6);
          cairo_stroke(cairo);
        } else {
          cairo_set_source_rgb(cairo, kAccent.r, kAccent.g, kAccent.b);
          cairo_fill(cairo);
        }
      }
    }
  }

  void draw_label(TextPages& pages, const DrawnDimension& one) const {
    if (!one.label) return;
    const SheetDimension& dimension = content_.dimensions[one.dimension];
    const std::string number = label_number(dimension);
    const std::string value = label_value(dimension, 0, content_.first_unit);
    const Type number_type{kLabelText, true, kWhite}, value_type{kLabelText, false, kBlack};
    const double number_width = pages.width_of(number, number_type) + 2 * kLabelPadding;
    const double width = number_width + pages.width_of(value, value_type) + 2 * kLabelPadding;
    cairo_t* cairo = pages.cairo();
    cairo_save(cairo);
    cairo_translate(cairo, one.label->centre.x(), one.label->centre.y());
    cairo_rotate(cairo, one.label->angle_rad);
    cairo_set_source_rgb(cairo, 1, 1, 1);
    cairo_rectangle(cairo, -width / 2, -kLabelHeight / 2, width, kLabelHeight);
    cairo_fill(cairo);
    cairo_set_source_rgb(cairo, kAccent.r, kAccent.g, kAccent.b);
    cairo_rectangle(cairo, -width / 2, -kLabelHeight / 2, number_width, kLabelHeight);
    cairo_fill(cairo);
    const double baseline = 0.36 * kLabelText;
    pages.text(-width / 2 + kLabelPadding, baseline, number, number_type);
    pages.text(-width / 2 + number_width + kLabelPadding, baseline, value, value_type);
    cairo_restore(cairo);
  }

  // Origins
  // ----------------------------------------------------------------------------------------

  void origins(TextPages& pages) {
    if (content_.dimensions.empty()) return;
    pages.heading("Where each dimension comes from", 120);
    pages.paragraph(
        "Shares of the variance of the original's dimension; the strongest marks are named.",
        kSmall, pages.left(), pages.width());
    pages.y += 4;
    for (const SheetDimension& dimension : content_.dimensions) origin(pages, dimension);
  }

  struct Paragraph {
    std::vector<std::string> lines;
    Type type;
    double indent = 0.0;
  };

  void origin(TextPages& pages, const SheetDimension& dimension) {
    constexpr double kIndent = 26, kBar = 7;
    const double width = pages.width() - kIndent;
    std::vector<Paragraph> paragraphs;
    const auto add = [&](const std::string& text, const Type& type) {
      if (!text.empty()) paragraphs.push_back({pages.wrapped(text, type, width), type, kIndent});
    };
    add(dimension.kind + ": " + dimension.sentence, kBody);
    if (!dimension.problem.empty()) {
      add("no value: " + dimension.problem, {8.5, false, kWarning});
    } else {
      std::string line;
      for (std::size_t s = 1; s < content_.scales.size(); ++s) {
        line += content_.scales[s].head + " " + dimension.text(s, content_.first_unit) + "; ";
      }
      line += dimension.is_interval ? "interval of simulated errors"
                                    : "k = " + dimension.k + ", ν eff = " + dimension.effective_dof;
      if (!dimension.reliability.empty()) {
        line +=
            "; a blunder that the test just misses changes it by " +
            dimension.reliability[std::min(content_.first_unit, dimension.reliability.size() - 1)] +
            " at most";
      }
      add(line, kBody);
      add(dimension.note, kBody);
    }
    double height = TextPages::line_height(kStrong) + 8;
    const bool has_budget = !dimension.budget.empty();
    std::vector<Paragraph> below;
    const auto add_below = [&](const std::string& head, const std::string& text) {
      if (!text.empty())
        below.push_back({pages.wrapped(head + text, kSmall, width), kSmall, kIndent});
    };
    if (has_budget) add_below("budget: ", joined(dimension.budget, 8));
    add_below("photos: ", joined(dimension.photos, 8));
    add_below("strongest marks: ", joined(dimension.marks, 4));
    add_below("known from: ", joined(dimension.others, 8));
    for (const auto* list : {&paragraphs, &below}) {
      for (const Paragraph& one : *list) {
        height += static_cast<double>(one.lines.size()) * TextPages::line_height(one.type);
      }
    }
    if (has_budget) height += kBar + 3;
    pages.need(height);
    pages.text(pages.left(), pages.y + kStrong.size, std::to_string(dimension.number),
               {8.5, true, kAccent});
    const std::string value =
        dimension.problem.empty() ? dimension.text(0, content_.first_unit) : "";
    const double value_width = pages.width_of(value, kStrong);
    const auto name = pages.wrapped(dimension.name, kStrong, width - value_width - 10);
    for (std::size_t i = 0; i < name.size(); ++i) {
      pages.text(pages.left() + kIndent, pages.y + kStrong.size, name[i], kStrong);
      if (i == 0) {
        pages.text_right(pages.left() + pages.width(), pages.y + kStrong.size, value,
                         dimension.weak ? Type{8.5, true, kWarning} : kStrong);
      }
      pages.y += TextPages::line_height(kStrong);
    }
    const auto put = [&](const std::vector<Paragraph>& list) {
      for (const Paragraph& one : list) {
        for (const std::string& line : one.lines) {
          pages.need(TextPages::line_height(one.type));
          pages.text(pages.left() + one.indent, pages.y + one.type.size, line, one.type);
          pages.y += TextPages::line_height(one.type);
        }
      }
    };
    put(paragraphs);
    if (has_budget) {
      pages.y += 1.5;
      double x = pages.left() + kIndent;
      for (const SheetShare& part : dimension.budget) {
        const double w = width * part.share;
        pages.fill(x, pages.y, w, kBar, ink_of_group(part.name));
        if (w > 1) pages.fill(x + w - 0.6, pages.y, 0.6, kBar, kWhite);
        x += w;
      }
      pages.y += kBar + 1.5;
    }
    put(below);
    pages.y += 8;
  }

  static Ink ink_of_group(const std::string& group) {
    if (group == "marks") return {0.10, 0.35, 0.66};
    if (group == "cameras") return {0.86, 0.55, 0.10};
    if (group == "bars") return {0.25, 0.55, 0.32};
    if (group == "scale ratio") return {0.48, 0.32, 0.62};
    if (group == "temperature") return {0.74, 0.24, 0.20};
    return {0.45, 0.45, 0.45};
  }

  void sources(TextPages& pages) {
    const double w = pages.width();
    pages.heading("Cameras", 60);
    Table cameras(pages, {{"camera", 0.16 * w}, {"", 0.84 * w}});
    for (const SheetCamera& camera : content_.cameras) {
      std::string text = camera.what + (camera.what.empty() ? "" : "; ") + camera.use;
      std::string file = camera.file;
      if (!camera.sha256.empty()) file += (file.empty() ? "" : ", ") + ("SHA-256 " + camera.sha256);
      cameras.row({{camera.name, kStrong}, {text, kBody, file}});
    }
    pages.heading("Photos of the survey", 60);
    Table photos(pages, {{"photo", 0.26 * w}, {"camera", 0.16 * w}, {"", 0.58 * w}});
    for (const SheetPhoto& photo : content_.photos) {
      photos.row({{photo.name, kStrong},
                  {photo.camera},
                  {photo.state, kBody, photo.sha256.empty() ? "" : "SHA-256 " + photo.sha256}});
    }
  }

  const SheetContent& content_;
  const DimensionPdfOptions& options_;
};

}  // namespace

calib::Result<std::string, calib::Problem> dimension_pdf(const SheetContent& content,
                                                         const DimensionPdfOptions& options) {
  if (options.paper.width_mm < kSmallestWidth_mm || options.paper.height_mm < kSmallestHeight_mm) {
    return calib::Unexpected(calib::Problem{"The paper " + options.paper.name +
                                            " is too small for a dimension sheet: give A4 or "
                                            "Letter."});
  }
  const Vector2d paper_mm(options.paper.width_mm, options.paper.height_mm);
  const Vector2d page = kPointsPerMillimetre * paper_mm;
  const std::string head =
      "Dimension sheet: " + content.original + (content.date.empty() ? "" : ", " + content.date);
  const std::string foot =
      "Value ± U, U = k·u, p = 95.45 %. Confirm by a second method where a wrong dimension could "
      "hurt somebody.";
  const calib::Unexpected stopped(
      calib::Problem{"The sheet was stopped: nothing was written.", calib::Blame::kOurs});
  const std::string time = is_day(content.date) ? content.date + "T00:00:00Z" : std::string();
  DimensionSheet sheet(content, options);
  PdfDocument of_no_account(paper_mm, head, time, PdfDocument::Unit::kPoint);
  TextPages counted(of_no_account, page, 0, head, foot);
  if (!sheet.draw(counted)) return stopped;
  PdfDocument document(paper_mm, head, time, PdfDocument::Unit::kPoint);
  TextPages pages(document, page, counted.page(), head, foot);
  if (!sheet.draw(pages)) return stopped;
  return document.finish();
}

}  // namespace measure
