#include "calib/adjust/covariance.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <limits>
#include <mutex>
#include <numeric>

#include <Eigen/Cholesky>
#include <Eigen/LU>

#include "calib/adjust/linearised.h"

extern "C" {
void dpotrf_(const char* uplo, const int* n, double* a, const int* lda, int* info);
void dpotri_(const char* uplo, const int* n, double* a, const int* lda, int* info);
}

namespace calib::adjust {
namespace {

/// A pivot of the correlation-like scaled normal matrix below this is zero in double precision: the
/// unknown is a combination of the others to one part in 10⁶ of its own standard deviation.
constexpr double kSmallestPivot = 1e-12;

/// out += s·w. Poses are six numbers and points three: with the sizes known the compiler unrolls it
/// all, and a pair of points costs microseconds.
void add_product(const double* s, Eigen::Index s_stride, int rows, int columns, const double* w,
                 Eigen::Index w_stride, int width, double* out, Eigen::Index out_stride) {
  using Stride = Eigen::OuterStride<>;
  if (rows == 6 && columns == 6 && width == 3) {
    Eigen::Map<Eigen::Matrix<double, 6, 3>, 0, Stride>(out, Stride(out_stride)) +=
        Eigen::Map<const Eigen::Matrix<double, 6, 6>, 0, Stride>(s, Stride(s_stride))
            .lazyProduct(
                Eigen::Map<const Eigen::Matrix<double, 6, 3>, 0, Stride>(w, Stride(w_stride)));
    return;
  }
  Eigen::Map<Eigen::MatrixXd, 0, Stride>(out, rows, width, Stride(out_stride)) +=
      Eigen::Map<const Eigen::MatrixXd, 0, Stride>(s, rows, columns, Stride(s_stride))
          .lazyProduct(
              Eigen::Map<const Eigen::MatrixXd, 0, Stride>(w, columns, width, Stride(w_stride)));
}

}  // namespace

struct Covariance::State {
  /// An eliminated block: its inverse normal block and W = E C⁻¹ on the kept blocks it shares marks
  /// with.
  struct Eliminated {
    Eigen::MatrixXd inverse;                 ///< C⁻¹, free coordinates
    std::vector<std::pair<int, int>> spans;  ///< (first row, size) in the reduced system
    Eigen::MatrixXd w;                       ///< rows as in spans, one after another
  };

  const Network* network = nullptr;
  Datum datum;
  std::vector<bool> in_use;
  std::vector<std::vector<int>> free;  ///< free coordinates of each block
  std::vector<int> offset;             ///< first row in the reduced system, or −1
  std::vector<int> eliminated_number;  ///< or −1
  std::vector<Eliminated> eliminated;
  Eigen::MatrixXd kept;  ///< Σ_cc, full symmetric
  int unknowns = 0;

  // Inner constraints, made when first asked for.
  mutable std::once_flag inner_once;
  mutable std::vector<Eigen::MatrixXd> motion,
      sigma_motion;  ///< G and ΣDG of each block, free coordinates
  mutable Eigen::MatrixXd gdg_inverse, gdsdg;

  [[nodiscard]] bool is_kept(int block) const { return offset[block] >= 0; }
  [[nodiscard]] int size(int block) const { return static_cast<int>(free[block].size()); }

