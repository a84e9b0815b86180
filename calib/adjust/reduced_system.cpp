#include "calib/adjust/reduced_system.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Cholesky>

#include "calib/adjust/small_products.h"

namespace calib::adjust::internal {
namespace {

/// A pivot of the correlation-like scaled normal matrix below this is zero in double precision: the
/// unknown is a combination of the others to one part in 10⁶ of its own standard deviation.
constexpr double kSmallestPivot = 1e-12;

/// C⁻¹ of a small normal block, scaled to a unit diagonal on the way. False where it is singular.
template <int fixed>
bool invert_small(const double* normal, int any_size, double* inverse) {
  constexpr int kSize = fixed == kAnySize ? Eigen::Dynamic : fixed;
  using Matrix = Eigen::Matrix<double, kSize, kSize>;
  using Vector = Eigen::Matrix<double, kSize, 1>;
  const int n = fixed == kAnySize ? any_size : fixed;
  const Eigen::Map<const Matrix> c(normal, n, n);
  const Vector scale = c.diagonal().cwiseSqrt();
  if (!(scale.minCoeff() > 0)) return false;
  const Vector inverse_scale = scale.cwiseInverse();
  const Eigen::LLT<Matrix> factor(inverse_scale.asDiagonal() * c * inverse_scale.asDiagonal());
  if (factor.info() != Eigen::Success ||
      factor.matrixLLT().diagonal().cwiseAbs2().minCoeff() < kSmallestPivot)
    return false;
  Eigen::Map<Matrix>(inverse, n, n) =
      inverse_scale.asDiagonal() * factor.solve(Matrix(inverse_scale.asDiagonal()));
  return true;
}

/// The reduced normal matrix on its way: the lower triangle, and the diagonal as it was before
/// anything was eliminated, which is the scale of each unknown.
class Assembly {
 public:
  explicit Assembly(ReducedSystem& system)
      : s_(system),
        n_(system.kept.rows()),
        values_(static_cast<std::size_t>(n_) * n_),
        diagonal_(Eigen::VectorXd::Zero(n_)),
        row_in_coupling_(static_cast<std::size_t>(system.kept.blocks())) {
    std::fill_n(values_.data(), values_.size(), 0.0);
  }

  [[nodiscard]] Eigen::Map<Eigen::MatrixXd> lower() { return {values_.data(), n_, n_}; }
  [[nodiscard]] const Eigen::VectorXd& diagonal() const { return diagonal_; }

  /// JᵀJ of one observation on the kept blocks.
  void add_kept_pairs(int o) {
    const auto blocks = s_.jacobians.blocks(o);
    const int rows = s_.jacobians.rows(o);
    for (std::size_t a = 0; a < blocks.size(); ++a) {
      const int node_a = s_.node[blocks[a]];
      if (node_a < 0) continue;
      const double* jacobian = s_.jacobians.jacobian(o, a);
      const int row = s_.kept.row(node_a), size = s_.kept.size(node_a);
      for (int r = 0; r < rows; ++r) {
        for (int i = 0; i < size; ++i)
          diagonal_[row + i] += jacobian[r * size + i] * jacobian[r * size + i];
      }
      for (std::size_t b = 0; b < blocks.size(); ++b) {
        const int node_b = s_.node[blocks[b]];
        if (node_b < 0 || node_b > node_a) continue;
        add_normal_block(at(node_a, node_b), n_, jacobian, size, s_.jacobians.jacobian(o, b),
                         s_.kept.size(node_b), rows);
      }
    }
  }

  /// Takes an eliminated block out. False where its observations do not determine it.
  [[nodiscard]] bool eliminate(ReducedSystem::Eliminated& e) {
    normal_.assign(static_cast<std::size_t>(e.d * e.d), 0.0);
    coupling_.assign(static_cast<std::size_t>(e.width * e.d), 0.0);
    for (const ReducedSystem::Span& span : e.spans) row_in_coupling_[span.node] = span.at;
    for (const int o : e.observations) add_observation(e, o);
    mask_held(e);
    double* inverse = s_.stored.data() + e.stored_at;
    double* w = inverse + 2 * e.d * e.d;
    bool regular = false;
    with_size(e.d,
              [&](auto size) { regular = invert_small<size()>(normal_.data(), e.d, inverse); });
    if (!regular) return false;
    for (const int k : s_.held[e.block]) inverse[k * e.d + k] = 0.0;
    with_size(e.d, [&](auto size) { subtract<size()>(e, inverse, w); });
    return true;
  }

