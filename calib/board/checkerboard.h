// The board that a camera is calibrated with.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

namespace calib {

/// A checkerboard, described by its inner corners: the points where four squares meet.
///
/// Corner (column, row) has the index row · inner_columns + column. Seen from the front with
/// columns running to the right and rows downwards, the square outside corner 0 (the one at the
/// board's own corner) is black.
struct BoardSpec {
  int inner_columns = 9;
  int inner_rows = 6;
  double square_mm = 25.0;  ///< side of a square, centre of an edge to centre of the next

  /// The first rule this board breaks, or nothing if it can be used: 3 to 40 inner corners a side
  /// and a square of more than 0 and at most 10,000 mm.
  [[nodiscard]] std::optional<std::string> first_problem() const;

  [[nodiscard]] int corner_count() const { return inner_columns * inner_rows; }

  /// Whether the colours tell the board from itself turned by half a turn, so that a corner's index
  /// means the same physical corner in every photo. That takes one odd and one even number of inner
  /// corners.
  [[nodiscard]] bool tells_up_from_down() const { return (inner_columns + inner_rows) % 2 != 0; }

  friend bool operator==(const BoardSpec&, const BoardSpec&) = default;
};

/// Where the inner corners should be, in mm, row by row, z = 0; corner 0 is the origin, x runs
/// along the columns and y along the rows.
[[nodiscard]] std::vector<Eigen::Vector3d> corner_positions_mm(const BoardSpec& board);

}  // namespace calib
