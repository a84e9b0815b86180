#include "calib/adjust/snooping.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>

#include "calib/adjust/distributions.h"

namespace calib::adjust {
namespace {

/// Below this share a mark's blunder hardly shows in its own residual: no test is made of it.
constexpr double kLeastControlled = 0.05;
constexpr double kInseparable = 0.9;

struct Statistic {
  double t = 0.0;  ///< vᵀ R⁺ v over the controlled directions, in the σ of the group's scale
  int directions = 0;     ///< with a redundancy of at least kLeastControlled
  double redundancy = 0;  ///< tr(R)/rows
};

Statistic statistic(const Network& network, const Covariance& covariance, ObservationId id) {
  const Eigen::MatrixXd cofactor = covariance.residual_cofactor(id);
  Statistic result;
  if (!cofactor.allFinite()) return result;
  const Eigen::VectorXd v =
      network.residuals(id) / network.group(network.observation(id).group).scale;
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(cofactor);
  result.redundancy = cofactor.trace() / static_cast<double>(cofactor.rows());
  for (Eigen::Index k = 0; k < v.size(); ++k) {
    const double share = eigen.eigenvalues()[k];
    if (share < kLeastControlled) continue;
    const double along = eigen.eigenvectors().col(k).dot(v);
    result.t += along * along / share;
    ++result.directions;
  }
  return result;
}

double critical_chi_square(int directions, double significance) {
  return chi_square_quantile(1 - significance, std::max(directions, 1));
}

/// Symmetric inverse square root over the controlled directions; the others stay zero.
Eigen::MatrixXd inverse_root(const Eigen::MatrixXd& cofactor) {
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(cofactor);
  Eigen::VectorXd inverse = Eigen::VectorXd::Zero(cofactor.rows());
  for (Eigen::Index k = 0; k < inverse.size(); ++k) {
    if (eigen.eigenvalues()[k] >= kLeastControlled)
      inverse[k] = 1 / std::sqrt(eigen.eigenvalues()[k]);
  }
  return eigen.eigenvectors() * inverse.asDiagonal() * eigen.eigenvectors().transpose();
}

/// Marks that see a block, by block: to know what is left of a point when a mark is taken away.
std::map<int, int> active_marks(const Network& network, std::span<const Suspect> suspects,
                                bool by_photo) {
  std::map<int, int> count;
  for (const Suspect& suspect : suspects) {
    if (by_photo && suspect.on_curve) continue;
    const int key = by_photo ? suspect.photo : suspect.point.index;
    count[key] += network.observation(suspect.observation).active ? 1 : 0;
  }
  return count;
}

double median(std::vector<double> values) {
  if (values.empty()) return std::numeric_limits<double>::quiet_NaN();
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

}  // namespace

MarkTest test_mark(const Network& network, const Covariance& covariance, const FitStatistics& fit,
                   ObservationId id, double significance) {
  const Statistic s = statistic(network, covariance, id);
  MarkTest test;
  test.redundancy = s.redundancy;
  const int group_index = network.observation(id).group.index;
  const GroupFit& group = fit.groups[group_index];
  const int m = std::max(s.directions, 1);
  const bool active = network.observation(id).active;
  test.critical_w = std::sqrt(critical_chi_square(m, significance));
  if (s.directions == 0) return test;
  if (!group.factor_estimated) {
    test.w = std::sqrt(s.t);
    return test;
  }
  // Externally studentised: the suspect's own part is taken out of s0². A mark that is not active
  // has no part in it.
  const double nu = group.redundancy;
  const double own = active ? s.t : 0.0;
  const double rest_dof = active ? nu - m : nu;
  if (rest_dof < 1) return test;
  const double scale = network.group(GroupId{group_index}).scale;
  const double omega = group.sum_of_squares / (scale * scale);
  const double rest = std::max((omega - own) / rest_dof, 1e-12);
  test.w = std::sqrt(s.t / rest);
  test.critical_w = std::sqrt(m * f_quantile(1 - significance, m, rest_dof));
  return test;
}

std::vector<ObservationId> inseparable_from(const Network& network, const Covariance& covariance,
                                            std::span<const Suspect> suspects, ObservationId id) {
  const Observation& suspect = network.observation(id);
  const Eigen::MatrixXd own = covariance.residual_cofactor(id);
  if (!own.allFinite()) return {};
  const Eigen::VectorXd v = network.residuals(id) / network.group(suspect.group).scale;
  // Taking part: residual cofactor R_i = I − J_i Q J_iᵀ, cross-cofactor R_ij = −J_i Q J_jᵀ, and
  // Kᵀu = R_j^-½ R_ji a with a = R_i^-½ u, u = R_i^-½ v / ‖R_i^-½ v‖.
  // Left out: Q lacks mark i, and v is its prediction error e with the cofactor S = I + J_i Q J_iᵀ.
  // With it Q would be Q − Q J_iᵀ S⁻¹ J_i Q, so that R_i = S⁻¹, R_ij = −S⁻¹ B_j with
  // B_j = J_i Q J_jᵀ, R_j grows by B_jᵀ S⁻¹ B_j, and the residual is S⁻¹ e. Then
  // Kᵀu = −R_j^-½ B_jᵀ S⁻¹ e / √(eᵀ S⁻¹ e): the same form with a = S⁻¹ e / √(eᵀ S⁻¹ e).
  Eigen::VectorXd a;
  Eigen::MatrixXd grow = Eigen::MatrixXd::Zero(own.rows(), own.rows());
  if (suspect.active) {
    const Eigen::MatrixXd root = inverse_root(own);
    const Eigen::VectorXd normalised = root * v;
    if (!(normalised.norm() > 0)) return {};
    a = root * normalised.normalized();
  } else {
    const Eigen::LDLT<Eigen::MatrixXd> s(own);
    a = s.solve(v);
    const double square = v.dot(a);
    if (!(square > 0)) return {};
    a /= std::sqrt(square);
    grow = s.solve(Eigen::MatrixXd::Identity(own.rows(), own.rows()));
  }
  // Q J_iᵀ e for every direction e of the mark: one product serves all other marks.
  std::vector<std::vector<Eigen::VectorXd>> moved;
  std::vector<BlockId> blocks = suspect.blocks;
  for (Eigen::Index k = 0; k < own.rows(); ++k) {
    std::vector<Eigen::VectorXd> by_block;
    for (const Block& block : network.blocks())
      by_block.push_back(Eigen::VectorXd::Zero(block.values.size()));
    Eigen::VectorXd unit = Eigen::VectorXd::Zero(own.rows());
    unit[k] = 1;
    covariance.add_jacobian_transposed(id, unit, by_block);
    std::vector<Eigen::VectorXd> gradient;
    for (const BlockId block : blocks) gradient.push_back(by_block[block.index]);
    moved.push_back(covariance.times(blocks, gradient));
  }
  std::vector<std::pair<double, ObservationId>> group;
  for (const Suspect& other : suspects) {
    const ObservationId at = other.observation;
    if (at == id || !network.observation(at).active) continue;
    Eigen::MatrixXd cofactor = covariance.residual_cofactor(at);
    if (!cofactor.allFinite()) continue;
    Eigen::MatrixXd transposed_b(cofactor.rows(), own.rows());
    for (Eigen::Index k = 0; k < own.rows(); ++k)
      transposed_b.col(k) = covariance.jacobian_times(at, moved[static_cast<std::size_t>(k)]);
    cofactor += transposed_b * grow * transposed_b.transpose();
    const double correlation = (inverse_root(cofactor) * transposed_b * a).norm();
    if (correlation > kInseparable) group.emplace_back(correlation, at);
  }
  std::sort(group.begin(), group.end(), [](const auto& p, const auto& q) {
    return p.first != q.first ? p.first > q.first : p.second.index < q.second.index;
  });
  std::vector<ObservationId> ids;
  for (const auto& [correlation, at] : group) ids.push_back(at);
  return ids;
}

Result<SnoopingReport, CovarianceError> snoop(Network& network, const Datum& datum,
                                              std::span<const Suspect> suspects,
                                              const SnoopingOptions& options) {
  SnoopingReport report;
  std::vector<Suspect> left_out;
  for (std::size_t g = 0; g < network.groups().size(); ++g) {
    if (network.groups()[g].factor_from_residuals)
      network.group(GroupId{static_cast<int>(g)}).scale = 1.0;
  }
  std::size_t tested = 0;
  for (const Suspect& suspect : suspects)
    tested += network.observation(suspect.observation).active ? 1 : 0;
  report.expected_false_doubts = static_cast<double>(tested) * options.significance;
  const std::size_t most =
      static_cast<std::size_t>(options.largest_share * static_cast<double>(tested)) + 1;

  SolveOptions robust = options.solve;
  robust.robust = true;
  solve(network, datum, robust);

  struct Failure {
    double excess;
    Suspect suspect;
  };
  // Strongest first: the one that fails by most is left out and everything adjusted anew, because a
  // blunder bends the residuals of its neighbours. Marks that share neither photo nor point with it
  // hardly feel it and may go in the same round. False where none could go.
  const auto leave_out = [&](std::vector<Failure>& failures) {
    std::sort(failures.begin(), failures.end(),
              [](const Failure& a, const Failure& b) { return a.excess > b.excess; });
    auto on_point = active_marks(network, suspects, false);
    auto in_photo = active_marks(network, suspects, true);
    std::set<int> photos, points;
    bool changed = false;
    for (const Failure& failure : failures) {
      const Suspect& suspect = failure.suspect;
      if (photos.contains(suspect.photo) || points.contains(suspect.point.index)) continue;
      // A point needs two marks and a photo four, or the trial would drop what it wants to test.
      if (on_point[suspect.point.index] <= suspect.least_marks) continue;
      if (!suspect.on_curve && in_photo[suspect.photo] <= 4) continue;
      if (left_out.size() >= most) {
        report.gave_up = true;
        break;
      }
      network.set_active(suspect.observation, false);
      --on_point[suspect.point.index];
      if (!suspect.on_curve) --in_photo[suspect.photo];
      left_out.push_back(suspect);
      photos.insert(suspect.photo);
      points.insert(suspect.point.index);
      changed = true;
    }
    return changed;
  };

  const auto cancelled = [&] { return options.solve.cancelled && options.solve.cancelled(); };
  for (;;) {
    if (cancelled()) return report;
    solve(network, datum, options.solve);
    const auto covariance = Covariance::compute(network, datum);
    if (!covariance) return Unexpected(covariance.error());
    std::vector<Failure> failures;
    std::map<int, std::vector<double>>
        by_group;  // statistics as χ² of one direction, for the robust scale
    std::vector<std::pair<Suspect, Statistic>> statistics;
    for (const Suspect& suspect : suspects) {
      if (cancelled()) return report;
      const Observation& observation = network.observation(suspect.observation);
      if (!observation.active) continue;
      const Statistic s = statistic(network, *covariance, suspect.observation);
      if (s.directions == 0) continue;
      statistics.emplace_back(suspect, s);
      by_group[observation.group.index].push_back(s.t / chi_square_quantile(0.5, s.directions));
    }
    std::map<int, double> robust_variance;
    for (auto& [group, values] : by_group) {
      // s² from the median: up to half the marks may be wrong without moving it much. A group too
      // small for a factor of its own keeps its σ.
      const bool estimated = network.groups()[group].factor_from_residuals &&
                             static_cast<double>(values.size()) >= kLeastRedundancyOfAFactor;
      robust_variance[group] = estimated ? std::max(median(values), 1e-12) : 1.0;
    }
    for (const auto& [suspect, s] : statistics) {
      const int group = network.observation(suspect.observation).group.index;
      const double excess =
          s.t / robust_variance[group] / critical_chi_square(s.directions, options.significance);
      if (excess > 1) failures.push_back({excess, suspect});
    }
    if (failures.empty() || !leave_out(failures) || report.gave_up) break;
  }

  // Back in, best first, whoever fits the rest after all; then out, whoever fails against the s0 of
  // what is left, which the robust scale of the first rounds foretold only roughly. Otherwise the
  // next run would doubt them. Both ask the same test, so this ends; the bound is for marks that
  // cover each other.
  constexpr int kMostLaterRounds = 20;
  int later_rounds = 0;
  FitStatistics fit;
  for (;;) {
    if (cancelled()) return report;
    const auto adjusted = adjust(network, datum, options.solve);
    if (!adjusted) return Unexpected(adjusted.error());
    fit = adjusted->fit;
    const auto covariance = Covariance::compute(network, datum);
    if (!covariance) return Unexpected(covariance.error());
    double best = 1.0;
    std::size_t best_at = left_out.size();
    for (std::size_t i = 0; i < left_out.size(); ++i) {
      const MarkTest test =
          test_mark(network, *covariance, fit, left_out[i].observation, options.significance);
      if (test.redundancy == 0.0) continue;  // its point is gone: nothing to compare with
      const double ratio = test.w / test.critical_w;
      if (ratio < best) {
        best = ratio;
        best_at = i;
      }
    }
    if (best_at == left_out.size() && !report.gave_up && later_rounds < kMostLaterRounds) {
      std::vector<Failure> failures;
      for (const Suspect& suspect : suspects) {
        if (!network.observation(suspect.observation).active) continue;
        const MarkTest test =
            test_mark(network, *covariance, fit, suspect.observation, options.significance);
        const double excess = test.w / test.critical_w;
        if (excess > 1) failures.push_back({excess * excess, suspect});
      }
      ++later_rounds;
      if (!failures.empty() && leave_out(failures)) continue;
    }
    if (best_at == left_out.size()) {
      // What stays out is doubted; what no test controls is said.
      std::vector<std::pair<double, std::vector<ObservationId>>> groups;
      const auto one_of = [&](ObservationId id, std::vector<ObservationId> others, double excess) {
        others.insert(others.begin(), id);
        groups.emplace_back(excess, std::move(others));
      };
      for (const Suspect& suspect : left_out) {
        const MarkTest test =
            test_mark(network, *covariance, fit, suspect.observation, options.significance);
        auto others = inseparable_from(network, *covariance, suspects, suspect.observation);
        if (!others.empty()) {
          one_of(suspect.observation, std::move(others), test.w / test.critical_w);
          continue;
        }
        report.doubted.push_back({suspect.observation, test.w, test.critical_w});
      }
      std::sort(report.doubted.begin(), report.doubted.end(),
                [](const DoubtedMark& a, const DoubtedMark& b) { return a.w > b.w; });
      for (const Suspect& suspect : suspects) {
        if (!network.observation(suspect.observation).active) continue;
        const MarkTest test =
            test_mark(network, *covariance, fit, suspect.observation, options.significance);
        if (test.redundancy < kLeastControlled) report.uncontrolled.push_back(suspect.observation);
        // Failing and still here: its point or photo could not be reduced further.
        if (report.gave_up || !(test.w > test.critical_w)) continue;
        auto others = inseparable_from(network, *covariance, suspects, suspect.observation);
        if (others.empty()) {
          report.needed.push_back(suspect.observation);
        } else {
          one_of(suspect.observation, std::move(others), test.w / test.critical_w);
        }
      }
      // The same group seen from its other members is one group.
      std::stable_sort(groups.begin(), groups.end(),
                       [](const auto& a, const auto& b) { return a.first > b.first; });
      std::set<std::set<int>> known;
      for (auto& [excess, ids] : groups) {
        std::set<int> members;
        for (const ObservationId id : ids) members.insert(id.index);
        if (known.insert(members).second) report.inseparable.push_back(std::move(ids));
      }
      // A swapped pair: in one photo, each fits where the other is predicted.
      for (std::size_t i = 0; i < left_out.size(); ++i) {
        for (std::size_t j = i + 1; j < left_out.size(); ++j) {
          const Suspect& a = left_out[i];
          const Suspect& b = left_out[j];
          if (a.photo != b.photo || a.point == b.point || a.on_curve || b.on_curve) continue;
          const auto fits_place_of = [&](const Suspect& mark, const Suspect& place) {
            const Observation& observation = network.observation(mark.observation);
            std::vector<const double*> parameters;
            for (const BlockId id : observation.blocks) {
              parameters.push_back(
                  network.block(id == mark.point ? place.point : id).values.data());
            }
            Eigen::VectorXd v(observation.cost->num_residuals());
            if (!observation.cost->Evaluate(parameters.data(), v.data(), nullptr)) return false;
            v /= network.group(observation.group).scale;
            const Eigen::MatrixXd cofactor = covariance->residual_cofactor(place.observation);
            if (!cofactor.allFinite()) return false;
            return v.dot(cofactor.ldlt().solve(v)) < critical_chi_square(2, options.significance);
          };
          if (fits_place_of(a, b) && fits_place_of(b, a))
            report.swaps.push_back({a.observation, b.observation});
        }
      }
      break;
    }
    network.set_active(left_out[best_at].observation, true);
    left_out.erase(left_out.begin() + static_cast<std::ptrdiff_t>(best_at));
  }
  return report;
}

}  // namespace calib::adjust