 private:
  [[nodiscard]] double* at(int a, int b) {
    return values_.data() + static_cast<std::ptrdiff_t>(s_.kept.row(b)) * n_ + s_.kept.row(a);
  }

  void add_observation(const ReducedSystem::Eliminated& e, int o) {
    if (!s_.jacobians.known(o)) return;
    add_kept_pairs(o);
    const auto blocks = s_.jacobians.blocks(o);
    const int rows = s_.jacobians.rows(o);
    std::size_t own = 0;
    while (blocks[own] != e.block) ++own;
    const double* own_jacobian = s_.jacobians.jacobian(o, own);
    add_normal_block(normal_.data(), e.d, own_jacobian, e.d, own_jacobian, e.d, rows);
    for (std::size_t k = 0; k < blocks.size(); ++k) {
      const int node = s_.node[blocks[k]];
      if (node < 0) continue;
      add_normal_block(coupling_.data() + row_in_coupling_[node], e.width,
                       s_.jacobians.jacobian(o, k), s_.kept.size(node), own_jacobian, e.d, rows);
    }
  }

  void mask_held(const ReducedSystem::Eliminated& e) {
    for (const int k : s_.held[e.block]) {
      for (int i = 0; i < e.d; ++i) normal_[i * e.d + k] = normal_[k * e.d + i] = 0.0;
      normal_[k * e.d + k] = 1.0;
      std::fill_n(coupling_.begin() + k * e.width, e.width, 0.0);
    }
    for (const ReducedSystem::Span& span : e.spans) {
      for (const int k : s_.held[s_.kept_block[span.node]]) {
        for (int c = 0; c < e.d; ++c) coupling_[c * e.width + span.at + k] = 0.0;
      }
    }
  }

  /// W = E C⁻¹, and the matrix less W Eᵀ.
  template <int fixed_d>
  void subtract(const ReducedSystem::Eliminated& e, const double* inverse, double* w) {
    const int d = fixed_d == kAnySize ? e.d : fixed_d;
    for (int c = 0; c < d; ++c) {
      double* column = w + c * e.width;
      std::fill_n(column, e.width, 0.0);
      for (int k = 0; k < d; ++k) {
        const double factor = inverse[c * d + k];
        const double* from = coupling_.data() + k * e.width;
        for (int r = 0; r < e.width; ++r) column[r] += from[r] * factor;
      }
    }
    for (const ReducedSystem::Span& a : e.spans) {
      const int size = s_.kept.size(a.node);
      with_size(size, [&](auto rows) {
        for (const ReducedSystem::Span& b : e.spans) {
          if (b.node > a.node) continue;
          subtract_outer<fixed_d, rows()>(at(a.node, b.node), n_, w + a.at, size, e.width,
                                          coupling_.data() + b.at, s_.kept.size(b.node), e.width,
                                          d);
        }
      });
    }
  }

