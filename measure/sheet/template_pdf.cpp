#include "measure/sheet/template_pdf.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <memory>
#include <numbers>
#include <optional>

#include <cairo-pdf.h>

#include "measure/sheet/drawing_texts.h"
#include "measure/sheet/pdf_document.h"
#include "measure/sheet/sheet_font.h"

namespace measure {
namespace {

using calib::Problem;
using Eigen::Vector2d;

constexpr double kControlLine_mm = calib::kControlLine_mm;
constexpr double kTick_mm = 4.0;
constexpr double kFootHeight_mm = 24.0;  // control line, four lines of text, map
constexpr double kSideWidth_mm = 8.0;    // control line
constexpr double kMapWidth_mm = 26.0, kMapHeight_mm = 22.0;
constexpr double kTextHeight_mm = 2.2, kTextLine_mm = 4.2;
constexpr double kThin_mm = 0.18, kHair_mm = 0.1;
constexpr double kCrossArm_mm = 3.0, kCrossRing_mm = 1.5;
constexpr int kMostSheets = 400;

/// How the drawing is cut into sheets.
struct Tiling {
  double page_width = 0.0, page_height = 0.0;
  PageBox window;  ///< on the page, y down
  int columns = 1, rows = 1;
  Vector2d step = Vector2d::Zero();      ///< from one sheet to the next
  Vector2d top_left = Vector2d::Zero();  ///< of the first sheet's window, in the drawing

