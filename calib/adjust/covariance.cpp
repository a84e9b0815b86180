#include "calib/adjust/covariance.h"

#include <array>
#include <limits>
#include <mutex>
#include <optional>

#include <Eigen/LU>

#include "calib/adjust/reduced_system.h"
#include "calib/adjust/small_products.h"

namespace calib::adjust {
namespace {

/// A block of a covariance where it lies: element (r, c) of the block, or of its transpose, stands
/// at data[c · stride + r].
struct View {
  const double* data = nullptr;
  std::ptrdiff_t stride = 0;
  double sign = 1.0;
  bool transposed = false;

  [[nodiscard]] double operator()(Eigen::Index r, Eigen::Index c) const {
    return sign * (transposed ? data[r * stride + c] : data[c * stride + r]);
  }
};

}  // namespace

struct Covariance::State : internal::ReducedSystem {
  Datum datum;

  // Inner constraints, made when first asked for: G and ΣDG, rows as in first_value.
  mutable std::once_flag inner_once;
  mutable Eigen::MatrixXd motion, sigma_motion;
  mutable Eigen::MatrixXd gdg_inverse, gdsdg;

  [[nodiscard]] bool takes_part(int block) const {
    return node[block] >= 0 || eliminated_number[block] >= 0;
  }
  [[nodiscard]] std::optional<View> view(int a, int b) const;
  [[nodiscard]] Eigen::MatrixXd kept_with_eliminated(int block, const Eliminated& e) const;
  [[nodiscard]] Eigen::MatrixXd between_eliminated(const Eliminated& a, const Eliminated& b) const;
  template <typename Use>
  void with_between(int a, int b, const Use& use) const;
  /// Σ_ab into `out`: zero where one of them takes no part, NaN where nothing is known of it.
  void copy_between(int a, int b, Eigen::Ref<Eigen::MatrixXd> out) const;
  void prepare_inner() const;
  [[nodiscard]] Eigen::MatrixXd times(const Eigen::MatrixXd& right) const;
};

/// Σ_ab where it is stored, for blocks that take part: two kept blocks, an eliminated one with
/// itself or with a kept one it shares observations with.
std::optional<View> Covariance::State::view(int a, int b) const {
  if (node[a] >= 0 && node[b] >= 0) {
    // A tile's rows, one after another, are the columns of its transpose.
    if (node[a] >= node[b]) return View{kept.tile(node[a], node[b]), kept.size(node[b]), 1.0, true};
    return View{kept.tile(node[b], node[a]), kept.size(node[a]), 1.0, false};
  }
  if (a == b) {
    const Eliminated& e = eliminated[eliminated_number[a]];
    return View{own(e), e.d, 1.0, false};
  }
  if (node[a] < 0 && node[b] < 0) return std::nullopt;
  const Eliminated& e = eliminated[eliminated_number[node[a] < 0 ? a : b]];
  const int kept_node = node[node[a] < 0 ? b : a];
  for (const Span& span : e.spans) {
    if (span.node == kept_node) return View{z(e) + span.at, e.width, -1.0, node[a] < 0};
  }
  return std::nullopt;
}

/// −Σ_cc W for a kept block that shares no observation with the eliminated one.
Eigen::MatrixXd Covariance::State::kept_with_eliminated(int block, const Eliminated& e) const {
  Eigen::MatrixXd result = Eigen::MatrixXd::Zero(size(block), e.d);
  const Eigen::Map<const Eigen::MatrixXd> all_w(w(e), e.width, e.d);
  using Rows = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
  const int a = node[block];
  for (const Span& span : e.spans) {
    const int rows = kept.size(span.node);
    if (a >= span.node) {
      result.noalias() -= Eigen::Map<const Rows>(kept.tile(a, span.node), kept.size(a), rows) *
                          all_w.middleRows(span.at, rows);
    } else {
      result.noalias() -=
          Eigen::Map<const Rows>(kept.tile(span.node, a), rows, kept.size(a)).transpose() *
          all_w.middleRows(span.at, rows);
    }
  }
  return result;
}

/// W_aᵀ Σ_cc W_b. Of each pair of kept blocks only the tile of the lower half exists: it is
/// multiplied from the side where its rows lie, into U_a = Σ W_b or U_b = Σ W_a, and both parts add
/// up.
Eigen::MatrixXd Covariance::State::between_eliminated(const Eliminated& a,
                                                      const Eliminated& b) const {
  for (const Span& sa : a.spans) {
    for (const Span& sb : b.spans)
      kept.prefetch(std::max(sa.node, sb.node), std::min(sa.node, sb.node));
  }
  thread_local std::vector<double> scratch;
  scratch.assign(static_cast<std::size_t>(a.width * b.d + b.width * a.d), 0.0);
  double* ua = scratch.data();
  double* ub = ua + a.width * b.d;
  const double *wa = w(a), *wb = w(b);
  for (const Span& sa : a.spans) {
    for (const Span& sb : b.spans) {
      if (sa.node >= sb.node) {
        internal::add_transposed_times(ub + sb.at, b.width, kept.tile(sa.node, sb.node),
                                       kept.size(sa.node), kept.size(sb.node), wa + sa.at, a.width,
                                       a.d);
      } else {
        internal::add_transposed_times(ua + sa.at, a.width, kept.tile(sb.node, sa.node),
                                       kept.size(sb.node), kept.size(sa.node), wb + sb.at, b.width,
                                       b.d);
      }
    }
  }
  using Map = Eigen::Map<const Eigen::MatrixXd>;
  Eigen::MatrixXd result = Map(wa, a.width, a.d).transpose().lazyProduct(Map(ua, a.width, b.d));
  result += Map(ub, b.width, a.d).transpose().lazyProduct(Map(wb, b.width, b.d));
  return result;
}

/// Calls use(view) for Σ_ab of two blocks that take part.
template <typename Use>
void Covariance::State::with_between(int a, int b, const Use& use) const {
  if (const auto there = view(a, b)) return use(*there);
  if (node[a] < 0 && node[b] < 0) {
    const Eigen::MatrixXd made =
        between_eliminated(eliminated[eliminated_number[a]], eliminated[eliminated_number[b]]);
    return use(View{made.data(), made.rows(), 1.0, false});
  }
  const bool swapped = node[a] < 0;
  const Eigen::MatrixXd made =
      kept_with_eliminated(swapped ? b : a, eliminated[eliminated_number[swapped ? a : b]]);
  use(View{made.data(), made.rows(), 1.0, swapped});
}

void Covariance::State::copy_between(int a, int b, Eigen::Ref<Eigen::MatrixXd> out) const {
  if (!in_use[a] || !in_use[b]) {
    out.setConstant(std::numeric_limits<double>::quiet_NaN());
  } else if (takes_part(a) && takes_part(b)) {
    with_between(a, b, [&](const View& view) {
      for (Eigen::Index c = 0; c < out.cols(); ++c) {
        for (Eigen::Index r = 0; r < out.rows(); ++r) out(r, c) = view(r, c);
      }
    });
  } else {
    out.setZero();
  }
}

/// Σ times a matrix with rows as in first_value.
Eigen::MatrixXd Covariance::State::times(const Eigen::MatrixXd& right) const {
  const Eigen::Index columns = right.cols();
  using Map = Eigen::Map<const Eigen::MatrixXd>;
  Eigen::MatrixXd reduced = Eigen::MatrixXd::Zero(kept.rows(), columns);
  for (std::size_t b = 0; b < node.size(); ++b) {
    if (node[b] >= 0)
      reduced.middleRows(kept.row(node[b]), kept.size(node[b])) +=
          right.middleRows(first_value[b], size(static_cast<int>(b)));
  }
  Eigen::MatrixXd moved;
  for (const Eliminated& e : eliminated) {
    const auto part = right.middleRows(first_value[e.block], e.d);
    if (part.isZero(0)) continue;
    moved = Map(w(e), e.width, e.d).lazyProduct(part);
    for (const Span& span : e.spans)
      reduced.middleRows(kept.row(span.node), kept.size(span.node)) -=
          moved.middleRows(span.at, kept.size(span.node));
  }
  const Eigen::MatrixXd kept_part = kept.times(reduced);
  Eigen::MatrixXd result = Eigen::MatrixXd::Zero(right.rows(), columns);
  for (std::size_t b = 0; b < node.size(); ++b) {
    if (node[b] >= 0)
      result.middleRows(first_value[b], size(static_cast<int>(b))) =
          kept_part.middleRows(kept.row(node[b]), kept.size(node[b]));
  }
  for (const Eliminated& e : eliminated) {
    auto out = result.middleRows(first_value[e.block], e.d);
    out = Map(inverse(e), e.d, e.d).lazyProduct(right.middleRows(first_value[e.block], e.d));
    const Map all_w(w(e), e.width, e.d);
    for (const Span& span : e.spans)
      out -= all_w.middleRows(span.at, kept.size(span.node))
                 .transpose()
                 .lazyProduct(kept_part.middleRows(kept.row(span.node), kept.size(span.node)));
  }
  return result;
}

void Covariance::State::prepare_inner() const {
  std::call_once(inner_once, [this] {
    const int defect = datum.defect;
    motion = Eigen::MatrixXd::Zero(first_value.back(), defect);
    Eigen::MatrixXd points_only = motion;
    for (std::size_t b = 0; b < in_use.size(); ++b) {
      const Block& block = network->blocks()[b];
      if (!in_use[b]) continue;
      // All coordinates here: the ones held for the minimal datum move under S, too.
      const auto rows = Eigen::seqN(first_value[b], block.values.size());
      motion(rows, Eigen::all) =
          datum_motions(block, datum.centre, datum.radius) * datum.free_motions;
      if (block.datum_role == DatumRole::kPoint)
        points_only(rows, Eigen::all) = motion(rows, Eigen::all);
    }
    sigma_motion = times(points_only);
    const Eigen::MatrixXd gdg = points_only.transpose() * points_only;
    gdsdg = points_only.transpose() * sigma_motion;
    gdg_inverse = defect > 0 ? Eigen::MatrixXd(gdg.inverse()) : Eigen::MatrixXd(0, 0);
  });
}

Covariance::Covariance(std::unique_ptr<State> state) : state_(std::move(state)) {}
Covariance::Covariance(Covariance&&) noexcept = default;
Covariance& Covariance::operator=(Covariance&&) noexcept = default;
Covariance::~Covariance() = default;

Result<Covariance, CovarianceError> Covariance::compute(const Network& network,
                                                        const Datum& datum) {
  auto state = std::make_unique<State>();
  state->datum = datum;
  if (auto error = state->ReducedSystem::compute(network, datum)) return Unexpected(*error);
  return Covariance(std::move(state));
}

Eigen::MatrixXd Covariance::between(BlockId a, BlockId b) const {
  const State& s = *state_;
  Eigen::MatrixXd result = Eigen::MatrixXd::Zero(s.size(a.index), s.size(b.index));
  s.copy_between(a.index, b.index, result);
  return result;
}

Eigen::MatrixXd Covariance::joint(std::span<const BlockId> blocks) const {
  const State& s = *state_;
  Eigen::Index total = 0;
  for (const BlockId id : blocks) total += s.size(id.index);
  Eigen::MatrixXd result = Eigen::MatrixXd::Zero(total, total);
  Eigen::Index row = 0;
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    const int rows = s.size(blocks[i].index);
    Eigen::Index column = 0;
    for (std::size_t j = 0; j <= i; ++j) {
      const int columns = s.size(blocks[j].index);
      s.copy_between(blocks[i].index, blocks[j].index, result.block(row, column, rows, columns));
      if (j < i)
        result.block(column, row, columns, rows) =
            result.block(row, column, rows, columns).transpose();
      column += columns;
    }
    row += rows;
  }
  return result;
}

