#include "calib/adjust/symmetric_tiles.h"

namespace calib::adjust::internal {

SymmetricTiles::SymmetricTiles(std::span<const int> sizes) : size_(sizes.begin(), sizes.end()) {
  row_.assign(1, 0);
  for (const int size : size_) row_.push_back(row_.back() + size);
  std::ptrdiff_t count = 0;
  for (std::size_t j = 0; j < size_.size(); ++j) {
    column_.push_back(count);
    count += static_cast<std::ptrdiff_t>(row_.back() - row_[j]) * size_[j];
  }
  values_ = LargeArray(static_cast<std::size_t>(count));
}

void SymmetricTiles::set_scaled(const Eigen::Ref<const Eigen::MatrixXd>& lower,
                                const Eigen::VectorXd& scale) {
  for (int j = 0; j < blocks(); ++j) {
    const int first = row_[j], width = size_[j];
    double* to = values_.data() + column_[j];
    for (int c = 0; c < width; ++c) {
      const double* from = lower.data() + (first + c) * lower.outerStride();
      for (int r = first + c; r < rows(); ++r)
        to[static_cast<std::ptrdiff_t>(r - first) * width + c] =
            from[r] * scale[r] * scale[first + c];
    }
    for (int r = 0; r < width; ++r) {
      for (int c = r + 1; c < width; ++c) to[r * width + c] = to[c * width + r];
    }
  }
}

Eigen::MatrixXd SymmetricTiles::times(const Eigen::MatrixXd& x) const {
  Eigen::MatrixXd y = Eigen::MatrixXd::Zero(rows(), x.cols());
  using Rows = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
  for (int j = 0; j < blocks(); ++j) {
    const int first = row_[j], width = size_[j];
    const int below = rows() - first - width;
    const double* column = values_.data() + column_[j];
    const Eigen::Map<const Rows> on(column, width, width);
    const Eigen::Map<const Rows> under(column + width * width, below, width);
    y.middleRows(first, width).noalias() += on * x.middleRows(first, width);
    y.middleRows(first, width).noalias() += under.transpose() * x.bottomRows(below);
    y.bottomRows(below).noalias() += under * x.middleRows(first, width);
  }
  return y;
}

}  // namespace calib::adjust::internal