  [[nodiscard]] int sheets() const { return columns * rows; }
  [[nodiscard]] Vector2d window_size() const { return window.high - window.low; }
  /// What of the drawing a sheet shows.
  [[nodiscard]] PageBox part(int row, int column) const {
    const Vector2d corner = top_left + Vector2d(column * step.x(), -row * step.y());
    const Vector2d size = window_size();
    return {{corner.x(), corner.y() - size.y()}, {corner.x() + size.x(), corner.y()}};
  }
  /// What all sheets together show.
  [[nodiscard]] PageBox all() const { return {part(rows - 1, 0).low, part(0, columns - 1).high}; }
};

std::optional<Tiling> tiling_of(const PageBox& frame, double page_width, double page_height,
                                const TemplatePdfOptions& options) {
  Tiling tiling;
  tiling.page_width = page_width;
  tiling.page_height = page_height;
  tiling.window = {
      {options.margin_mm + kSideWidth_mm, options.margin_mm},
      {page_width - options.margin_mm, page_height - options.margin_mm - kFootHeight_mm}};
  const Vector2d size = tiling.window_size();
  constexpr double kLeast_mm = kControlLine_mm + kTick_mm + 2.0;
  if (size.y() < kLeast_mm || size.x() < kLeast_mm + kMapWidth_mm ||
      size.minCoeff() < 3.0 * options.overlap_mm) {
    return std::nullopt;
  }
  tiling.step = size - Vector2d::Constant(options.overlap_mm);
  const Vector2d extent = frame.high - frame.low;
  const auto count = [&](int axis) {
    constexpr double kRounding = 1e-9;
    const double needed =
        std::ceil((extent[axis] - options.overlap_mm - kRounding) / tiling.step[axis]);
    return static_cast<int>(std::clamp(needed, 1.0, 1e4));
  };
  tiling.columns = count(0);
  tiling.rows = count(1);
  const Vector2d covered = tiling.step.cwiseProduct(Vector2d(tiling.columns, tiling.rows)) +
                           Vector2d::Constant(options.overlap_mm);
  const Vector2d middle = 0.5 * (frame.low + frame.high);
  tiling.top_left = middle + Vector2d(-0.5 * covered.x(), 0.5 * covered.y());
  return tiling;
}

/// The way round of the paper that takes fewer sheets; upright where both take as many.
std::optional<Tiling> best_tiling(const PageBox& frame, const TemplatePdfOptions& options) {
  const double narrow = std::min(options.paper.width_mm, options.paper.height_mm);
  const double wide = std::max(options.paper.width_mm, options.paper.height_mm);
  auto upright = tiling_of(frame, narrow, wide, options);
  auto lying = tiling_of(frame, wide, narrow, options);
  if (!upright || (lying && lying->sheets() < upright->sheets())) {
    return lying;
  }
  return upright;
}

std::vector<Vector2d> crosses_of(const Tiling& tiling, double overlap_mm) {
  std::vector<Vector2d> crosses;
  constexpr std::array kShares = {0.12, 0.5, 0.88};
  const Vector2d size = tiling.window_size();
  for (int row = 0; row < tiling.rows; ++row) {
    for (int column = 0; column < tiling.columns; ++column) {
      const PageBox part = tiling.part(row, column);
      for (const double share : kShares) {
        if (column + 1 < tiling.columns) {
          crosses.emplace_back(part.high.x() - 0.5 * overlap_mm, part.low.y() + share * size.y());
        }
        if (row + 1 < tiling.rows) {
          crosses.emplace_back(part.low.x() + share * size.x(), part.low.y() + 0.5 * overlap_mm);
        }
      }
    }
  }
  return crosses;
}

std::vector<PageSegment> seams_of(const Tiling& tiling, double overlap_mm) {
  std::vector<PageSegment> seams;
  const PageBox first = tiling.part(0, 0), last = tiling.part(tiling.rows - 1, tiling.columns - 1);
  for (int column = 0; column + 1 < tiling.columns; ++column) {
    const double x = tiling.part(0, column).high.x() - 0.5 * overlap_mm;
    seams.push_back({{x, last.low.y()}, {x, first.high.y()}});
  }
  for (int row = 0; row + 1 < tiling.rows; ++row) {
    const double y = tiling.part(row, 0).low.y() + 0.5 * overlap_mm;
    seams.push_back({{first.low.x(), y}, {last.high.x(), y}});
  }
  for (const Vector2d& cross : crosses_of(tiling, overlap_mm)) {
    for (const Vector2d& arm : {Vector2d(kCrossArm_mm, 0.0), Vector2d(0.0, kCrossArm_mm)}) {
      seams.push_back({cross - arm, cross + arm});
    }
  }
  return seams;
}

bool holds(const PageBox& outer, const PageBox& inner) {
  return (outer.low.array() <= inner.low.array()).all() &&
         (outer.high.array() >= inner.high.array()).all();
}

/// Rows by letters, columns by numbers: "A1", "B3", after "Z9" "AA1".
std::string sheet_name(int row, int column) {
  std::string letters;
  for (int rest = row; rest >= 0; rest = rest / 26 - 1) {
    letters.insert(letters.begin(), static_cast<char>('A' + rest % 26));
  }
  return letters + std::to_string(column + 1);
}

PageBox bounds_of(const LaidOutText& text) {
  const TurnedBox room = room_of(text);
  PageBox bounds{room.centre, room.centre};
  for (const auto& [x, y] :
       {std::pair(-1, -1), std::pair(-1, 1), std::pair(1, -1), std::pair(1, 1)}) {
    bounds.low = bounds.low.cwiseMin(room.corner(x, y));
    bounds.high = bounds.high.cwiseMax(room.corner(x, y));
  }
  return bounds;
}

bool shows_anything(const LaidOutDrawing& drawing, const PageBox& part) {
  for (const Stroke& stroke : drawing.strokes) {
    for (const PageSegment& piece : pieces_of(stroke)) {
      if (crosses(piece, part)) {
        return true;
      }
    }
  }
  return std::any_of(drawing.texts.begin(), drawing.texts.end(),
                     [&](const LaidOutText& text) { return overlap(bounds_of(text), part); });
}

/// Draws strokes of a drawing at a place of the page and a scale.
class StrokePainter {
 public:
  StrokePainter(cairo_t* cairo, const Vector2d& origin, double scale)
      : cairo_(cairo), origin_(origin), scale_(scale) {}

  [[nodiscard]] Vector2d page(const Vector2d& place) const {
    return origin_ + scale_ * Vector2d(place.x(), -place.y());
  }

