// A template on paper, exactly 1:1, on as many sheets as it takes.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/board/board_pdf.h"
#include "measure/sheet/drawing_layout.h"
#include "measure/sheet/outline.h"

namespace measure {

struct TemplatePdfOptions {
  calib::Paper paper{"A4", 210.0, 297.0};
  double margin_mm = 8.0;    ///< printers leave it white; nothing is drawn there
  double overlap_mm = 10.0;  ///< of neighbouring sheets
  bool names = true;         ///< of points, edges and circles
  std::string date{};        ///< "2026-11-25T12:00:00Z"; empty: the file tells none
  std::function<void(double, const std::string&)> progress{};  ///< 0 to 1, and what is being done
  std::function<bool()> cancelled{};
};

/// One sheet: millimetres from the top left corner of the paper, x right, y down.
struct TemplatePage {
  std::string name;       ///< "A1": row and column; "overview"
  bool true_size = true;  ///< false: the overview, which shows how the sheets lie
  PageBox window;         ///< what of the paper shows the drawing
  /// Where the drawing's own origin lies; drawing x right, y UP.
  Eigen::Vector2d origin = Eigen::Vector2d::Zero();
  PageSegment level_line, upright_line;  ///< the two control lines, kControlLine_mm long
};

struct TemplatePdf {
  std::string bytes;
  double page_width_mm = 0.0, page_height_mm = 0.0;
  std::vector<TemplatePage> pages;
  /// Crosses in the overlaps, in the drawing's millimetres; each is on two sheets at least.
  std::vector<Eigen::Vector2d> registration_crosses_mm;
};

/// The drawing as PDF, 1:1. More than one sheet: an overview first, then the sheets by rows, those
/// left out on which nothing is drawn. Every sheet has its name, a map of all sheets, a control
/// line of 100 mm in both directions and the sentence to measure them; crosses in the overlaps lie
/// on each other when the sheets are joined. The same input gives the same bytes.
///
/// Errors: what TemplateDrawing::first_problem says; a Problem (kInput) if it takes more than 400
/// sheets,
///         the paper is too small for margin, control lines and overlap, or it was cancelled.
[[nodiscard]] calib::Result<TemplatePdf, calib::Problem> template_pdf(
    const TemplateDrawing& drawing, const TemplatePdfOptions& options = {});

}  // namespace measure
