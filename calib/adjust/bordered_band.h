// The order of the kept blocks, and the inverse of the reduced matrix in that order. For the .cpp
// files of this room only.
//
// Around a ring whose points are seen by neighbouring photos only, most pairs of photos share no
// point: photos ordered by nearness make a band, and what couples to all of them (cameras, bars'
// ends) a border below it. Where everything is seen from everywhere the matrix is full and the
// dense routines are faster.
#pragma once

#include <span>
#include <string>
#include <vector>

#include <Eigen/Core>

namespace calib::adjust::internal {

/// Kept blocks as nodes of a graph: who shares an observation or an eliminated block with whom.
class Couplings {
 public:
  explicit Couplings(int nodes)
      : nodes_(nodes), coupled_(static_cast<std::size_t>(nodes) * nodes, 0) {}
  /// All of these with each other.
  void add(std::span<const int> nodes) {
    for (const int a : nodes) {
      for (const int b : nodes) coupled_[static_cast<std::size_t>(a) * nodes_ + b] = 1;
    }
  }
  [[nodiscard]] std::vector<int> neighbours(int node) const;
  [[nodiscard]] int nodes() const { return nodes_; }

 private:
  int nodes_;
  std::vector<char> coupled_;  ///< a row a node
};

/// Rows of a matrix whose Cholesky factor is a band with a border. With band_rows = 0 it is dense.
struct BorderedBand {
  std::vector<int> order;  ///< nodes in the order of their rows
  int rows = 0;
  int band_rows = 0;  ///< rows before the border
  /// Of each row of the band: the end of the rows inside the band that its column of the factor
  /// reaches. Never falls.
  std::vector<int> reach;
};

/// Orders the nodes: those that may lie in the band by nearness (reverse Cuthill–McKee, George &
/// Liu 1981), the others last. The order of the nodes stays as it is and the matrix counts as dense
/// where a band would not at least halve the work.
[[nodiscard]] BorderedBand find_band(const Couplings& couplings, std::span<const int> sizes,
                                     const std::vector<bool>& in_band);

/// Replaces the lower triangle of a positive definite matrix of unit diagonal by that of its
/// inverse. With a band all elements of the inverse are made, in n²·(band + border) steps where the
/// dense inverse takes n³ (Takahashi, Fagan & Chin 1973, for a whole column of blocks at a time).
///
/// @return the row of a pivot that is not above `smallest_pivot`, or −1. The matrix is spoilt then.
[[nodiscard]] int invert(Eigen::Ref<Eigen::MatrixXd> lower, const BorderedBand& band,
                         double smallest_pivot);

}  // namespace calib::adjust::internal
