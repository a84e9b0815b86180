#include "calib/board/board_pdf.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <memory>
#include <optional>
#include <sstream>
#include <vector>

#include <cairo-pdf.h>
#include <cairo.h>

#include "calib/base/units.h"
#include "calib/file/atomic_write.h"

namespace calib {
namespace {

constexpr double kPointsPerMillimetre = 72.0 / kMillimetresPerInch;
constexpr double kPrinterMargin_mm = 5.0;  // office printers leave 4 to 5 mm of a sheet unprinted
constexpr double kQuietSquares = 0.25;     // white that a finder needs around the outermost squares
constexpr double kTextSize_mm = 2.8;       // 8 point
constexpr double kLineHeight_mm = 3.7;
constexpr double kTickHeight_mm = 4.0;
constexpr double kStroke_mm = 0.2;
constexpr double kSideMargin_mm = kPrinterMargin_mm + 2.0;
constexpr double kSmallestPaper_mm = 50.0;
constexpr double kLargestPaper_mm = 5000.0;  // a PDF page may measure 14,400 points

const std::array<Paper, 6>& known_papers() {
  static const std::array<Paper, 6> papers = {
      Paper{"A4", 210.0, 297.0}, Paper{"Letter", 215.9, 279.4}, Paper{"Tabloid", 279.4, 431.8},
      Paper{"A3", 297.0, 420.0}, Paper{"A2", 420.0, 594.0},     Paper{"A1", 594.0, 841.0}};
  return papers;
}

std::string lower_case(std::string_view text) {
  std::string result(text);
  std::transform(result.begin(), result.end(), result.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return result;
}

std::string text_of(double value) {
  std::ostringstream text;
  text << value;  // six digits, no trailing zeros
  return text.str();
}

std::optional<double> read_number(std::string_view& text) {
  double value = 0.0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc()) {
    return std::nullopt;
  }
  text.remove_prefix(static_cast<std::size_t>(end - text.data()));
  return value;
}

double quiet_mm(const BoardSpec& board) {
  return std::max(kPrinterMargin_mm, kQuietSquares * board.square_mm);
}

void choose_font(cairo_t* cairo) {
  cairo_select_font_face(cairo, "sans-serif", CAIRO_FONT_SLANT_NORMAL, CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_font_size(cairo, kTextSize_mm);
}

// Broken into lines no wider than width_mm.
std::vector<std::string> wrapped(cairo_t* cairo, const std::string& text, double width_mm) {
  std::vector<std::string> lines;
  std::istringstream words(text);
  std::string line, word;
  while (words >> word) {
    const std::string longer = line.empty() ? word : line + " " + word;
    cairo_text_extents_t extents{};
    cairo_text_extents(cairo, longer.c_str(), &extents);
    if (extents.x_advance > width_mm && !line.empty()) {
      lines.push_back(line);
      line = word;
    } else {
      line = longer;
    }
  }
  lines.push_back(line);
  return lines;
}

std::vector<std::string> instructions(cairo_t* cairo, const BoardSpec& board,
                                      double sheet_width_mm) {
  const std::string text = "Checkerboard of " + std::to_string(board.inner_columns) + " x " +
                           std::to_string(board.inner_rows) + " inner corners, squares of " +
                           text_of(board.square_mm) +
                           " mm. Print at 100 %, not fitted to the page. Measure the line above "
                           "between the middles of its end ticks: it "
                           "must be " +
                           text_of(kControlLine_mm) +
                           " mm long; if not, give the square as measured on this sheet. Glue the "
                           "sheet onto something flat and stiff, "
                           "such as glass.";
  return wrapped(cairo, text, sheet_width_mm - 2.0 * kSideMargin_mm);
}

// Height of the strip below the board: control line and instructions.
double strip_mm(const BoardSpec& board, double sheet_width_mm) {
  const std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)> surface(
      cairo_image_surface_create(CAIRO_FORMAT_A8, 1, 1), &cairo_surface_destroy);
  const std::unique_ptr<cairo_t, decltype(&cairo_destroy)> cairo(cairo_create(surface.get()),
                                                                 &cairo_destroy);
  cairo_scale(cairo.get(), kPointsPerMillimetre, kPointsPerMillimetre);
  choose_font(cairo.get());
  const auto lines = instructions(cairo.get(), board, sheet_width_mm);
  return kTickHeight_mm + kLineHeight_mm * static_cast<double>(lines.size()) + 1.0;
}

Eigen::Vector2d needed_mm(const BoardSpec& board, double sheet_width_mm) {
  return {std::max((board.inner_columns + 1) * board.square_mm + 2.0 * quiet_mm(board),
                   kControlLine_mm + 2.0 * kSideMargin_mm),
          (board.inner_rows + 1) * board.square_mm + 2.0 * quiet_mm(board) +
              strip_mm(board, sheet_width_mm) + kPrinterMargin_mm};
}

std::optional<BoardSheet> placed(const BoardSpec& board, double width_mm, double height_mm) {
  constexpr double kRounding_mm = 1e-9;
  const Eigen::Vector2d needed = needed_mm(board, width_mm);
  if (width_mm + kRounding_mm < needed.x() || height_mm + kRounding_mm < needed.y()) {
    return std::nullopt;
  }
  const double board_width_mm = (board.inner_columns + 1) * board.square_mm;
  BoardSheet sheet;
  sheet.width_mm = width_mm;
  sheet.height_mm = height_mm;
  const double top_mm = quiet_mm(board) + 0.5 * (height_mm - needed.y());
  sheet.first_corner_mm = {0.5 * (width_mm - board_width_mm) + board.square_mm,
                           top_mm + board.square_mm};
  sheet.control_line_from_mm = {
      kSideMargin_mm,
      height_mm - kPrinterMargin_mm - strip_mm(board, width_mm) + 0.5 * kTickHeight_mm};
  sheet.control_line_to_mm = sheet.control_line_from_mm + Eigen::Vector2d(kControlLine_mm, 0.0);
  return sheet;
}

std::optional<BoardSheet> placed_either_way(const BoardSpec& board, const Paper& paper) {
  // The way round that leaves the board more room: long side along long side.
  const bool lying = board.inner_columns >= board.inner_rows;
  const double narrow_mm = std::min(paper.width_mm, paper.height_mm);
  const double wide_mm = std::max(paper.width_mm, paper.height_mm);
  if (auto sheet = lying ? placed(board, wide_mm, narrow_mm) : placed(board, narrow_mm, wide_mm)) {
    return sheet;
  }
  return lying ? placed(board, narrow_mm, wide_mm) : placed(board, wide_mm, narrow_mm);
}

// In steps of half a millimetre, which a rule can check; 0 where none fits.
double largest_square_mm(BoardSpec board, const Paper& paper) {
  constexpr double kStep_mm = 0.5;
  int fits = 0, too_large = 4000;
  while (too_large - fits > 1) {
    const int middle = (fits + too_large) / 2;
    board.square_mm = middle * kStep_mm;
    (placed_either_way(board, paper) ? fits : too_large) = middle;
  }
  return fits * kStep_mm;
}

struct Pen {
  std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)> surface;
  std::unique_ptr<cairo_t, decltype(&cairo_destroy)> cairo;
};

void draw_squares(cairo_t* cairo, const BoardSpec& board, const Eigen::Vector2d& top_left_mm) {
  // One path, filled once: squares that meet at a corner show no seam and no overlap.
  for (int row = 0; row <= board.inner_rows; ++row) {
    for (int column = 0; column <= board.inner_columns; ++column) {
      if ((row + column) % 2 == 0) {
        cairo_rectangle(cairo, top_left_mm.x() + column * board.square_mm,
                        top_left_mm.y() + row * board.square_mm, board.square_mm, board.square_mm);
      }
    }
  }
  cairo_fill(cairo);
}

void draw_control_line(cairo_t* cairo, const BoardSheet& sheet) {
  const auto &from = sheet.control_line_from_mm, &to = sheet.control_line_to_mm;
  cairo_set_line_width(cairo, kStroke_mm);
  cairo_move_to(cairo, from.x(), from.y());
  cairo_line_to(cairo, to.x(), to.y());
  for (const auto& end : {from, to}) {
    cairo_move_to(cairo, end.x(), end.y() - 0.5 * kTickHeight_mm);
    cairo_line_to(cairo, end.x(), end.y() + 0.5 * kTickHeight_mm);
  }
  cairo_stroke(cairo);
}

void draw_text(cairo_t* cairo, const BoardSpec& board, const BoardSheet& sheet) {
  choose_font(cairo);
  double y_mm = sheet.control_line_from_mm.y() + 0.5 * kTickHeight_mm + kLineHeight_mm;
  for (const auto& line : instructions(cairo, board, sheet.width_mm)) {
    cairo_move_to(cairo, kSideMargin_mm, y_mm);
    cairo_show_text(cairo, line.c_str());
    y_mm += kLineHeight_mm;
  }
  constexpr double kLabelWidth_mm = 16.0;
  if (sheet.control_line_to_mm.x() + kLabelWidth_mm < sheet.width_mm - kPrinterMargin_mm) {
    cairo_move_to(cairo, sheet.control_line_to_mm.x() + 2.0,
                  sheet.control_line_to_mm.y() + 0.35 * kTextSize_mm);
    cairo_show_text(cairo, (text_of(kControlLine_mm) + " mm").c_str());
  }
}

cairo_status_t append(void* closure, const unsigned char* data, unsigned int length) {
  static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

}  // namespace

Result<Paper, Problem> paper_named(std::string_view text) {
  const std::string wanted = lower_case(text);
  for (const auto& paper : known_papers()) {
    if (wanted == lower_case(paper.name)) {
      return paper;
    }
  }
  const Problem unknown{
      "paper \"" + std::string(text) +
      "\" is not known: give A4, A3, A2, A1, Letter, Tabloid, or width times height such as "
      "300x420mm"};
  std::string_view rest = wanted;
  const auto width_mm = read_number(rest);
  if (!width_mm || rest.empty() || rest.front() != 'x') {
    return Unexpected(unknown);
  }
  rest.remove_prefix(1);
  const auto height_mm = read_number(rest);
  if (!height_mm || (!rest.empty() && rest != "mm" && rest != " mm")) {
    return Unexpected(unknown);
  }
  for (const double side_mm : {*width_mm, *height_mm}) {
    if (!(side_mm >= kSmallestPaper_mm && side_mm <= kLargestPaper_mm)) {
      return Unexpected(
          Problem{"paper \"" + std::string(text) + "\": a side must measure from 50 to 5000 mm"});
    }
  }
  return Paper{text_of(*width_mm) + "x" + text_of(*height_mm) + "mm",
               std::min(*width_mm, *height_mm), std::max(*width_mm, *height_mm)};
}

Result<BoardSheet, Problem> lay_out_board(const BoardSpec& board, const Paper& paper) {
  if (const auto problem = board.first_problem()) {
    return Unexpected(Problem{*problem});
  }
  if (auto sheet = placed_either_way(board, paper)) {
    return *sheet;
  }
  std::string sentence = "a board of " + std::to_string(board.inner_columns) + "x" +
                         std::to_string(board.inner_rows) + " inner corners with squares of " +
                         text_of(board.square_mm) + " mm does not fit " + paper.name +
                         " with its white border and control line: ";
  const double largest_mm = largest_square_mm(board, paper);
  sentence += largest_mm > 0.0 ? "squares up to " + text_of(largest_mm) + " mm do"
                               : std::string("no size of square does");
  const auto larger = std::find_if(
      known_papers().begin(), known_papers().end(),
      [&board](const Paper& candidate) { return placed_either_way(board, candidate).has_value(); });
  if (larger != known_papers().end()) {
    sentence += ", and " + text_of(board.square_mm) + " mm fit " + larger->name;
  } else {
    const Eigen::Vector2d needed = needed_mm(board, (board.inner_columns + 1) * board.square_mm);
    sentence += ", and " + text_of(board.square_mm) + " mm need a sheet of " +
                text_of(std::ceil(needed.x())) + "x" + text_of(std::ceil(needed.y())) + "mm";
  }
  return Unexpected(Problem{sentence});
}

Result<BoardSheet, Problem> write_board_pdf(const std::filesystem::path& file,
                                            const BoardSpec& board, const Paper& paper) {
  auto sheet = lay_out_board(board, paper);
  if (!sheet) {
    return Unexpected(sheet.error());
  }
  std::string bytes;
  Pen pen{
      {cairo_pdf_surface_create_for_stream(&append, &bytes, sheet->width_mm * kPointsPerMillimetre,
                                           sheet->height_mm * kPointsPerMillimetre),
       &cairo_surface_destroy},
      {nullptr, &cairo_destroy}};
  cairo_pdf_surface_set_metadata(pen.surface.get(), CAIRO_PDF_METADATA_TITLE,
                                 "Checkerboard for calibrating a camera");
  pen.cairo.reset(cairo_create(pen.surface.get()));
  cairo_scale(pen.cairo.get(), kPointsPerMillimetre, kPointsPerMillimetre);
  cairo_set_source_rgb(pen.cairo.get(), 0.0, 0.0, 0.0);
  draw_squares(pen.cairo.get(), board,
               sheet->first_corner_mm - Eigen::Vector2d::Constant(board.square_mm));
  draw_control_line(pen.cairo.get(), *sheet);
  draw_text(pen.cairo.get(), board, *sheet);
  cairo_show_page(pen.cairo.get());
  const cairo_status_t drawn = cairo_status(pen.cairo.get());
  pen.cairo.reset();
  cairo_surface_finish(pen.surface.get());
  if (drawn != CAIRO_STATUS_SUCCESS ||
      cairo_surface_status(pen.surface.get()) != CAIRO_STATUS_SUCCESS) {
    return Unexpected(
        Problem{file.string() + ": the page could not be drawn: " + cairo_status_to_string(drawn),
                Blame::kOurs});
  }
  if (auto written = atomic_write(file, bytes); !written) {
    return Unexpected(written.error());
  }
  return sheet;
}

}  // namespace calib
