// Places where two edges cross, and the grid that they form: a board finder that looks at local
// contrast only.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include <Eigen/Core>
#include <opencv2/core/mat.hpp>

#include "calib/board/checkerboard.h"

namespace calib {

/// A place where two edges cross, to about a pixel.
struct Crossing {
  Eigen::Vector2d at_px;
  std::array<double, 2> angle_rad{};  ///< of the edges, 0 to π
  double response = 0.0;              ///< grey², how much it looks like a crossing
};

/// Crossings that edges join to one another, with their places in the grid; (0, 0) is the least of
/// each.
struct CrossingGrid {
  struct Node {
    int column = 0, row = 0;
    Eigen::Vector2d at_px;
  };
  std::vector<Node> nodes;
  int columns = 0, rows = 0;

  /// All corners of the board, row by row, where the grid has its size (either way round) and lacks
  /// at most a tenth of them; those are put in from their neighbours.
  [[nodiscard]] std::optional<std::vector<Eigen::Vector2d>> corners_of(
      const BoardSpec& board) const;

  /// Whether the grid, too small for the board, would go on outside the picture.
  [[nodiscard]] bool is_cut_off(const BoardSpec& board, const cv::Size& size) const;

  /// Whether hardly a place in it is empty, so that its size can be told to a person.
  [[nodiscard]] bool is_full() const;
};

/// How finely to look: the radius of the ring on which a crossing is recognised must fit into a
/// square.
struct CrossingScale {
  double ring_px = 4.0;
  double smoothing_px = 1.0;
  double step_px = 2.5;  ///< how far from an edge its two sides are compared

  static CrossingScale usual() { return {}; }              ///< squares of 9 px and more
  static CrossingScale fine() { return {2.2, 0.6, 1.3}; }  ///< squares of 5 px and more, sharp
};

/// Candidates in a CV_8UC1 copy, the strongest 1500; about 5 to 10 ms at 800 px.
[[nodiscard]] std::vector<Crossing> find_crossings(const cv::Mat& image,
                                                   const CrossingScale& scale);

/// The largest grid among the crossings: two are neighbours if an edge runs from one to the other
/// without a break, which is rare where there is no board.
[[nodiscard]] CrossingGrid largest_grid(const cv::Mat& image,
                                        const std::vector<Crossing>& crossings,
                                        const CrossingScale& scale);

}  // namespace calib
