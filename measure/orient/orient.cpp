#include "measure/orient/orient.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <limits>
#include <span>

#include <Eigen/Eigenvalues>
#include <Eigen/Geometry>

#include "measure/orient/intersection.h"
#include "measure/orient/mark_table.h"
#include "measure/orient/refine.h"
#include "measure/orient/relative_pose.h"
#include "measure/orient/resection.h"
#include "measure/orient/similarity.h"

namespace measure {
namespace {

using internal::CameraPose;
using internal::IntersectionOutcome;
using internal::MarkTable;
using internal::Model;
using internal::ResectionOutcome;
using internal::Tolerance;
using internal::UsableMark;

/// Fewer common points do not carry one frame over to another with anything left to check it by.
constexpr int kLeastJoiningPoints = 4;
constexpr std::size_t kMaxHypotheses = 4;

/// A model together with why its photos stayed out.
struct Grown {
  Model model;
  std::vector<ResectionOutcome> outcomes;  ///< of each photo
  double factor = 1.0;                     ///< robust σ factor, at least 1
  double score = 0.0;                      ///< see Grower::score
};

class Grower {
 public:
  Grower(const MarkTable& table, const OrientationOptions& options, const Tolerance& tolerance)
      : table_(table), options_(options), tolerance_(tolerance) {}

  [[nodiscard]] bool cancelled() const { return options_.cancelled && options_.cancelled(); }

  /// Resection and intersection until nothing more can be placed, among the allowed photos.
  [[nodiscard]] Grown grow(Model model, const std::vector<bool>& allowed) const {
    Grown grown{std::move(model), std::vector<ResectionOutcome>(table_.photo_count(),
                                                                ResectionOutcome::kTooFewPoints)};
    Model& m = grown.model;
    Tolerance tolerance = tolerance_;
    improve(m, tolerance, 12, 1e-4);
    intersect_missing(m, tolerance);
    // A photo that failed is tried again once the points around it have changed.
    int revision = 0;
    std::vector<int> tried_at(table_.photo_count(), -1);
    int placed_since_refined = 0;
    while (!cancelled()) {
      const int photo = next_photo(m, allowed, tried_at, revision);
      if (photo < 0) {
        if (placed_since_refined == 0) break;
        improve(m, tolerance, 12, 1e-5);
        intersect_missing(m, tolerance);
        placed_since_refined = 0;
        ++revision;
        continue;
      }
      tried_at[photo] = revision;
      grown.outcomes[photo] = internal::resect(table_, m, photo, tolerance, options_.seed);
      if (grown.outcomes[photo] != ResectionOutcome::kPlaced) continue;
      intersect_missing(m, tolerance);
      ++placed_since_refined;
      ++revision;
      // Refined when a fifth more photos stand: errors stay small and the cost stays linear.
      if (placed_since_refined >= std::max(1, m.placed_photos() / 5)) {
        improve(m, tolerance, 8, 1e-4);
        intersect_missing(m, tolerance);
        placed_since_refined = 0;
      }
    }
    finish(grown);
    return grown;
  }

  /// As grow(), but what stands is believed: no adjustment in between.
  [[nodiscard]] Grown go_on(Model model) const {
    Grown grown{std::move(model), std::vector<ResectionOutcome>(table_.photo_count(),
                                                                ResectionOutcome::kTooFewPoints)};
    Model& m = grown.model;
    const Tolerance tolerance = adapted(m);
    judge(m, tolerance.limit);
    drop_bare(m);
    intersect_missing(m, tolerance);
    int revision = 0;
    std::vector<int> tried_at(table_.photo_count(), -1);
    const std::vector<bool> allowed(table_.photo_count(), true);
    while (!cancelled()) {
      const int photo = next_photo(m, allowed, tried_at, revision);
      if (photo < 0) break;
      tried_at[photo] = revision;
      grown.outcomes[photo] = internal::resect(table_, m, photo, tolerance, options_.seed);
      if (grown.outcomes[photo] != ResectionOutcome::kPlaced) continue;
      intersect_missing(m, tolerance);
      ++revision;
    }
    grown.factor = std::max(1.0, factor_of(m));
    return grown;
  }

  /// Full adjustment, marks judged anew, until it settles.
  void finish(Grown& grown) const {
    Model& m = grown.model;
    // Widely first: a ring that closes with some drift must find its own marks again.
    judge(m, 3 * tolerance_.limit);
    for (int round = 0; round < 3 && !cancelled(); ++round) {
      internal::refine(table_, m, refine_options(30, 1e-8));
      const Tolerance tolerance = adapted(m);
      const auto before = m.in_use;
      const int points_before = m.placed_points();
      judge(m, tolerance.limit);
      intersect_missing(m, tolerance);
      drop_loose(m, tolerance);
      if (m.in_use == before && m.placed_points() == points_before) break;
    }
    internal::refine(table_, m, refine_options(50, 1e-14));
    judge(m, adapted(m).limit);
    for (int photo = 0; photo < table_.photo_count(); ++photo) {
      if (m.poses[photo]) {
        grown.outcomes[photo] = ResectionOutcome::kPlaced;
      } else if (grown.outcomes[photo] == ResectionOutcome::kPlaced) {
        grown.outcomes[photo] = ResectionOutcome::kContradiction;  // placed once, and did not last
      }
    }
    grown.factor = std::max(1.0, factor_of(m));
  }