  /// @param pen_share  of the pen's width: less for an overview.
  void paint(const Stroke& stroke, double pen_share) const {
    const LayerPen& pen = pen_of(stroke.layer);
    cairo_set_source_rgb(cairo_, pen.colour[0], pen.colour[1], pen.colour[2]);
    cairo_set_line_width(cairo_, pen_share * pen.width_mm);
    if (pen.dashes_mm[0] > 0.0) {
      cairo_set_dash(cairo_, pen.dashes_mm.data(), static_cast<int>(pen.dashes_mm.size()), 0.0);
    } else {
      cairo_set_dash(cairo_, nullptr, 0, 0.0);
    }
    std::visit([this](const auto& shape) { trace(shape); }, stroke.shape);
    if (std::holds_alternative<ArrowStroke>(stroke.shape)) {
      cairo_fill(cairo_);
    } else {
      cairo_stroke(cairo_);
    }
  }

  void paint(const LaidOutText& text) const {
    cairo_set_source_rgb(cairo_, 0.0, 0.0, 0.0);
    const Vector2d at = page(text.at_mm);
    cairo_save(cairo_);
    cairo_translate(cairo_, at.x(), at.y());
    cairo_rotate(cairo_, -text.turn_rad);
    cairo_move_to(cairo_, 0.0, 0.0);
    show_text(cairo_, text.text, font_size(text.height_mm));
    cairo_restore(cairo_);
  }

 private:
  void move_to(const Vector2d& place) const {
    const Vector2d at = page(place);
    cairo_move_to(cairo_, at.x(), at.y());
  }
  void line_to(const Vector2d& place) const {
    const Vector2d at = page(place);
    cairo_line_to(cairo_, at.x(), at.y());
  }
  void trace(const LineStroke& line) const {
    move_to(line.from_mm);
    line_to(line.to_mm);
  }
  void trace(const EllipseStroke& ellipse) const {
    const Vector2d at = page(ellipse.centre_mm);
    cairo_save(cairo_);
    cairo_translate(cairo_, at.x(), at.y());
    cairo_rotate(cairo_, -ellipse.turn_rad);
    // Without any width it could not be scaled.
    cairo_scale(cairo_, scale_ * ellipse.major_mm,
                scale_ * std::max(ellipse.minor_mm, 1e-6 * ellipse.major_mm));
    cairo_new_sub_path(cairo_);
    cairo_arc(cairo_, 0.0, 0.0, 1.0, 0.0, 2.0 * std::numbers::pi);
    cairo_close_path(cairo_);
    cairo_restore(cairo_);  // before the stroke: the pen stays round
  }
  void trace(const ArcStroke& arc) const {
    const Vector2d at = page(arc.centre_mm);
    cairo_new_sub_path(cairo_);
    cairo_arc_negative(cairo_, at.x(), at.y(), scale_ * arc.radius_mm, -arc.from_rad, -arc.to_rad);
  }
  void trace(const PathStroke& path) const {
    for (std::size_t i = 0; i < path.corners_mm.size(); ++i) {
      i == 0 ? move_to(path.corners_mm[i]) : line_to(path.corners_mm[i]);
    }
    if (path.closed) {
      cairo_close_path(cairo_);
    }
  }
  void trace(const PlaceStroke& place) const {
    const Vector2d x(0.5 * kPlaceCross_mm, 0.0), y(0.0, 0.5 * kPlaceCross_mm);
    trace(LineStroke{place.at_mm - x, place.at_mm + x});
    trace(LineStroke{place.at_mm - y, place.at_mm + y});
  }
  void trace(const ArrowStroke& arrow) const {
    const Vector2d base = arrow.tip_mm - kArrowLength_mm * arrow.direction;
    const Vector2d across(-arrow.direction.y(), arrow.direction.x());
    move_to(arrow.tip_mm);
    line_to(base + 0.5 * kArrowWidth_mm * across);
    line_to(base - 0.5 * kArrowWidth_mm * across);
    cairo_close_path(cairo_);
  }

