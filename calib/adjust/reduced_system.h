// Normal equations of a network with its eliminated blocks taken out, inverted. For the .cpp files
// of this room only.
#pragma once

#include <optional>
#include <vector>

#include "calib/adjust/bordered_band.h"
#include "calib/adjust/covariance.h"
#include "calib/adjust/linearised.h"
#include "calib/adjust/symmetric_tiles.h"

namespace calib::adjust::internal {

/// What the inverse normal matrix is made of.
///
/// A block takes part with all its coordinates: held ones get a row of their own that couples to
/// nothing, so that poses stay six numbers and points three, and zeros in the end. Blocks that are
/// held altogether take no part.
struct ReducedSystem {
  /// A kept block that an eliminated one shares observations with.
  struct Span {
    int node;  ///< of the kept block
    int at;    ///< its first row in W and Z
  };
  /// An eliminated block of d coordinates. In one piece of `stored`, column-major: C⁻¹ (d × d), its
  /// own covariance (d × d), W = E C⁻¹ and Z = Σ_cc W (width × d) with rows as in its spans.
  struct Eliminated {
    int block = -1;
    int d = 0;
    int width = 0;
    std::vector<int> observations;  ///< active ones
    std::vector<Span> spans;
    std::size_t stored_at = 0;
  };

  const Network* network = nullptr;
  std::vector<bool> in_use;
  std::vector<std::vector<int>> held;  ///< coordinates of each block, by the caller or the datum
  std::vector<int> node;               ///< place among the kept blocks that take part, or −1
  std::vector<int> kept_block;         ///< of each node
  std::vector<int> eliminated_number;  ///< among the eliminated blocks that take part, or −1
  std::vector<int> first_value;        ///< of each block in one long vector of all values
  std::vector<Eliminated> eliminated;
  LargeArray stored;
  StoredJacobians jacobians;
  SymmetricTiles kept;  ///< Σ_cc
  int unknowns = 0;

  /// Fills all of the above at the network's present values.
  [[nodiscard]] std::optional<CovarianceError> compute(const Network& of, const Datum& datum);

  [[nodiscard]] int size(int block) const {
    return static_cast<int>(network->blocks()[block].values.size());
  }
  [[nodiscard]] const double* inverse(const Eliminated& e) const {
    return stored.data() + e.stored_at;
  }
  [[nodiscard]] const double* own(const Eliminated& e) const { return inverse(e) + e.d * e.d; }
  [[nodiscard]] const double* w(const Eliminated& e) const { return own(e) + e.d * e.d; }
  [[nodiscard]] const double* z(const Eliminated& e) const { return w(e) + e.d * e.width; }

 private:
  void number_blocks(const Datum& datum);
  [[nodiscard]] Result<std::vector<int>, CovarianceError> sort_observations();
  void find_spans();
  [[nodiscard]] BorderedBand order_nodes(const std::vector<int>& others);
  void cover_eliminated();
};

}  // namespace calib::adjust::internal