Eigen::MatrixXd Covariance::joint_inner(std::span<const BlockId> blocks) const {
  const State& s = *state_;
  Eigen::MatrixXd result = joint(blocks);
  if (s.datum.defect == 0) return result;
  s.prepare_inner();
  Eigen::MatrixXd g(result.rows(), s.datum.defect), x(result.rows(), s.datum.defect);
  Eigen::Index at = 0;
  for (const BlockId id : blocks) {
    const Eigen::Index n = s.size(id.index);
    g.middleRows(at, n) = s.motion.middleRows(s.first_value[id.index], n);
    x.middleRows(at, n) = s.sigma_motion.middleRows(s.first_value[id.index], n);
    at += n;
  }
  const Eigen::MatrixXd ga = g * s.gdg_inverse;
  result -= ga * x.transpose() + x * ga.transpose();
  result += ga * s.gdsdg * ga.transpose();
  return (result + result.transpose()) / 2;
}

std::vector<Eigen::VectorXd> Covariance::times(std::span<const BlockId> blocks,
                                               std::span<const Eigen::VectorXd> gradient) const {
  const State& s = *state_;
  Eigen::MatrixXd right = Eigen::MatrixXd::Zero(s.first_value.back(), 1);
  for (std::size_t i = 0; i < blocks.size(); ++i) {  // a point may be named twice
    right.middleRows(s.first_value[blocks[i].index], s.size(blocks[i].index)) += gradient[i];
  }
  const Eigen::MatrixXd product = s.times(right);
  std::vector<Eigen::VectorXd> result(s.in_use.size());
  for (std::size_t b = 0; b < result.size(); ++b) {
    if (s.in_use[b]) result[b] = product.middleRows(s.first_value[b], s.size(static_cast<int>(b)));
  }
  return result;
}