  /// What a blunder exceeds, where the marks are as good as this factor says.
  [[nodiscard]] double limit_for(double factor) const {
    return std::clamp(5 * factor, tolerance_.limit, 5 * tolerance_.limit);
  }

  /// Σ min((v/σ)², limit²) over all marks, those of unplaced photos and points counting limit².
  /// Points that have only their rays' small angle against them are placed for this: it is no
  /// misfit.
  [[nodiscard]] double score(const Model& model, double limit) const {
    Model filled = model;
    intersect_missing(filled, {limit, 1e-5, tolerance_.ambiguity_chi_square});
    double sum = 0;
    for (const UsableMark& mark : table_.marks) {
      double value = limit * limit;
      if (filled.holds(mark)) {
        value = std::min(value, internal::squared_residual(mark, *filled.poses[mark.photo],
                                                           *filled.points[mark.point]));
      }
      sum += value;
    }
    return sum;
  }

  /// Photos that see enough placed points for a good resection, and yet are not placed.
  [[nodiscard]] int refused_photos(const Grown& grown, const std::vector<bool>& allowed) const {
    int refused = 0;
    for (int photo = 0; photo < table_.photo_count(); ++photo) {
      if (allowed[photo] && !grown.model.poses[photo] &&
          visible_points(grown.model, photo) >= internal::kGoodResectionMarks) {
        ++refused;
      }
    }
    return refused;
  }

  [[nodiscard]] int visible_points(const Model& model, int photo) const {
    return static_cast<int>(std::count_if(
        table_.of_photo[photo].begin(), table_.of_photo[photo].end(),
        [&](int index) { return model.points[table_.marks[index].point].has_value(); }));
  }

 private:
  [[nodiscard]] internal::RefineOptions refine_options(int iterations,
                                                       double function_tolerance) const {
    return {iterations, function_tolerance, options_.threads, options_.cancelled};
  }

  void improve(Model& m, Tolerance& tolerance, int iterations, double function_tolerance) const {
    internal::refine(table_, m, refine_options(iterations, function_tolerance));
    tolerance = adapted(m);
    judge(m, tolerance.limit);
    drop_loose(m, tolerance);
  }

  [[nodiscard]] double factor_of(const Model& m) const {
    std::vector<double> squared;
    for (const UsableMark& mark : table_.marks) {
      if (!m.holds(mark)) continue;
      squared.push_back(
          internal::squared_residual(mark, *m.poses[mark.photo], *m.points[mark.point]));
    }
    return internal::robust_factor(std::move(squared));
  }

  /// Marks may be worse than their σ says: the limit follows the residuals, within bounds.
  [[nodiscard]] Tolerance adapted(const Model& m) const {
    Tolerance tolerance = tolerance_;
    tolerance.limit = limit_for(factor_of(m));
    return tolerance;
  }

  /// Decides anew which marks are in use.
  void judge(Model& m, double limit) const {
    for (std::size_t i = 0; i < table_.marks.size(); ++i) {
      const UsableMark& mark = table_.marks[i];
      m.in_use[i] = m.holds(mark) &&
                    internal::squared_residual(mark, *m.poses[mark.photo], *m.points[mark.point]) <=
                        limit * limit;
    }
  }

  /// Takes out points and photos that their marks no longer hold.
  void drop_loose(Model& m, const Tolerance& tolerance) const {
    for (int point = 0; point < table_.point_count(); ++point) {
      if (!m.points[point]) continue;
      int placed = 0, used = 0;
      for (const int index : table_.of_point[point]) {
        if (!m.poses[table_.marks[index].photo]) continue;
        ++placed;
        if (m.in_use[index]) ++used;
      }
      // Where a mark is out, another consensus among the marks may be the better one.
      if (used < placed || used < 2) (void)internal::intersect(table_, m, point, tolerance);
    }
    for (int photo = 0; photo < table_.photo_count(); ++photo) {
      if (!m.poses[photo]) continue;
      int held = 0, used = 0;
      for (const int index : table_.of_photo[photo]) {
        if (m.points[table_.marks[index].point]) ++held;
        if (m.in_use[index]) ++used;
      }
      if (used >= internal::kLeastResectionMarks && 2 * used >= held) continue;
      m.poses[photo].reset();
      for (const int index : table_.of_photo[photo]) {
        m.in_use[index] = false;
        if (m.points[table_.marks[index].point]) {
          (void)internal::intersect(table_, m, table_.marks[index].point, tolerance);
        }
      }
    }
  }

