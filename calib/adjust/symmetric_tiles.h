// A symmetric matrix in tiles, made for reading a few dozen of them at random. For the .cpp files
// of this room only.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include <Eigen/Core>

#include "calib/adjust/large_array.h"

namespace calib::adjust::internal {

/// The lower half of a symmetric matrix whose rows and columns are grouped in blocks. A tile lies
/// in one piece, row after row: tile (i, j), i ≥ j, has size(i) rows of size(j) numbers.
class SymmetricTiles {
 public:
  SymmetricTiles() = default;
  /// Blocks of these sizes, without values yet.
  explicit SymmetricTiles(std::span<const int> sizes);

  /// Diagonal scaling D M D of the lower triangle of M.
  void set_scaled(const Eigen::Ref<const Eigen::MatrixXd>& lower, const Eigen::VectorXd& scale);

  [[nodiscard]] int blocks() const { return static_cast<int>(size_.size()); }
  [[nodiscard]] int rows() const { return row_.empty() ? 0 : row_.back(); }
  [[nodiscard]] int row(int block) const { return row_[block]; }
  [[nodiscard]] int size(int block) const { return size_[block]; }
  [[nodiscard]] const double* tile(int i, int j) const {
    return values_.data() + column_[j] + static_cast<std::ptrdiff_t>(row_[i] - row_[j]) * size_[j];
  }
  /// Asks the memory for a tile that is read soon.
  void prefetch(int i, int j) const {
    const double* first = tile(i, j);
    const double* last = first + static_cast<std::ptrdiff_t>(size_[i]) * size_[j] - 1;
    for (const double* line = first; line < last; line += 8) __builtin_prefetch(line);
    __builtin_prefetch(last);
  }

  /// M x.
  [[nodiscard]] Eigen::MatrixXd times(const Eigen::MatrixXd& x) const;

 private:
  std::vector<int> size_;
  std::vector<int> row_;                ///< first row of each block; then their number
  std::vector<std::ptrdiff_t> column_;  ///< where a block's column of tiles starts
  LargeArray values_;
};

}  // namespace calib::adjust::internal