Eigen::VectorXd Covariance::jacobian_times(ObservationId id,
                                           const std::vector<Eigen::VectorXd>& moved) const {
  const State& s = *state_;
  const Observation& observation = s.network->observation(id);
  Eigen::VectorXd felt = Eigen::VectorXd::Zero(observation.cost->num_residuals());
  if (!s.jacobians.known(id.index)) return felt;
  for (std::size_t b = 0; b < observation.blocks.size(); ++b) {
    const Eigen::VectorXd& block = moved[observation.blocks[b].index];
    const double* jacobian = s.jacobians.jacobian(id.index, b);
    for (Eigen::Index r = 0; r < felt.size(); ++r) {
      for (Eigen::Index k = 0; k < block.size(); ++k) felt[r] += *jacobian++ * block[k];
    }
  }
  return felt;
}

void Covariance::add_jacobian_transposed(ObservationId id, const Eigen::VectorXd& weight,
                                         std::vector<Eigen::VectorXd>& by_block) const {
  const State& s = *state_;
  if (!s.jacobians.known(id.index)) return;
  const Observation& observation = s.network->observation(id);
  for (std::size_t b = 0; b < observation.blocks.size(); ++b) {
    Eigen::VectorXd& block = by_block[observation.blocks[b].index];
    const double* jacobian = s.jacobians.jacobian(id.index, b);
    for (Eigen::Index r = 0; r < weight.size(); ++r) {
      for (Eigen::Index k = 0; k < block.size(); ++k) block[k] += *jacobian++ * weight[r];
    }
  }
}