  cairo_t* cairo_;
  Vector2d origin_;
  double scale_;
};

/// Cut at its end with "…" where it is wider than its room.
std::string fitted(std::string text, double height_mm, double width_mm) {
  if (text_width(text, height_mm) <= width_mm) {
    return text;
  }
  while (!text.empty() && text_width(text + "…", height_mm) > width_mm) {
    // A whole character: what follows its first byte begins with the bits 10.
    while (!text.empty() && (static_cast<unsigned char>(text.back()) & 0xC0) == 0x80) {
      text.pop_back();
    }
    if (!text.empty()) {
      text.pop_back();
    }
  }
  return text + "…";
}

class Template {
 public:
  Template(const LaidOutDrawing& drawing, const Tiling& tiling, const TemplatePdfOptions& options)
      : drawing_(drawing),
        tiling_(tiling),
        options_(options),
        document_({tiling.page_width, tiling.page_height}, drawing.legend.front(), options.date) {
    out_.page_width_mm = tiling.page_width;
    out_.page_height_mm = tiling.page_height;
    out_.registration_crosses_mm = crosses_of(tiling, options.overlap_mm);
    for (int row = 0; row < tiling.rows; ++row) {
      for (int column = 0; column < tiling.columns; ++column) {
        used_.push_back(tiling.sheets() == 1 || shows_anything(drawing, tiling.part(row, column)));
      }
    }
    sheets_ = static_cast<int>(std::count(used_.begin(), used_.end(), true));
  }

  calib::Result<TemplatePdf, Problem> run() {
    if (tiling_.sheets() > 1) {
      draw_overview();
    }
    int done = 0;
    for (int row = 0; row < tiling_.rows; ++row) {
      for (int column = 0; column < tiling_.columns; ++column) {
        if (!is_used(row, column)) {
          continue;
        }
        if (options_.cancelled && options_.cancelled()) {
          return calib::Unexpected(Problem{"the template was cancelled; nothing was written."});
        }
        draw_sheet(row, column, ++done);
        if (options_.progress) {
          options_.progress(static_cast<double>(done) / sheets_,
                            "drawing sheet " + sheet_name(row, column));
        }
      }
    }
    auto bytes = document_.finish();
    if (!bytes) {
      return calib::Unexpected(bytes.error());
    }
    out_.bytes = std::move(*bytes);
    return std::move(out_);
  }

 private:
  [[nodiscard]] bool is_used(int row, int column) const {
    return used_[static_cast<std::size_t>(row * tiling_.columns + column)];
  }

  /// Texts keep off the seams, so that a sheet shows them whole; its neighbours need no part of
  /// them.
  [[nodiscard]] bool belongs_to(const LaidOutText& text, const PageBox& part) const {
    const PageBox bounds = bounds_of(text);
    if (holds(part, bounds)) {
      return true;
    }
    for (int row = 0; row < tiling_.rows; ++row) {
      for (int column = 0; column < tiling_.columns; ++column) {
        if (holds(tiling_.part(row, column), bounds)) {
          return false;
        }
      }
    }
    return overlap(bounds, part);
  }

  void draw_sheet(int row, int column, int number) {
    cairo_t* cairo = document_.cairo();
    TemplatePage page;
    page.name = sheet_name(row, column);
    page.window = tiling_.window;
    const PageBox part = tiling_.part(row, column);
    page.origin = page.window.low + Vector2d(-part.low.x(), part.high.y());
    const StrokePainter painter(cairo, page.origin, 1.0);
    clip_to_window();
    for (const Vector2d& cross : out_.registration_crosses_mm) {
      draw_cross(painter.page(cross));
    }
    for (const DrawingLayer layer : kDrawingLayers) {
      for (const Stroke& stroke : drawing_.strokes) {
        if (stroke.layer == layer) {
          painter.paint(stroke, 1.0);
        }
      }
    }
    for (const LaidOutText& text : drawing_.texts) {
      if (belongs_to(text, part)) {
        painter.paint(text);
      }
    }
    cairo_restore(cairo);
    draw_window(row, column);
    std::string which = "Sheet " + page.name;
    if (sheets_ > 1) {
      which += " (" + std::to_string(number) + " of " + std::to_string(sheets_) + ")";
    }
    draw_foot(which, row, column, page);
    finish_page(std::move(page));
  }

