#include "calib/board/checkerboard.h"

#include <cmath>

namespace calib {
namespace {

constexpr int kFewestCorners = 3;
constexpr int kMostCorners = 40;
constexpr double kLargestSquare_mm = 10000.0;

}  // namespace

std::optional<std::string> BoardSpec::first_problem() const {
  for (const int count : {inner_columns, inner_rows}) {
    if (count < kFewestCorners || count > kMostCorners) {
      return "a board of " + std::to_string(inner_columns) + "x" + std::to_string(inner_rows) +
             " inner corners cannot be used: give from 3 to 40 a side, counted where four squares "
             "meet";
    }
  }
  if (!std::isfinite(square_mm) || square_mm <= 0.0 || square_mm > kLargestSquare_mm) {
    return "the square's side must be more than 0 and at most 10000 mm: measure it on the printed "
           "board";
  }
  return std::nullopt;
}

std::vector<Eigen::Vector3d> corner_positions_mm(const BoardSpec& board) {
  std::vector<Eigen::Vector3d> positions_mm;
  positions_mm.reserve(static_cast<std::size_t>(board.corner_count()));
  for (int row = 0; row < board.inner_rows; ++row) {
    for (int column = 0; column < board.inner_columns; ++column) {
      positions_mm.emplace_back(column * board.square_mm, row * board.square_mm, 0.0);
    }
  }
  return positions_mm;
}

}  // namespace calib