Eigen::MatrixXd Covariance::residual_cofactor(ObservationId id) const {
  const State& s = *state_;
  const Observation& observation = s.network->observation(id);
  const int rows = observation.cost->num_residuals();
  if (!s.jacobians.known(id.index))
    return Eigen::MatrixXd::Constant(rows, rows, std::numeric_limits<double>::quiet_NaN());
  // J Σ Jᵀ pair by pair of blocks, each off-diagonal pair once with its mirror image.
  Eigen::MatrixXd explained = Eigen::MatrixXd::Zero(rows, rows);
  for (std::size_t a = 0; a < observation.blocks.size(); ++a) {
    const int block_a = observation.blocks[a].index;
    if (!s.takes_part(block_a)) continue;
    for (std::size_t b = 0; b <= a; ++b) {
      const int block_b = observation.blocks[b].index;
      if (!s.takes_part(block_b)) continue;
      s.with_between(block_a, block_b, [&](const View& view) {
        // The block of the view's columns first, whichever of the two that is.
        const int inner = s.size(view.transposed ? block_b : block_a);
        const int outer = s.size(view.transposed ? block_a : block_b);
        const double* j_inner = s.jacobians.jacobian(id.index, view.transposed ? b : a);
        const double* j_outer = s.jacobians.jacobian(id.index, view.transposed ? a : b);
        for (int r = 0; r < rows; ++r) {
          for (int c = 0; c < outer; ++c) {
            double sum = 0;
            for (int k = 0; k < inner; ++k)
              sum += j_inner[r * inner + k] * view.data[c * view.stride + k];
            sum *= view.sign;
            for (int q = 0; q < rows; ++q) {
              const double part = sum * j_outer[q * outer + c];
              explained(r, q) += part;
              if (a != b) explained(q, r) += part;
            }
          }
        }
      });
    }
  }
  return Eigen::MatrixXd::Identity(rows, rows) + (observation.active ? -1.0 : 1.0) * explained;
}

int Covariance::unknowns() const { return state_->unknowns; }

}  // namespace calib::adjust