  void draw_overview() {
    cairo_t* cairo = document_.cairo();
    TemplatePage page;
    page.name = "overview";
    page.true_size = false;
    page.window = tiling_.window;
    const PageBox all = tiling_.all();
    const Vector2d size = tiling_.window_size();
    const double scale = 0.96 * (size.array() / (all.high - all.low).array()).minCoeff();
    const Vector2d middle = 0.5 * (all.low + all.high);
    page.origin =
        0.5 * (page.window.low + page.window.high) - scale * Vector2d(middle.x(), -middle.y());
    const StrokePainter painter(cairo, page.origin, scale);
    clip_to_window();
    for (int row = 0; row < tiling_.rows; ++row) {
      for (int column = 0; column < tiling_.columns; ++column) {
        const PageBox part = tiling_.part(row, column);
        const Vector2d low = painter.page({part.low.x(), part.high.y()});
        const Vector2d high = painter.page({part.high.x(), part.low.y()});
        if (!is_used(row, column)) {
          cairo_set_source_rgb(cairo, 0.9, 0.9, 0.9);
          cairo_rectangle(cairo, low.x(), low.y(), high.x() - low.x(), high.y() - low.y());
          cairo_fill(cairo);
        }
        cairo_set_source_rgb(cairo, 0.45, 0.45, 0.45);
        cairo_set_line_width(cairo, kThin_mm);
        cairo_rectangle(cairo, low.x(), low.y(), high.x() - low.x(), high.y() - low.y());
        cairo_stroke(cairo);
      }
    }
    for (const Stroke& stroke : drawing_.strokes) {
      if (stroke.layer == DrawingLayer::kEdges || stroke.layer == DrawingLayer::kCircles) {
        painter.paint(stroke, 0.7);
      }
    }
    for (int row = 0; row < tiling_.rows; ++row) {
      for (int column = 0; column < tiling_.columns; ++column) {
        // In the corner that no neighbour overlaps, on white: the drawing runs below.
        const PageBox part = tiling_.part(row, column);
        const Vector2d corner =
            painter.page({part.low.x() + (column > 0 ? options_.overlap_mm : 0.0),
                          part.high.y() - (row > 0 ? options_.overlap_mm : 0.0)});
        const std::string name = sheet_name(row, column);
        const double height = std::clamp(0.1 * scale * size.minCoeff(), 1.0, 4.0);
        cairo_set_source_rgb(cairo, 1.0, 1.0, 1.0);
        cairo_rectangle(cairo, corner.x() + 0.4, corner.y() + 0.4, text_width(name, height) + 1.0,
                        height + 1.2);
        cairo_fill(cairo);
        document_.text(name, corner + Vector2d(0.9, 1.0 + height), height);
      }
    }
    cairo_restore(cairo);
    draw_foot("Overview, not to scale: how the sheets lie", -1, -1, page);
    finish_page(std::move(page));
  }

  void finish_page(TemplatePage page) {
    document_.next_page(page.name);
    out_.pages.push_back(std::move(page));
  }

  void clip_to_window() {
    cairo_t* cairo = document_.cairo();
    cairo_save(cairo);
    const Vector2d size = tiling_.window_size();
    cairo_rectangle(cairo, tiling_.window.low.x(), tiling_.window.low.y(), size.x(), size.y());
    cairo_clip(cairo);
  }

  void draw_cross(const Vector2d& at) {
    cairo_t* cairo = document_.cairo();
    cairo_set_source_rgb(cairo, 0.0, 0.0, 0.0);
    cairo_set_dash(cairo, nullptr, 0, 0.0);
    cairo_set_line_width(cairo, kHair_mm);
    cairo_move_to(cairo, at.x() - kCrossArm_mm, at.y());
    cairo_line_to(cairo, at.x() + kCrossArm_mm, at.y());
    cairo_move_to(cairo, at.x(), at.y() - kCrossArm_mm);
    cairo_line_to(cairo, at.x(), at.y() + kCrossArm_mm);
    cairo_new_sub_path(cairo);
    cairo_arc(cairo, at.x(), at.y(), kCrossRing_mm, 0.0, 2.0 * std::numbers::pi);
    cairo_stroke(cairo);
  }