  [[nodiscard]] Eigen::MatrixXd between_free(int a, int b) const;
  void prepare_inner() const;
  [[nodiscard]] std::vector<Eigen::MatrixXd> times(const std::vector<Eigen::MatrixXd>& right,
                                                   int columns) const;
};

Eigen::MatrixXd Covariance::State::between_free(int a, int b) const {
  if (is_kept(a) && is_kept(b)) return kept.block(offset[a], offset[b], size(a), size(b));
  if (is_kept(b)) return between_free(b, a).transpose();
  const auto gather = [](const Eliminated& e, auto&& row) {
    int at = 0;
    for (const auto& [first, count] : e.spans) {
      row(first, count, at);
      at += count;
    }
  };
  if (is_kept(a)) {
    const Eliminated& eb = eliminated[eliminated_number[b]];
    Eigen::MatrixXd result = Eigen::MatrixXd::Zero(size(a), size(b));
    gather(eb, [&](int first, int count, int at) {
      result.noalias() -= kept.block(offset[a], first, size(a), count) * eb.w.middleRows(at, count);
    });
    return result;
  }
  const Eliminated& ea = eliminated[eliminated_number[a]];
  const Eliminated& eb = eliminated[eliminated_number[b]];
  thread_local Eigen::MatrixXd product;
  product.setZero(ea.w.rows(), eb.w.cols());
  gather(ea, [&](int first_a, int count_a, int at_a) {
    gather(eb, [&](int first_b, int count_b, int at_b) {
      add_product(&kept(first_a, first_b), kept.rows(), count_a, count_b, &eb.w(at_b, 0),
                  eb.w.rows(), static_cast<int>(eb.w.cols()), &product(at_a, 0), product.rows());
    });
  });
  Eigen::MatrixXd result(ea.w.cols(), eb.w.cols());
  if (result.rows() == 3 && result.cols() == 3) {  // two points: the usual case
    result = ea.w.transpose().topRows<3>().lazyProduct(product.leftCols<3>());
  } else {
    result.noalias() = ea.w.transpose() * product;
  }
  if (a == b) result += ea.inverse;
  return result;
}

std::vector<Eigen::MatrixXd> Covariance::State::times(const std::vector<Eigen::MatrixXd>& right,
                                                      int columns) const {
  Eigen::MatrixXd reduced = Eigen::MatrixXd::Zero(kept.rows(), columns);
  for (std::size_t b = 0; b < right.size(); ++b) {
    if (right[b].size() == 0 || !in_use[b] || free[b].empty()) continue;
    if (offset[b] >= 0) {
      reduced.middleRows(offset[b], size(static_cast<int>(b))) += right[b];
    } else {
      const Eliminated& e = eliminated[eliminated_number[b]];
      const Eigen::MatrixXd moved = e.w * right[b];
      int at = 0;
      for (const auto& [first, count] : e.spans) {
        reduced.middleRows(first, count) -= moved.middleRows(at, count);
        at += count;
      }
    }
  }
  const Eigen::MatrixXd kept_part = kept * reduced;
  std::vector<Eigen::MatrixXd> result(right.size());
  for (std::size_t b = 0; b < right.size(); ++b) {
    if (!in_use[b]) continue;
    if (free[b].empty()) {
      result[b] = Eigen::MatrixXd::Zero(0, columns);
    } else if (offset[b] >= 0) {
      result[b] = kept_part.middleRows(offset[b], size(static_cast<int>(b)));
    } else {
      const Eliminated& e = eliminated[eliminated_number[b]];
      result[b] = Eigen::MatrixXd::Zero(size(static_cast<int>(b)), columns);
      if (right[b].size() > 0) result[b] = e.inverse * right[b];
      int at = 0;
      for (const auto& [first, count] : e.spans) {
        result[b].noalias() -=
            e.w.middleRows(at, count).transpose() * kept_part.middleRows(first, count);
        at += count;
      }
    }
  }
  return result;
}

void Covariance::State::prepare_inner() const {
  std::call_once(inner_once, [this] {
    const int defect = datum.defect;
    motion.resize(in_use.size());
    std::vector<Eigen::MatrixXd> points_only(in_use.size());
    Eigen::MatrixXd gdg = Eigen::MatrixXd::Zero(defect, defect);
    for (std::size_t b = 0; b < in_use.size(); ++b) {
      const Block& block = network->blocks()[b];
      if (!in_use[b]) continue;
      // All coordinates here: the ones held for the minimal datum move under S, too.
      motion[b] = datum_motions(block, datum.centre, datum.radius) * datum.free_motions;
      if (block.datum_role != DatumRole::kPoint) continue;
      gdg += motion[b].transpose() * motion[b];
      points_only[b] = motion[b](free[b], Eigen::all);
    }
    const std::vector<Eigen::MatrixXd> product = times(points_only, defect);
    sigma_motion.resize(in_use.size());
    gdsdg = Eigen::MatrixXd::Zero(defect, defect);
    for (std::size_t b = 0; b < in_use.size(); ++b) {
      if (!in_use[b]) continue;
      sigma_motion[b] = Eigen::MatrixXd::Zero(network->blocks()[b].values.size(), defect);
      for (std::size_t k = 0; k < free[b].size(); ++k) {
        sigma_motion[b].row(free[b][k]) = product[b].row(static_cast<Eigen::Index>(k));
      }
      if (network->blocks()[b].datum_role == DatumRole::kPoint) {
        gdsdg += motion[b].transpose() * sigma_motion[b];
      }
    }
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
  State& s = *state;
  s.network = &network;
  s.datum = datum;
  s.in_use = network.blocks_in_use();
  const std::size_t count = network.blocks().size();
  s.free.resize(count);
  s.offset.assign(count, -1);
  s.eliminated_number.assign(count, -1);
  std::vector<std::vector<bool>> held(count);
  for (std::size_t b = 0; b < count; ++b) held[b] = network.blocks()[b].held;
  for (const auto& [block, coordinate] : datum.held) held[block.index][coordinate] = true;
  int rows = 0, eliminated = 0;
  for (std::size_t b = 0; b < count; ++b) {
    if (!s.in_use[b]) continue;
    for (std::size_t k = 0; k < held[b].size(); ++k) {
      if (!held[b][k]) s.free[b].push_back(static_cast<int>(k));
    }
    s.unknowns += static_cast<int>(s.free[b].size());
    if (network.blocks()[b].role == BlockRole::kEliminated) {
      s.eliminated_number[b] = eliminated++;
    } else {
      s.offset[b] = rows;
      rows += static_cast<int>(s.free[b].size());
    }
  }

  // Observations of each eliminated block together, the others straight into the normal matrix.
  std::vector<std::vector<int>> of_eliminated(static_cast<std::size_t>(eliminated));
  std::vector<int> others;
  for (std::size_t o = 0; o < network.observations().size(); ++o) {
    const Observation& observation = network.observations()[o];
    if (!observation.active) continue;
    int number = -1;
    for (const BlockId id : observation.blocks) {
      if (s.eliminated_number[id.index] < 0) continue;
      if (number >= 0) {
        return Unexpected(CovarianceError{CovarianceError::Kind::kEliminatedBlocksShareObservation,
                                          network.block(id).name});
      }
      number = s.eliminated_number[id.index];
    }
    (number >= 0 ? of_eliminated[number] : others).push_back(static_cast<int>(o));
  }

  s.kept = Eigen::MatrixXd::Zero(rows, rows);
  Eigen::VectorXd normal_diagonal =
      Eigen::VectorXd::Zero(rows);  // before elimination: the scale of each unknown
  internal::Linearised linear;
  std::vector<Eigen::MatrixXd> free_jacobian;  // of the observation's blocks, free columns
  const auto evaluate = [&](const Observation& observation) {
    if (!linear.evaluate(network, observation)) return false;
    if (free_jacobian.size() < observation.blocks.size())
      free_jacobian.resize(observation.blocks.size());
    for (std::size_t b = 0; b < observation.blocks.size(); ++b) {
      const auto& columns = s.free[observation.blocks[b].index];
      auto& target = free_jacobian[b];
      if (static_cast<Eigen::Index>(columns.size()) == linear.jacobians[b].cols()) {
        target = linear.jacobians[b];
        continue;
      }
      target.resize(linear.jacobians[b].rows(), static_cast<Eigen::Index>(columns.size()));
      for (std::size_t k = 0; k < columns.size(); ++k) {
        target.col(static_cast<Eigen::Index>(k)) = linear.jacobians[b].col(columns[k]);
      }
    }
    return true;
  };
  const auto add_kept_pairs = [&](const Observation& observation) {
    for (std::size_t a = 0; a < observation.blocks.size(); ++a) {
      const int oa = s.offset[observation.blocks[a].index];
      if (oa < 0 || free_jacobian[a].cols() == 0) continue;
      normal_diagonal.segment(oa, free_jacobian[a].cols()) +=
          free_jacobian[a].colwise().squaredNorm().transpose();
      for (std::size_t b = 0; b < observation.blocks.size(); ++b) {
        const int ob = s.offset[observation.blocks[b].index];
        if (ob < 0 || ob > oa || free_jacobian[b].cols() == 0) continue;  // lower triangle
        s.kept.block(oa, ob, free_jacobian[a].cols(), free_jacobian[b].cols()) +=
            free_jacobian[a].transpose().lazyProduct(free_jacobian[b]);
      }
    }
  };
  for (const int o : others) {
    const Observation& observation = network.observations()[o];
    if (evaluate(observation)) add_kept_pairs(observation);
  }

  s.eliminated.resize(static_cast<std::size_t>(eliminated));
  std::vector<int> place(count, -1);
  for (std::size_t b = 0; b < count; ++b) {
    if (s.eliminated_number[b] < 0) continue;
    State::Eliminated& e = s.eliminated[s.eliminated_number[b]];
    const auto& list = of_eliminated[s.eliminated_number[b]];
    const int d = static_cast<int>(s.free[b].size());
    std::vector<int> touched;
    int width = 0;
    for (const int o : list) {
      for (const BlockId id : network.observations()[o].blocks) {
        const int k = id.index;
        if (s.offset[k] < 0 || s.free[k].empty() || place[k] >= 0) continue;
        place[k] = width;
        touched.push_back(k);
        e.spans.emplace_back(s.offset[k], s.size(k));
        width += s.size(k);
      }
    }
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(d, d),
                    coupling = Eigen::MatrixXd::Zero(width, d);
    for (const int o : list) {
      const Observation& observation = network.observations()[o];
      if (!evaluate(observation)) continue;
      add_kept_pairs(observation);
      std::size_t own = 0;
      while (observation.blocks[own].index != static_cast<int>(b)) ++own;
      normal += free_jacobian[own].transpose().lazyProduct(free_jacobian[own]);
      for (std::size_t k = 0; k < observation.blocks.size(); ++k) {
        const int at = place[observation.blocks[k].index];
        if (k == own || at < 0) continue;
        coupling.middleRows(at, free_jacobian[k].cols()) +=
            free_jacobian[k].transpose().lazyProduct(free_jacobian[own]);
      }
    }
    for (const int k : touched) place[k] = -1;
    if (d == 0) {
      e.w.resize(width, 0);
      continue;
    }
    const Eigen::VectorXd scale = normal.diagonal().cwiseSqrt();
    if (!(scale.minCoeff() > 0)) {
      return Unexpected(
          CovarianceError{CovarianceError::Kind::kSingular, network.blocks()[b].name});
    }
    const Eigen::VectorXd inverse_scale = scale.cwiseInverse();
    const Eigen::LLT<Eigen::MatrixXd> factor(inverse_scale.asDiagonal() * normal *
                                             inverse_scale.asDiagonal());
    if (factor.info() != Eigen::Success ||
        Eigen::MatrixXd(factor.matrixL()).diagonal().cwiseAbs2().minCoeff() < kSmallestPivot) {
      return Unexpected(
          CovarianceError{CovarianceError::Kind::kSingular, network.blocks()[b].name});
    }
    e.inverse =
        inverse_scale.asDiagonal() * factor.solve(Eigen::MatrixXd(inverse_scale.asDiagonal()));
    e.w = coupling.lazyProduct(e.inverse);
    int at_a = 0;
    for (const auto& [first_a, count_a] : e.spans) {
      int at_b = 0;
      for (const auto& [first_b, count_b] : e.spans) {
        if (first_b <= first_a) {
          s.kept.block(first_a, first_b, count_a, count_b) -=
              e.w.middleRows(at_a, count_a)
                  .lazyProduct(coupling.middleRows(at_b, count_b).transpose());
        }
        at_b += count_b;
      }
      at_a += count_a;
    }
  }

  if (rows > 0) {
    const auto block_of_row = [&](int row) {
      for (std::size_t b = 0; b < count; ++b) {
        if (s.offset[b] >= 0 && row >= s.offset[b] &&
            row < s.offset[b] + s.size(static_cast<int>(b))) {
          return network.blocks()[b].name;
        }
      }
      return std::string("?");
    };
    Eigen::VectorXd inverse_scale(rows);
    for (int r = 0; r < rows; ++r) {
      if (!(normal_diagonal[r] > 0)) {
        return Unexpected(CovarianceError{CovarianceError::Kind::kSingular, block_of_row(r)});
      }
      inverse_scale[r] = 1 / std::sqrt(normal_diagonal[r]);
    }
    for (int c = 0; c < rows; ++c) {
      s.kept.col(c).tail(rows - c).array() *=
          inverse_scale.tail(rows - c).array() * inverse_scale[c];
    }
    int info = 0;
    dpotrf_("L", &rows, s.kept.data(), &rows, &info);
    if (info > 0)
      return Unexpected(CovarianceError{CovarianceError::Kind::kSingular, block_of_row(info - 1)});
    Eigen::Index weakest = 0;
    if (s.kept.diagonal().cwiseAbs2().minCoeff(&weakest) < kSmallestPivot) {
      return Unexpected(CovarianceError{CovarianceError::Kind::kSingular,
                                        block_of_row(static_cast<int>(weakest))});
    }
    dpotri_("L", &rows, s.kept.data(), &rows, &info);
    for (int c = 0; c < rows; ++c) {
      s.kept.col(c).tail(rows - c).array() *=
          inverse_scale.tail(rows - c).array() * inverse_scale[c];
    }
    // The upper triangle by tiles: column by column, each line of the cache would be fetched rows
    // times.
    constexpr int kTile = 64;
    for (int c0 = 0; c0 < rows; c0 += kTile) {
      const int nc = std::min(kTile, rows - c0);
      for (int r0 = c0; r0 < rows; r0 += kTile) {
        const int nr = std::min(kTile, rows - r0);
        if (r0 == c0) {
          for (int c = c0; c < c0 + nc; ++c) {
            for (int r = c + 1; r < r0 + nr; ++r) s.kept(c, r) = s.kept(r, c);
          }
        } else {
          s.kept.block(c0, r0, nc, nr) = s.kept.block(r0, c0, nr, nc).transpose();
        }
      }
    }
  }
  return Covariance(std::move(state));
}

Eigen::MatrixXd Covariance::between(BlockId a, BlockId b) const {
  const std::array<BlockId, 2> pair{a, b};
  const Eigen::MatrixXd both = joint(pair);
  const Eigen::Index na = state_->network->block(a).values.size();
  return both.topRightCorner(na, both.cols() - na);
}

Eigen::MatrixXd Covariance::joint(std::span<const BlockId> blocks) const {
  const State& s = *state_;
  std::vector<Eigen::Index> at(blocks.size());
  Eigen::Index total = 0;
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    at[i] = total;
    total += s.network->block(blocks[i]).values.size();
  }
  Eigen::MatrixXd result = Eigen::MatrixXd::Zero(total, total);
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    const int a = blocks[i].index;
    if (!s.in_use[a]) {  // nothing is known of it: no number at all
      result.middleRows(at[i], s.network->block(blocks[i]).values.size())
          .setConstant(std::numeric_limits<double>::quiet_NaN());
      result.middleCols(at[i], s.network->block(blocks[i]).values.size())
          .setConstant(std::numeric_limits<double>::quiet_NaN());
      continue;
    }
    for (std::size_t j = 0; j <= i; ++j) {
      const int b = blocks[j].index;
      if (!s.in_use[b] || s.free[a].empty() || s.free[b].empty()) continue;
      const Eigen::MatrixXd part = s.between_free(a, b);
      for (std::size_t c = 0; c < s.free[b].size(); ++c) {
        for (std::size_t r = 0; r < s.free[a].size(); ++r) {
          const double value = part(static_cast<Eigen::Index>(r), static_cast<Eigen::Index>(c));
          result(at[i] + s.free[a][r], at[j] + s.free[b][c]) = value;
          result(at[j] + s.free[b][c], at[i] + s.free[a][r]) = value;
        }
      }
    }
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
    const Eigen::Index n = s.network->block(id).values.size();
    if (s.in_use[id.index]) {
      g.middleRows(at, n) = s.motion[id.index];
      x.middleRows(at, n) = s.sigma_motion[id.index];
    } else {
      g.middleRows(at, n).setZero();
      x.middleRows(at, n).setZero();
    }
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
  std::vector<Eigen::MatrixXd> right(s.in_use.size());
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    const int b = blocks[i].index;
    const Eigen::VectorXd free_part = gradient[i](s.free[b]);
    if (right[b].size() == 0) {
      right[b] = free_part;
    } else {
      right[b] += free_part;  // a point may be named twice
    }
  }
  const std::vector<Eigen::MatrixXd> product = s.times(right, 1);
  std::vector<Eigen::VectorXd> result(product.size());
  for (std::size_t b = 0; b < product.size(); ++b) {
    if (!s.in_use[b]) continue;
    result[b] = Eigen::VectorXd::Zero(s.network->blocks()[b].values.size());
    for (std::size_t k = 0; k < s.free[b].size(); ++k) {
      result[b][s.free[b][k]] = product[b](static_cast<Eigen::Index>(k), 0);
    }
  }
  return result;
}

Eigen::VectorXd Covariance::jacobian_times(ObservationId id,
                                           const std::vector<Eigen::VectorXd>& moved) const {
  const Observation& observation = state_->network->observation(id);
  thread_local internal::Linearised linear;
  Eigen::VectorXd felt = Eigen::VectorXd::Zero(observation.cost->num_residuals());
  if (!linear.evaluate(*state_->network, observation)) return felt;
  for (std::size_t b = 0; b < observation.blocks.size(); ++b) {
    felt += linear.jacobians[b] * moved[observation.blocks[b].index];
  }
  return felt;
}

void Covariance::add_jacobian_transposed(ObservationId id, const Eigen::VectorXd& weight,
                                         std::vector<Eigen::VectorXd>& by_block) const {
  const Observation& observation = state_->network->observation(id);
  thread_local internal::Linearised linear;
  if (!linear.evaluate(*state_->network, observation)) return;
  for (std::size_t b = 0; b < observation.blocks.size(); ++b) {
    by_block[observation.blocks[b].index] += linear.jacobians[b].transpose() * weight;
  }
}

Eigen::MatrixXd Covariance::residual_cofactor(ObservationId id) const {
  const State& s = *state_;
  const Observation& observation = s.network->observation(id);
  thread_local internal::Linearised linear;
  const int rows = observation.cost->num_residuals();
  if (!linear.evaluate(*s.network, observation)) {
    return Eigen::MatrixXd::Constant(rows, rows, std::numeric_limits<double>::quiet_NaN());
  }
  const Eigen::MatrixXd covariance = joint(observation.blocks);
  Eigen::MatrixXd jacobian(rows, covariance.rows());
  Eigen::Index at = 0;
  for (std::size_t b = 0; b < observation.blocks.size(); ++b) {
    jacobian.middleCols(at, linear.jacobians[b].cols()) = linear.jacobians[b];
    at += linear.jacobians[b].cols();
  }
  const Eigen::MatrixXd explained = jacobian * covariance * jacobian.transpose();
  return Eigen::MatrixXd::Identity(rows, rows) + (observation.active ? -1.0 : 1.0) * explained;
}

int Covariance::unknowns() const { return state_->unknowns; }

}  // namespace calib::adjust