  /// Takes out points and photos that have too few marks left, agreeing or not.
  void drop_bare(Model& m) const {
    const auto held_by = [&](const std::vector<int>& marks) {
      return std::count_if(marks.begin(), marks.end(),
                           [&](int index) { return m.holds(table_.marks[index]); });
    };
    for (bool changed = true; changed;) {
      changed = false;
      for (int photo = 0; photo < table_.photo_count(); ++photo) {
        if (m.poses[photo] && held_by(table_.of_photo[photo]) < internal::kLeastResectionMarks) {
          m.poses[photo].reset();
          changed = true;
        }
      }
      for (int point = 0; point < table_.point_count(); ++point) {
        if (m.points[point] && held_by(table_.of_point[point]) < 2) {
          m.points[point].reset();
          changed = true;
        }
      }
    }
    for (std::size_t i = 0; i < table_.marks.size(); ++i) {
      m.in_use[i] = m.in_use[i] && m.holds(table_.marks[i]);
    }
  }

  void intersect_missing(Model& m, const Tolerance& tolerance) const {
    for (int point = 0; point < table_.point_count(); ++point) {
      if (!m.points[point]) (void)internal::intersect(table_, m, point, tolerance);
    }
  }

  [[nodiscard]] int next_photo(const Model& m, const std::vector<bool>& allowed,
                               const std::vector<int>& tried_at, int revision) const {
    int best = -1, most = 0;
    for (int photo = 0; photo < table_.photo_count(); ++photo) {
      if (!allowed[photo] || m.poses[photo] || tried_at[photo] == revision) continue;
      const int visible = visible_points(m, photo);
      if (visible > most) {
        most = visible;
        best = photo;
      }
    }
    return most >= internal::kLeastResectionMarks ? best : -1;
  }