  /// Short strokes at the corners of the window, and where a neighbour's window begins a fine
  /// dashed line, along which one of the two is cut.
  void draw_window(int row, int column) {
    cairo_t* cairo = document_.cairo();
    const PageBox& window = tiling_.window;
    const double half = 0.5 * options_.overlap_mm;
    cairo_set_source_rgb(cairo, 0.45, 0.45, 0.45);
    cairo_set_line_width(cairo, kHair_mm);
    constexpr std::array kDashes = {2.0, 2.0};
    cairo_set_dash(cairo, kDashes.data(), 2, 0.0);
    const auto line = [&](double x1, double y1, double x2, double y2) {
      cairo_move_to(cairo, x1, y1);
      cairo_line_to(cairo, x2, y2);
    };
    if (column > 0) {
      line(window.low.x() + half, window.low.y(), window.low.x() + half, window.high.y());
    }
    if (column + 1 < tiling_.columns) {
      line(window.high.x() - half, window.low.y(), window.high.x() - half, window.high.y());
    }
    if (row > 0) {
      line(window.low.x(), window.low.y() + half, window.high.x(), window.low.y() + half);
    }
    if (row + 1 < tiling_.rows) {
      line(window.low.x(), window.high.y() - half, window.high.x(), window.high.y() - half);
    }
    cairo_stroke(cairo);
    cairo_set_dash(cairo, nullptr, 0, 0.0);
    cairo_rectangle(cairo, window.low.x(), window.low.y(), window.high.x() - window.low.x(),
                    window.high.y() - window.low.y());
    cairo_stroke(cairo);
  }

  void draw_control_line(const PageSegment& line) {
    cairo_t* cairo = document_.cairo();
    cairo_set_source_rgb(cairo, 0.0, 0.0, 0.0);
    cairo_set_dash(cairo, nullptr, 0, 0.0);
    cairo_set_line_width(cairo, kThin_mm);
    cairo_move_to(cairo, line.from.x(), line.from.y());
    cairo_line_to(cairo, line.to.x(), line.to.y());
    const Vector2d along = (line.to - line.from).normalized();
    const Vector2d tick = 0.5 * kTick_mm * Vector2d(-along.y(), along.x());
    for (const Vector2d& end : {line.from, line.to}) {
      cairo_move_to(cairo, end.x() - tick.x(), end.y() - tick.y());
      cairo_line_to(cairo, end.x() + tick.x(), end.y() + tick.y());
    }
    cairo_stroke(cairo);
  }

  void draw_foot(const std::string& which, int row, int column, TemplatePage& page) {
    const PageBox& window = tiling_.window;
    const double left = window.low.x(), top = window.high.y();
    const double level = top + 3.5;
    page.level_line = {{left, level}, {left + kControlLine_mm, level}};
    draw_control_line(page.level_line);
    const double side = options_.margin_mm + 0.5 * kTick_mm + 0.5;
    const double middle = 0.5 * (window.low.y() + window.high.y());
    page.upright_line = {{side, middle - 0.5 * kControlLine_mm},
                         {side, middle + 0.5 * kControlLine_mm}};
    draw_control_line(page.upright_line);
    const double baseline = level + 0.5 * kTextHeight_mm;
    document_.text("100 mm", {left + kControlLine_mm + 2.0, baseline}, kTextHeight_mm);
    document_.text("100 mm", {side + 0.5 * kTextHeight_mm, page.upright_line.from.y() - 2.0},
                   kTextHeight_mm, -0.5 * std::numbers::pi);

    const double room = window.high.x() - left - kMapWidth_mm - 4.0;
    std::vector<std::string> lines = {which + " · " + drawing_.legend.front(),
                                      "Print at 100 %, not fitted to the page. Before you cut, "
                                      "measure both 100 mm lines of every "
                                      "sheet."};
    // Two lines, the first as long as it may be: in one the letters would be too small to read.
    std::string rest[2];
    for (std::size_t i = 1; i < drawing_.legend.size(); ++i) {
      const std::string longer = rest[0] + (rest[0].empty() ? "" : " ") + drawing_.legend[i];
      const bool fits = rest[1].empty() && text_width(longer, kTextHeight_mm) <= room;
      (fits ? rest[0] : rest[1]) =
          fits ? longer : rest[1] + (rest[1].empty() ? "" : " ") + drawing_.legend[i];
    }
    lines.insert(lines.end(), rest, rest + 2);
    double y = top + 3.5 + 0.5 * kTick_mm + kTextLine_mm;
    for (std::size_t i = 0; i < lines.size(); ++i) {
      if (lines[i].empty()) {
        continue;
      }
      // The instruction is never cut: it shrinks to its room.
      const double wide = text_width(lines[i], kTextHeight_mm);
      const double height =
          i == 0 ? kTextHeight_mm : std::max(kTextHeight_mm * std::min(1.0, room / wide), 1.2);
      document_.text(fitted(lines[i], height, room), {left, y}, height);
      y += kTextLine_mm;
    }
    draw_map(row, column);
  }

