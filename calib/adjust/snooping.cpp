#include "calib/adjust/snooping.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>

#include "calib/adjust/distributions.h"
#include "calib/adjust/linearised.h"

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

/// Marks that see a block, by block: to know what is left of a point when a mark is taken away.
std::map<int, int> active_marks(const Network& network, std::span<const Suspect> suspects,
                                bool by_photo) {
  std::map<int, int> count;
  for (const Suspect& suspect : suspects) {
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

  // Strongest first: the one that fails by most is left out and everything adjusted anew, because a
  // blunder bends the residuals of its neighbours. Marks that share neither photo nor point with it
  // hardly feel it and may go in the same round.
  for (;;) {
    solve(network, datum, options.solve);
    const auto covariance = Covariance::compute(network, datum);
    if (!covariance) return Unexpected(covariance.error());
    struct Failure {
      double excess;
      Suspect suspect;
    };
    std::vector<Failure> failures;
    std::map<int, std::vector<double>>
        by_group;  // statistics as χ² of one direction, for the robust scale
    std::vector<std::pair<Suspect, Statistic>> statistics;
    for (const Suspect& suspect : suspects) {
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
    if (failures.empty()) break;
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
      if (on_point[suspect.point.index] <= 2 || in_photo[suspect.photo] <= 4) continue;
      if (left_out.size() >= most) {
        report.gave_up = true;
        break;
      }
      network.set_active(suspect.observation, false);
      --on_point[suspect.point.index];
      --in_photo[suspect.photo];
      left_out.push_back(suspect);
      photos.insert(suspect.photo);
      points.insert(suspect.point.index);
      changed = true;
    }
    if (!changed || report.gave_up) break;
  }

  // Back in, best first, whoever fits the rest after all.
  FitStatistics fit;
  for (;;) {
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
    if (best_at == left_out.size()) {
      // What stays out is doubted; what no test controls is said.
      for (const Suspect& suspect : left_out) {
        const MarkTest test =
            test_mark(network, *covariance, fit, suspect.observation, options.significance);
        report.doubted.push_back({suspect.observation, test.w, test.critical_w});
      }
      std::sort(report.doubted.begin(), report.doubted.end(),
                [](const DoubtedMark& a, const DoubtedMark& b) { return a.w > b.w; });
      std::map<int, std::vector<Suspect>> by_point;
      for (const Suspect& suspect : suspects) {
        if (!network.observation(suspect.observation).active) continue;
        const Statistic s = statistic(network, *covariance, suspect.observation);
        if (s.redundancy < kLeastControlled) report.uncontrolled.push_back(suspect.observation);
        by_point[suspect.point.index].push_back(suspect);
      }
      // Failing marks of points that could not be reduced further: one of these.
      for (const auto& [point, marks] : by_point) {
        if (marks.size() > 2) continue;
        bool failing = false;
        for (const Suspect& suspect : marks) {
          const MarkTest test =
              test_mark(network, *covariance, fit, suspect.observation, options.significance);
          failing = failing || test.w > test.critical_w;
        }
        if (!failing) continue;
        std::vector<ObservationId> ids;
        for (const Suspect& suspect : marks) ids.push_back(suspect.observation);
        report.inseparable.push_back(std::move(ids));
      }
      // A swapped pair: in one photo, each fits where the other is predicted.
      for (std::size_t i = 0; i < left_out.size(); ++i) {
        for (std::size_t j = i + 1; j < left_out.size(); ++j) {
          const Suspect& a = left_out[i];
          const Suspect& b = left_out[j];
          if (a.photo != b.photo || a.point == b.point) continue;
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