  const MarkTable& table_;
  const OrientationOptions& options_;
  const Tolerance& tolerance_;
};

/// Share of the marks of placed photos and points that are left out.
double share_left_out(const MarkTable& table, const Model& model) {
  std::size_t held = 0, out = 0;
  for (std::size_t i = 0; i < table.marks.size(); ++i) {
    if (!model.holds(table.marks[i])) continue;
    ++held;
    if (!model.in_use[i]) ++out;
  }
  return held > 0 ? static_cast<double>(out) / static_cast<double>(held) : 0.0;
}

/// Whether two models show the same shape and poses, so that they are one solution.
bool same_solution(const Model& a, const Model& b) {
  std::vector<Eigen::Vector3d> from, to;
  for (std::size_t i = 0; i < a.points.size(); ++i) {
    if (a.points[i] && b.points[i]) {
      from.push_back(*a.points[i]);
      to.push_back(*b.points[i]);
    }
  }
  const auto b_from_a = fit_similarity(from, to);
  if (!b_from_a) return false;
  double squared = 0, size = 0;
  Eigen::Vector3d mean = Eigen::Vector3d::Zero();
  for (const auto& p : to) mean += p / static_cast<double>(to.size());
  for (std::size_t i = 0; i < to.size(); ++i) {
    squared += (*b_from_a * from[i] - to[i]).squaredNorm();
    size += (to[i] - mean).squaredNorm();
  }
  if (squared > 1e-4 * size) return false;  // 1 % of the size
  for (std::size_t i = 0; i < a.poses.size(); ++i) {
    if (!a.poses[i] || !b.poses[i]) continue;
    const Eigen::Matrix3d turned = a.poses[i]->rotation * b_from_a->rotation.transpose();
    if (Eigen::AngleAxisd(turned.transpose() * b.poses[i]->rotation).angle() > 0.03) return false;
  }
  return true;
}

/// One group: its solutions, best first, all but the first within the ambiguity limit.
struct GroupSolution {
  std::vector<Grown> solutions;
  internal::StartSearch search;
  double ambiguity_bar = 0.0;
};

std::vector<int> placed_photos(const Model& model) {
  std::vector<int> photos;
  for (std::size_t i = 0; i < model.poses.size(); ++i) {
    if (model.poses[i]) photos.push_back(static_cast<int>(i));
  }
  return photos;
}

/// Whether `other` ends in the best solution when both go by the same marks: then it is no rival,
/// only another choice of blunders.
bool falls_back(const MarkTable& table, const Grown& best, const Grown& other,
                const OrientationOptions& options) {
  Model trial = other.model;
  for (std::size_t i = 0; i < table.marks.size(); ++i) {
    trial.in_use[i] = best.model.in_use[i] && trial.holds(table.marks[i]);
  }
  internal::refine(table, trial, {100, 1e-12, options.threads, options.cancelled});
  return same_solution(best.model, trial);
}

/// Best first by one common limit; of equal solutions only the best stays.
void rank(std::vector<Grown>& solutions, const Grower& grower) {
  if (solutions.empty()) return;
  const double factor =
      std::min_element(solutions.begin(), solutions.end(), [](const Grown& a, const Grown& b) {
        return a.factor < b.factor;
      })->factor;
  for (Grown& solution : solutions)
    solution.score = grower.score(solution.model, grower.limit_for(factor));
  std::stable_sort(solutions.begin(), solutions.end(),
                   [](const Grown& a, const Grown& b) { return a.score < b.score; });
  std::vector<Grown> distinct;
  for (Grown& solution : solutions) {
    const bool known = std::any_of(distinct.begin(), distinct.end(), [&](const Grown& other) {
      return same_solution(other.model, solution.model);
    });
    if (!known && distinct.size() < kMaxHypotheses) distinct.push_back(std::move(solution));
  }
  solutions = std::move(distinct);
}

GroupSolution solve_group(const MarkTable& table, const OrientationOptions& options,
                          const Tolerance& tolerance, const Grower& grower,
                          const std::vector<bool>& allowed) {
  GroupSolution group;
  group.search = internal::find_starts(table, allowed, tolerance, options.seed, options.cancelled);
  int tried = 0;
  for (const internal::TwoViewStart& start : group.search.starts) {
    if (tried == options.max_starts || grower.cancelled()) break;
    ++tried;
    for (const internal::RelativePose& pose : start.poses) {
      Model model = internal::start_model(table, start, pose, tolerance);
      if (model.placed_points() < internal::kLeastCommonPoints) continue;
      Grown grown = grower.grow(std::move(model), allowed);
      if (grown.model.placed_photos() < 2 ||
          grown.model.placed_points() < internal::kLeastCommonPoints)
        continue;
      group.solutions.push_back(std::move(grown));
    }
    rank(group.solutions, grower);
    if (group.solutions.empty()) continue;
    // Good enough: nothing that could be resected was refused, and few marks of what is placed are
    // out.
    const Grown& best = group.solutions.front();
    if (grower.refused_photos(best, allowed) == 0 && share_left_out(table, best.model) <= 0.1)
      break;
  }
  if (group.solutions.empty()) return group;
  for (std::size_t i = 1; i < group.solutions.size();) {
    if (falls_back(table, group.solutions.front(), group.solutions[i], options)) {
      group.solutions.erase(group.solutions.begin() + static_cast<std::ptrdiff_t>(i));
    } else {
      ++i;
    }
  }
  const Grown& best = group.solutions.front();
  const int used =
      static_cast<int>(std::count(best.model.in_use.begin(), best.model.in_use.end(), true));
  const int unknowns = 6 * best.model.placed_photos() + 3 * best.model.placed_points() - 7;
  const double bar =
      internal::ambiguity_bar(tolerance, 2 * used - unknowns, unknowns) * best.factor * best.factor;
  const std::vector<int> photos = placed_photos(best.model);
  group.ambiguity_bar = bar;
  std::erase_if(group.solutions, [&, best_score = best.score](const Grown& other) {
    return other.score - best_score >= bar || placed_photos(other.model) != photos;
  });
  return group;
}

/// `other` moved into the frame of `main` by the points that both hold; nothing if these do not
/// carry it.
std::optional<Grown> joined(const MarkTable& table, const Grower& grower, const Grown& main,
                            const Grown& other) {
  std::vector<Eigen::Vector3d> from, to;
  for (int point = 0; point < table.point_count(); ++point) {
    if (main.model.points[point] && other.model.points[point]) {
      from.push_back(*other.model.points[point]);
      to.push_back(*main.model.points[point]);
    }
  }
  const int common = static_cast<int>(from.size());
  if (common < kLeastJoiningPoints) return std::nullopt;
  Eigen::Vector3d mean = Eigen::Vector3d::Zero();
  for (const auto& p : to) mean += p / common;
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (const auto& p : to) scatter += (p - mean) * (p - mean).transpose();
  const Eigen::Vector3d extents =
      Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(scatter).eigenvalues();
  if (extents[1] < 0.0025 * extents[2]) return std::nullopt;  // a line, to one part in twenty
  // A blundered point spoils the fit of all: the three points that most others agree with lead.
  std::optional<Similarity> best;
  double best_score = std::numeric_limits<double>::infinity();
  const double squared_reach = 0.0025 * scatter.trace() / common;  // 5 % of the size, squared
  int agreeing = 0;
  int samples = 0;
  for (int a = 0; a < common && samples < 300; ++a) {
    for (int b = a + 1; b < common && samples < 300; ++b) {
      for (int c = b + 1; c < common && samples < 300; ++c) {
        ++samples;
        const std::array<Eigen::Vector3d, 3> three_from{from[a], from[b], from[c]},
            three_to{to[a], to[b], to[c]};
        const auto fit = fit_similarity(three_from, three_to);
        if (!fit) continue;
        double score = 0;
        int within = 0;
        for (int i = 0; i < common; ++i) {
          const double squared = (*fit * from[i] - to[i]).squaredNorm();
          score += std::min(squared, squared_reach);
          if (squared < squared_reach) ++within;
        }
        if (score < best_score) {
          best_score = score;
          best = fit;
          agreeing = within;
        }
      }
    }
  }
  if (!best || agreeing < kLeastJoiningPoints || agreeing < 0.6 * common) return std::nullopt;

  Grown result = main;
  for (int photo = 0; photo < table.photo_count(); ++photo) {
    if (!other.model.poses[photo]) continue;
    const CameraPose& pose = *other.model.poses[photo];
    CameraPose moved;
    moved.rotation = pose.rotation * best->rotation.transpose();
    moved.translation = best->scale * pose.translation - moved.rotation * best->translation;
    result.model.poses[photo] = moved;
  }
  for (int point = 0; point < table.point_count(); ++point) {
    if (!result.model.points[point] && other.model.points[point]) {
      result.model.points[point] = *best * *other.model.points[point];
    }
  }
  for (std::size_t i = 0; i < table.marks.size(); ++i) {
    result.model.in_use[i] = main.model.in_use[i] || other.model.in_use[i];
  }
  const int wanted = main.model.placed_photos() + other.model.placed_photos();
  grower.finish(result);
  if (result.model.placed_photos() < wanted) return std::nullopt;
  // Sound only where the one frame explains the marks as the two did.
  const double limit = grower.limit_for(main.factor);
  const double gain = grower.score(main.model, limit) - grower.score(result.model, limit);
  if (!(gain > 0) || result.factor > 2 * std::max(main.factor, other.factor)) return std::nullopt;
  return result;
}

/// More photos in the largest group, or as many with less than half the marks left out.
bool clearly_better(const MarkTable& table, const std::vector<GroupSolution>& found,
                    const std::vector<GroupSolution>& known) {
  if (found.empty() || known.empty()) return !found.empty();
  const Model &a = found.front().solutions.front().model,
              &b = known.front().solutions.front().model;
  if (a.placed_photos() != b.placed_photos()) return a.placed_photos() > b.placed_photos();
  return share_left_out(table, a) < 0.5 * share_left_out(table, b);
}

std::string quoted(const std::string& name) { return "“" + name + "”"; }

std::string list_of(const std::vector<std::string>& names) {
  constexpr std::size_t kShown = 6;
  std::string text;
  for (std::size_t i = 0; i < names.size() && i < kShown; ++i) {
    if (i > 0) text += i + 1 == names.size() ? " and " : ", ";
    text += quoted(names[i]);
  }
  if (names.size() > kShown) text += " and " + std::to_string(names.size() - kShown) + " more";
  return text;
}

std::string counted(int count, const std::string& singular, const std::string& plural) {
  return std::to_string(count) + " " + (count == 1 ? singular : plural);
}

OrientationFailure failure(OrientationError error, std::string sentence) {
  return {error, {std::move(sentence), calib::Blame::kSurvey}};
}

OrientationFailure why_no_start(const MarkTable& table, const OrientationInput& input,
                                const internal::StartSearch& search) {
  const auto photo_name = [&](int photo) {
    return quoted(input.photos[table.photo_input[photo]].name);
  };
  if (!search.any_common) {
    std::string sentence =
        "No two photos share " + std::to_string(internal::kLeastCommonPoints) + " marked points";
    if (search.most_common_points > 0) {
      const int missing = internal::kLeastCommonPoints - search.most_common_points;
      sentence += "; " + photo_name(search.best_first) + " and " + photo_name(search.best_second) +
                  " come nearest with " + std::to_string(search.most_common_points) + ": mark " +
                  counted(missing, "more point", "more points") + " in both.";
    } else {
      sentence += ": mark the same points in two photos or more.";
    }
    return failure(OrientationError::kTooFewCommonPoints, std::move(sentence));
  }
  if (!search.any_spread) {
    return failure(OrientationError::kPointsInLine,
                   "All marked points lie in one line, about which the photos could turn freely: "
                   "mark points off "
                   "that line.");
  }
  if (!search.any_parallax) {
    return failure(OrientationError::kOneSpot,
                   "All photos seem to be taken from one spot: turning the camera alone explains "
                   "their marks, and "
                   "shows no depth. Add photos taken from further to the side.");
  }
  return failure(OrientationError::kContradiction,
                 "No two photos have marks that fit together: names may be swapped between points, "
                 "or the camera may "
                 "be another one. Check the marks of " +
                     photo_name(search.best_first) + " and " + photo_name(search.best_second) +
                     " first.");
}

Orientation to_orientation(const MarkTable& table, const OrientationInput& input,
                           const Grown& grown, double blunder_limit) {
  Orientation result;
  result.poses.resize(input.photos.size());
  result.points.resize(input.point_names.size());
  result.mark_in_use.assign(input.marks.size(), false);

  // The frame: centroid and rms radius of the points, axes of the first placed photo.
  Similarity normal_from_model;
  Eigen::Vector3d centroid = Eigen::Vector3d::Zero();
  const int count = grown.model.placed_points();
  for (const auto& point : grown.model.points) {
    if (point) centroid += *point / count;
  }
  double squared_radius = 0;
  for (const auto& point : grown.model.points) {
    if (point) squared_radius += (*point - centroid).squaredNorm() / count;
  }
  normal_from_model.scale = 1 / std::sqrt(squared_radius);
  for (const auto& pose : grown.model.poses) {
    if (pose) {
      normal_from_model.rotation = pose->rotation;
      break;
    }
  }
  normal_from_model.translation =
      -normal_from_model.scale * (normal_from_model.rotation * centroid);

  for (int photo = 0; photo < table.photo_count(); ++photo) {
    if (!grown.model.poses[photo]) continue;
    const CameraPose& pose = *grown.model.poses[photo];
    result.poses[table.photo_input[photo]] =
        normal_from_model.apply(calib::Pose::from_matrix(pose.rotation, pose.translation));
  }
  for (int point = 0; point < table.point_count(); ++point) {
    if (grown.model.points[point]) {
      result.points[table.point_input[point]] = normal_from_model * *grown.model.points[point];
    }
  }
  double squared_px = 0;
  int used = 0;
  for (std::size_t i = 0; i < table.marks.size(); ++i) {
    const UsableMark& mark = table.marks[i];
    if (!grown.model.holds(mark)) continue;
    if (!grown.model.in_use[i]) {
      result.chi_square += blunder_limit * blunder_limit;
      continue;
    }
    result.mark_in_use[mark.input] = true;
    const CameraPose& pose = *grown.model.poses[mark.photo];
    const Eigen::Vector2d residual =
        calib::project(table.cameras[mark.photo], pose * *grown.model.points[mark.point]) -
        mark.position_px;
    squared_px += residual.squaredNorm();
    result.chi_square += residual.squaredNorm() / (mark.sigma_px * mark.sigma_px);
    ++used;
  }
  result.rms_px = used > 0 ? std::sqrt(squared_px / used) : 0.0;
  return result;
}

void explain_photos(const MarkTable& table, const OrientationInput& input, const Grower& grower,
                    const Grown& main, const std::vector<std::vector<int>>& other_groups,
                    OrientationResult& result) {
  for (int photo = 0; photo < table.photo_count(); ++photo) {
    if (main.model.poses[photo]) continue;
    std::string& lacks = result.photo_lacks[table.photo_input[photo]];
    const int marks = static_cast<int>(table.of_photo[photo].size());
    const int visible = grower.visible_points(main.model, photo);
    const auto group = std::find_if(
        other_groups.begin(), other_groups.end(),
        [&](const std::vector<int>& g) { return std::find(g.begin(), g.end(), photo) != g.end(); });
    if (marks == 0) {
      lacks = "has no marks: mark at least " + std::to_string(internal::kGoodResectionMarks) +
              " points in it that are seen elsewhere";
    } else if (group != other_groups.end()) {
      std::vector<std::string> names;
      std::vector<bool> shared(table.point_count(), false);
      for (const int member : *group) {
        if (member != photo) names.push_back(input.photos[table.photo_input[member]].name);
        for (const int index : table.of_photo[member]) {
          if (main.model.points[table.marks[index].point]) shared[table.marks[index].point] = true;
        }
      }
      const int common = static_cast<int>(std::count(shared.begin(), shared.end(), true));
      lacks =
          "belongs with " + list_of(names) + " to a group of its own, which shares " +
          (common == 0 ? std::string("no points") : "only " + counted(common, "point", "points")) +
          " with the oriented photos: mark " +
          std::to_string(std::max(2, internal::kGoodResectionMarks - common)) +
          " more of their points, well spread, in a photo of this group, or add a photo that shows "
          "both";
    } else if (visible < internal::kLeastResectionMarks) {
      const int missing = internal::kLeastResectionMarks - visible;
      lacks = "needs " + counted(missing, "more mark", "more marks") + " on points seen elsewhere";
    } else {
      switch (main.outcomes[photo]) {
        case ResectionOutcome::kAmbiguous:
          lacks = "could stand in two places, as its " + std::to_string(visible) +
                  " points tell no more: mark 2 more in it, off the plane of the others";
          break;
        case ResectionOutcome::kWeak:
          lacks =
              "is held by points in a line or close together only: mark 2 more in it, well spread";
          break;
        case ResectionOutcome::kContradiction:
          lacks =
              "has marks that do not fit the other photos: check its marks for swapped or wrong "
              "names";
          break;
        case ResectionOutcome::kTooFewPoints:
        case ResectionOutcome::kPlaced:
          lacks = "needs 2 more marks on points seen elsewhere";
          break;
      }
    }
  }
}

void explain_points(const MarkTable& table, const Grown& main, const Tolerance& tolerance,
                    OrientationResult& result) {
  for (int point = 0; point < table.point_count(); ++point) {
    if (main.model.points[point]) continue;
    std::string& lacks = result.point_lacks[table.point_input[point]];
    const auto& marks = table.of_point[point];
    const auto placed = std::count_if(marks.begin(), marks.end(), [&](int index) {
      return main.model.poses[table.marks[index].photo].has_value();
    });
    if (marks.empty()) {
      lacks = "is not marked: mark it in two photos or more";
    } else if (marks.size() == 1) {
      lacks = "is marked in one photo only: mark it in a second one";
    } else if (placed < 2) {
      lacks = placed == 0
                  ? "is marked in photos only that are not oriented: mark it in two oriented ones"
                  : "is marked in one oriented photo only: mark it in a second one";
    } else {
      Model trial = main.model;
      lacks =
          internal::intersect(table, trial, point, tolerance) ==
                  IntersectionOutcome::kRaysNearlyParallel
              ? "is seen from one direction only: mark it in a photo taken from further to the side"
              : "has marks that contradict each other: check whether all of them show the same "
                "point";
    }
  }
}

}  // namespace

calib::Result<OrientationResult, OrientationFailure> orient_from(
    const OrientationInput& input, const KnownOrientation& known,
    const OrientationOptions& options) {
  assert(known.poses.size() == input.photos.size());
  assert(known.points.size() == input.point_names.size());
  const MarkTable table = internal::make_mark_table(input);
  const Tolerance tolerance{options.blunder_limit, options.min_intersection_angle_rad,
                            options.ambiguity_chi_square};
  const Grower grower(table, options, tolerance);
  Model model(table);
  for (int photo = 0; photo < table.photo_count(); ++photo) {
    if (const auto& pose = known.poses[table.photo_input[photo]]) {
      model.poses[photo] = CameraPose{pose->rotation_matrix(), pose->translation};
    }
  }
  for (int point = 0; point < table.point_count(); ++point) {
    model.points[point] = known.points[table.point_input[point]];
  }
  const Grown grown = grower.go_on(std::move(model));
  if (grown.model.placed_photos() < 2) {
    return calib::Unexpected(failure(OrientationError::kTooFewPhotos,
                                     "Fewer than two photos keep enough marks to stand: mark the "
                                     "same points in two photos or more."));
  }
  OrientationResult result;
  result.solutions.push_back(to_orientation(table, input, grown, options.blunder_limit));
  result.photo_lacks.resize(input.photos.size());
  result.point_lacks.resize(input.point_names.size());
  PhotoGroup group;
  for (const int photo : placed_photos(grown.model)) {
    group.photos.push_back(table.photo_input[photo]);
  }
  std::sort(group.photos.begin(), group.photos.end());
  result.groups.push_back(std::move(group));
  explain_photos(table, input, grower, grown, {}, result);
  explain_points(table, grown, tolerance, result);
  return result;
}

calib::Result<OrientationResult, OrientationFailure> orient(const OrientationInput& input,
                                                            const OrientationOptions& options) {
  for ([[maybe_unused]] const MarkToOrient& mark : input.marks) {
    assert(mark.photo >= 0 && mark.photo < static_cast<int>(input.photos.size()));
    assert(mark.point >= 0 && mark.point < static_cast<int>(input.point_names.size()));
    assert(mark.sigma_px > 0);
  }
  const MarkTable table = internal::make_mark_table(input);
  const auto with_marks =
      std::count_if(table.of_photo.begin(), table.of_photo.end(),
                    [](const std::vector<int>& marks) { return !marks.empty(); });
  if (with_marks < 2) {
    return calib::Unexpected(failure(
        OrientationError::kTooFewPhotos,
        with_marks == 0 ? "No photo has marks: mark the same points in two photos or more."
                        : "Only one photo has marks: mark the same points in a second one."));
  }
  const auto cancelled = [&] { return options.cancelled && options.cancelled(); };
  const auto stopped = [] {
    return calib::Unexpected(
        failure(OrientationError::kCancelled, "Orienting was cancelled: nothing has changed."));
  };

  // Two photos have no third one to settle the depth of far points, and the second solution of a
  // plane often lies far out: there every angle counts.
  const double min_angle_rad = with_marks == 2 ? std::min(0.002, options.min_intersection_angle_rad)
                                               : options.min_intersection_angle_rad;
  // Marks may be worse than their σ says. The wide tolerance is for those surveys only: it lets
  // more pass.
  std::vector<GroupSolution> groups;
  Tolerance tolerance;
  internal::StartSearch first_search;
  for (const double widening : {1.0, 4.0}) {
    const Tolerance tried{widening * options.blunder_limit, min_angle_rad,
                          options.ambiguity_chi_square};
    const Grower grower(table, options, tried);
    std::vector<bool> allowed(table.photo_count(), true);
    std::vector<GroupSolution> found;
    while (true) {
      GroupSolution group = solve_group(table, options, tried, grower, allowed);
      if (cancelled()) return stopped();
      if (found.empty() && widening == 1.0) first_search = group.search;
      if (group.solutions.empty()) break;
      for (const int photo : placed_photos(group.solutions.front().model)) allowed[photo] = false;
      found.push_back(std::move(group));
    }
    std::stable_sort(found.begin(), found.end(),
                     [](const GroupSolution& a, const GroupSolution& b) {
                       return a.solutions.front().model.placed_photos() >
                              b.solutions.front().model.placed_photos();
                     });
    if (clearly_better(table, found, groups)) {
      groups = std::move(found);
      tolerance = tried;
    }
    if (groups.empty()) {
      if (!first_search.any_common || !first_search.any_spread || !first_search.any_parallax) break;
      continue;
    }
    const Grown& best = groups.front().solutions.front();
    if (grower.refused_photos(best, std::vector<bool>(table.photo_count(), true)) == 0 &&
        share_left_out(table, best.model) <= 0.05) {
      break;
    }
  }
  if (groups.empty()) return calib::Unexpected(why_no_start(table, input, first_search));

  const Grower grower(table, options, tolerance);
  for (std::size_t other = 1; other < groups.size();) {
    // Joined only where each side is certain of its own shape.
    std::optional<Grown> both;
    if (groups[0].solutions.size() == 1 && groups[other].solutions.size() == 1) {
      both = joined(table, grower, groups[0].solutions.front(), groups[other].solutions.front());
    }
    if (both) {
      groups[0].solutions.front() =
          grower.grow(std::move(both->model), std::vector<bool>(table.photo_count(), true));
      groups.erase(groups.begin() + static_cast<std::ptrdiff_t>(other));
      other = 1;
    } else {
      ++other;
    }
    if (cancelled()) return stopped();
  }

  const Grown& main = groups.front().solutions.front();
  OrientationResult result;
  result.ambiguity_bar = groups.front().ambiguity_bar;
  for (const Grown& solution : groups.front().solutions) {
    result.solutions.push_back(to_orientation(table, input, solution, options.blunder_limit));
  }
  if (result.solutions.size() > 1) {
    std::vector<std::string> names;
    for (const int photo : placed_photos(main.model))
      names.push_back(input.photos[table.photo_input[photo]].name);
    result.ambiguity =
        (result.solutions.size() == 2 ? std::string("Two shapes fit")
                                      : std::to_string(result.solutions.size()) + " shapes fit") +
        " the marks of " + list_of(names) + ": add a " +
        (names.size() == 2 ? "third photo" : "further photo") + ", taken from another side.";
  }
  result.photo_lacks.resize(input.photos.size());
  result.point_lacks.resize(input.point_names.size());
  std::vector<std::vector<int>> other_groups;
  for (std::size_t g = 0; g < groups.size(); ++g) {
    const Model& model = groups[g].solutions.front().model;
    PhotoGroup group;
    for (const int photo : placed_photos(model)) {
      // A photo of a lesser group may have joined the main one since.
      if (g == 0 || !main.model.poses[photo]) group.photos.push_back(table.photo_input[photo]);
    }
    for (int point = 0; point < table.point_count(); ++point) {
      if (model.points[point]) group.points.push_back(table.point_input[point]);
    }
    std::sort(group.photos.begin(), group.photos.end());
    std::sort(group.points.begin(), group.points.end());
    if (g > 0) other_groups.push_back(placed_photos(model));
    result.groups.push_back(std::move(group));
  }
  explain_photos(table, input, grower, main, other_groups, result);
  explain_points(table, main, tolerance, result);
  std::vector<bool> usable(input.marks.size(), false);
  for (std::size_t i = 0; i < table.marks.size(); ++i) {
    usable[table.marks[i].input] = true;
    if (main.model.holds(table.marks[i]) && !main.model.in_use[i])
      result.gross_marks.push_back(table.marks[i].input);
  }
  for (std::size_t i = 0; i < input.marks.size(); ++i) {
    // Beyond the camera's reach: no ray exists, whatever the photo.
    if (!usable[i]) result.gross_marks.push_back(static_cast<int>(i));
  }
  std::sort(result.gross_marks.begin(), result.gross_marks.end());
  return result;
}

}  // namespace measure