  /// All sheets in small, this one black, those without anything on them crossed out.
  void draw_map(int row, int column) {
    cairo_t* cairo = document_.cairo();
    const PageBox& window = tiling_.window;
    const Vector2d size = tiling_.window_size();
    const double scale = std::min(kMapWidth_mm / (tiling_.columns * size.x()),
                                  kMapHeight_mm / (tiling_.rows * size.y()));
    const Vector2d cell = std::min(scale, 0.08) * size;
    const Vector2d origin(window.high.x() - cell.x() * tiling_.columns, window.high.y() + 1.5);
    cairo_set_line_width(cairo, kHair_mm);
    cairo_set_dash(cairo, nullptr, 0, 0.0);
    for (int r = 0; r < tiling_.rows; ++r) {
      for (int c = 0; c < tiling_.columns; ++c) {
        const Vector2d at = origin + Vector2d(c * cell.x(), r * cell.y());
        const bool here = r == row && c == column;
        const double grey = here ? 0.0 : is_used(r, c) ? 1.0 : 0.85;
        cairo_set_source_rgb(cairo, grey, grey, grey);
        cairo_rectangle(cairo, at.x(), at.y(), cell.x(), cell.y());
        cairo_fill_preserve(cairo);
        cairo_set_source_rgb(cairo, 0.0, 0.0, 0.0);
        cairo_stroke(cairo);
        const std::string name = sheet_name(r, c);
        const double height =
            std::min(1.8, 0.7 * cell.x() * 1.8 / std::max(text_width(name, 1.8), 1e-6));
        if (height >= 0.9 && height < 0.7 * cell.y()) {
          document_.text(
              name,
              at + Vector2d(0.5 * (cell.x() - text_width(name, height)), 0.5 * (cell.y() + height)),
              height, 0.0, here ? 1.0 : 0.0);
        }
      }
    }
  }

  const LaidOutDrawing& drawing_;
  const Tiling& tiling_;
  const TemplatePdfOptions& options_;
  PdfDocument document_;
  std::vector<bool> used_;
  int sheets_ = 0;
  TemplatePdf out_;
};

}  // namespace

calib::Result<TemplatePdf, Problem> template_pdf(const TemplateDrawing& drawing,
                                                 const TemplatePdfOptions& options) {
  if (auto problem = drawing.first_problem()) {
    return calib::Unexpected(*problem);
  }
  if (!(options.margin_mm >= 0.0 && options.overlap_mm > 0.0) ||
      !best_tiling({{0.0, 0.0}, {1.0, 1.0}}, options)) {
    return calib::Unexpected(
        Problem{"paper " + options.paper.name +
                " is too small for its margin, the overlap and control lines of 100 mm: take "
                "larger paper."});
  }
  LayoutOptions layout;
  layout.names = options.names;
  LaidOutDrawing laid_out = lay_out(drawing, layout);
  // Paper that takes any drawing takes this one.
  Tiling tiling = best_tiling(laid_out.frame, options).value_or(Tiling{});
  // Text keeps off the seams, which are known only once it has its place; a few rounds at most.
  for (int round = 0; round < 3 && tiling.sheets() > 1 && tiling.sheets() <= kMostSheets; ++round) {
    layout.seams = seams_of(tiling, options.overlap_mm);
    laid_out = lay_out(drawing, layout);
    if (holds(tiling.all(), laid_out.frame)) {
      break;
    }
    tiling = best_tiling(laid_out.frame, options).value_or(tiling);
  }
  if (tiling.sheets() > kMostSheets) {
    const Vector2d size = laid_out.frame.high - laid_out.frame.low;
    char text[200];
    std::snprintf(text, sizeof text, "measures %.0f x %.0f mm and would take %d sheets of ",
                  size.x(), size.y(), tiling.sheets());
    return calib::Unexpected(Problem{"drawing \"" + drawing.title + "\" " + text +
                                     options.paper.name +
                                     ": choose a smaller scale, fewer shapes or larger paper."});
  }
  return Template(laid_out, tiling, options).run();
}

}  // namespace measure
