// A checkerboard to print, at exact size.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include <Eigen/Core>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/board/checkerboard.h"

namespace calib {

/// A sheet of paper, upright: width ≤ height. ISO 216 and ANSI/ASME Y14.1.
struct Paper {
  std::string name;
  double width_mm = 210.0;
  double height_mm = 297.0;
};

/// "A4", "A3", "A2", "A1", "Letter", "Tabloid" (capitals or not), or width times height such as
/// "300x420mm".
///
/// Errors: a Problem (kInput) that lists what can be given.
[[nodiscard]] Result<Paper, Problem> paper_named(std::string_view text);

/// Where things lie on the sheet as printed: mm from its top left corner, x right, y down.
struct BoardSheet {
  double width_mm = 0.0, height_mm = 0.0;  ///< the way round that was chosen
  Eigen::Vector2d first_corner_mm =
      Eigen::Vector2d::Zero();  ///< inner corner 0; the others follow as corner_positions_mm says
  /// Middles of the end ticks of the control line, kControlLine_mm apart.
  Eigen::Vector2d control_line_from_mm = Eigen::Vector2d::Zero(),
                  control_line_to_mm = Eigen::Vector2d::Zero();
};

inline constexpr double kControlLine_mm = 100.0;

/// Places a board on a paper, the way round that takes it: at least a quarter of a square (and 5
/// mm) of white on every side, and a strip below for the control line and what to do with it.
///
/// Errors: a Problem (kInput) if it does not fit, naming the largest square that this paper takes
/// and the smallest paper that takes this square.
[[nodiscard]] Result<BoardSheet, Problem> lay_out_board(const BoardSpec& board, const Paper& paper);

/// Writes the board as a PDF of one page, whole or not at all.
///
/// Errors: as lay_out_board; a Problem (kInput) if the file cannot be written.
[[nodiscard]] Result<BoardSheet, Problem> write_board_pdf(const std::filesystem::path& file,
                                                          const BoardSpec& board,
                                                          const Paper& paper);

}  // namespace calib