  ReducedSystem& s_;
  int n_;
  LargeArray values_;
  Eigen::VectorXd diagonal_;
  std::vector<double> normal_, coupling_;  ///< C and E of the block at hand
  std::vector<int> row_in_coupling_;       ///< of a kept block, as in its spans
};

}  // namespace

/// Who takes part and who is held. Nodes are numbered as in the network for now.
void ReducedSystem::number_blocks(const Datum& datum) {
  const std::size_t count = network->blocks().size();
  in_use.assign(count, false);
  for (int o = 0; o < jacobians.observations(); ++o) {
    if (!jacobians.active(o)) continue;
    for (const int block : jacobians.blocks(o)) in_use[block] = true;
  }
  held.resize(count);
  for (std::size_t b = 0; b < count; ++b) {
    for (int k = 0; k < size(static_cast<int>(b)); ++k) {
      if (network->blocks()[b].held[k]) held[b].push_back(k);
    }
  }
  for (const auto& [block, coordinate] : datum.held) {
    auto& list = held[block.index];
    if (std::find(list.begin(), list.end(), coordinate) == list.end()) list.push_back(coordinate);
  }
  node.assign(count, -1);
  eliminated_number.assign(count, -1);
  first_value.assign(1, 0);
  for (std::size_t b = 0; b < count; ++b) {
    const int values = size(static_cast<int>(b));
    const int free = values - static_cast<int>(held[b].size());
    first_value.push_back(first_value.back() + values);
    if (!in_use[b] || free == 0) continue;
    unknowns += free;
    if (network->blocks()[b].role == BlockRole::kEliminated) {
      eliminated_number[b] = static_cast<int>(eliminated.size());
      Eliminated e;
      e.block = static_cast<int>(b);
      e.d = values;
      eliminated.push_back(e);
    } else {
      node[b] = static_cast<int>(kept_block.size());
      kept_block.push_back(static_cast<int>(b));
    }
  }
}

/// Observations to the eliminated block they see; the others are returned.
Result<std::vector<int>, CovarianceError> ReducedSystem::sort_observations() {
  std::vector<int> others;
  for (int o = 0; o < jacobians.observations(); ++o) {
    if (!jacobians.active(o)) continue;
    int number = -1;
    for (const int block : jacobians.blocks(o)) {
      if (eliminated_number[block] < 0) continue;
      if (number >= 0) {
        return Unexpected(CovarianceError{CovarianceError::Kind::kEliminatedBlocksShareObservation,
                                          network->blocks()[block].name});
      }
      number = eliminated_number[block];
    }
    (number >= 0 ? eliminated[number].observations : others).push_back(o);
  }
  return others;
}

/// Kept blocks that each eliminated one couples to, as nodes in the order of the network.
void ReducedSystem::find_spans() {
  std::vector<bool> seen(network->blocks().size(), false);
  for (Eliminated& e : eliminated) {
    for (const int o : e.observations) {
      for (const int block : jacobians.blocks(o)) {
        if (node[block] < 0 || seen[block]) continue;
        seen[block] = true;
        e.spans.push_back({node[block], 0});
      }
    }
    for (const Span& span : e.spans) seen[kept_block[span.node]] = false;
  }
}

/// Puts the kept blocks in the order that suits the inverse.
BorderedBand ReducedSystem::order_nodes(const std::vector<int>& others) {
  std::vector<int> sizes, clique;
  std::vector<bool> in_band;
  for (const int block : kept_block) {
    sizes.push_back(size(block));
    // Photos lie in the band; cameras, ends of bars and the like may couple to any of them.
    in_band.push_back(network->blocks()[block].datum_role == DatumRole::kPose);
  }
  Couplings couplings(static_cast<int>(sizes.size()));
  for (const Eliminated& e : eliminated) {
    clique.clear();
    for (const Span& span : e.spans) clique.push_back(span.node);
    couplings.add(clique);
  }
  for (const int o : others) {
    clique.clear();
    for (const int block : jacobians.blocks(o)) {
      if (node[block] >= 0) clique.push_back(node[block]);
    }
    couplings.add(clique);
  }
  BorderedBand band = find_band(couplings, sizes, in_band);

  std::vector<int> place(sizes.size()), ordered_sizes, ordered_blocks;
  for (std::size_t i = 0; i < band.order.size(); ++i) {
    place[band.order[i]] = static_cast<int>(i);
    ordered_sizes.push_back(sizes[band.order[i]]);
    ordered_blocks.push_back(kept_block[band.order[i]]);
  }
  kept_block = ordered_blocks;
  kept = SymmetricTiles(ordered_sizes);
  for (int& number : node) number = number < 0 ? -1 : place[number];
  std::size_t total = 0;
  for (Eliminated& e : eliminated) {
    for (Span& span : e.spans) span.node = place[span.node];
    std::sort(e.spans.begin(), e.spans.end(),
              [](const Span& a, const Span& b) { return a.node < b.node; });
    for (Span& span : e.spans) {
      span.at = e.width;
      e.width += kept.size(span.node);
    }
    e.stored_at = total;
    total += static_cast<std::size_t>(2 * e.d * (e.d + e.width));
  }
  stored = LargeArray(total);
  return band;
}

/// Z and the own covariance of every eliminated block.
void ReducedSystem::cover_eliminated() {
  std::vector<double> turned;
  for (const Eliminated& e : eliminated) {
    const double* w_values = w(e);
    double* z_values = stored.data() + (z(e) - stored.data());
    std::fill_n(z_values, e.width * e.d, 0.0);
    for (const Span& a : e.spans) {
      const int rows = kept.size(a.node);
      for (const Span& b : e.spans) {
        if (b.node > a.node) break;
        const int columns = kept.size(b.node);
        const double* tile = kept.tile(a.node, b.node);
        add_transposed_times(z_values + b.at, e.width, tile, rows, columns, w_values + a.at,
                             e.width, e.d);
        if (a.node == b.node) continue;
        turned.resize(static_cast<std::size_t>(rows * columns));
        transpose(tile, rows, columns, turned.data());
        add_transposed_times(z_values + a.at, e.width, turned.data(), columns, rows,
                             w_values + b.at, e.width, e.d);
      }
    }
    double* own_values = stored.data() + e.stored_at + e.d * e.d;
    for (int c = 0; c < e.d; ++c) {
      for (int r = 0; r <= c; ++r) {
        double sum = inverse(e)[c * e.d + r];
        for (int i = 0; i < e.width; ++i)
          sum += w_values[r * e.width + i] * z_values[c * e.width + i];
        own_values[c * e.d + r] = own_values[r * e.d + c] = sum;
      }
    }
  }
}

std::optional<CovarianceError> ReducedSystem::compute(const Network& of, const Datum& datum) {
  network = &of;
  jacobians = StoredJacobians(of);
  number_blocks(datum);
  const auto others = sort_observations();
  if (!others) return others.error();
  find_spans();
  const BorderedBand band = order_nodes(*others);
  jacobians.evaluate(of, in_use);

  const auto singular = [&](int block) {
    return CovarianceError{CovarianceError::Kind::kSingular, of.blocks()[block].name};
  };
  const auto block_of_row = [&](int row) {
    int at = kept.blocks() - 1;
    while (kept.row(at) > row) --at;
    return kept_block[at];
  };
  Assembly assembly(*this);
  for (const int o : *others) {
    if (jacobians.known(o)) assembly.add_kept_pairs(o);
  }
  for (Eliminated& e : eliminated) {
    if (!assembly.eliminate(e)) return singular(e.block);
  }

  // To a unit diagonal, with rows of their own for the held.
  const int rows = kept.rows();
  auto lower = assembly.lower();
  Eigen::VectorXd scale(rows);
  for (int b = 0; b < kept.blocks(); ++b) {
    std::vector<bool> is_held(static_cast<std::size_t>(kept.size(b)), false);
    for (const int k : held[kept_block[b]]) is_held[k] = true;
    for (int k = 0; k < kept.size(b); ++k) {
      const double before = assembly.diagonal()[kept.row(b) + k];
      if (!is_held[k] && !(before > 0)) return singular(kept_block[b]);
      scale[kept.row(b) + k] = is_held[k] ? 0.0 : 1 / std::sqrt(before);
    }
  }
  for (int c = 0; c < rows; ++c) {
    if (scale[c] == 0.0) {
      lower.row(c).head(c).setZero();
      lower.col(c).tail(rows - c).setZero();
      lower(c, c) = 1.0;
    } else {
      const int end = band.band_rows > 0 && c < band.band_rows ? band.reach[c] : rows;
      lower.col(c).segment(c, end - c).array() *= scale.segment(c, end - c).array() * scale[c];
      if (end < rows)
        lower.col(c).tail(rows - band.band_rows).array() *=
            scale.tail(rows - band.band_rows).array() * scale[c];
    }
  }
  const int weak = invert(lower, band, kSmallestPivot);
  if (weak >= 0) return singular(block_of_row(weak));
  kept.set_scaled(lower, scale);
  cover_eliminated();
  return std::nullopt;
}

}  // namespace calib::adjust::internal
