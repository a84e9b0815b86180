#include "measure/refine/crossing.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <Eigen/Dense>

#include "measure/refine/grey_fit.h"
#include "measure/refine/grey_patch.h"
#include "measure/refine/straight_edge.h"

namespace measure {
namespace {

constexpr double kUsualHalf_px = 34.0;
// Lines nearer to parallel than this fix their crossing badly and run into one another's blur.
constexpr double kLeastAngle_rad = 18.0 * std::numbers::pi / 180.0;
constexpr double kWorst_px = 0.5;

double angle_between(const StraightLine& a, const StraightLine& b) {
  return std::abs(std::asin(std::clamp(std::sin(a.direction_rad - b.direction_rad), -1.0, 1.0)));
}

Eigen::Vector2d meeting_px(const StraightLine& a, const StraightLine& b) {
  Eigen::Matrix2d rows;
  rows << a.left().transpose(), b.left().transpose();
  const Eigen::Vector2d offsets(a.offset_px + a.left().dot(a.origin_px),
                                b.offset_px + b.left().dot(b.origin_px));
  return rows.inverse() * offsets;
}

struct Pair {
  const StraightLine* a = nullptr;
  const StraightLine* b = nullptr;
  Eigen::Vector2d meeting;
  double score = 0.0;
};

struct FittedPair {
  FittedEdge a, b;
  Eigen::Vector2d meeting;
};

// Fits both lines of a pair; once more where the crossing has moved.
calib::Result<FittedPair, MarkRefusal> fit_pair(const GreyPatch& patch, const Pair& pair,
                                                double half_px, const RefineOptions& options) {
  StraightLine a = *pair.a, b = *pair.b;
  Eigen::Vector2d meeting = pair.meeting;
  for (int round = 0;; ++round) {
    EdgeStretch stretch;
    stretch.half_px = half_px;
    stretch.crossing_px = meeting;
    // Beyond the blur and the rounding of the corner, further where the lines part slowly.
    stretch.left_out_px = 3.0 + 2.5 / std::tan(0.5 * angle_between(a, b));
    auto first = fit_edge(patch, a, stretch, options);
    if (!first) {
      return calib::Unexpected(first.error());
    }
    auto second = fit_edge(patch, b, stretch, options);
    if (!second) {
      return calib::Unexpected(second.error());
    }
    if (angle_between(first->line, second->line) < kLeastAngle_rad) {
      return calib::Unexpected(MarkRefusal::kOneDirection);
    }
    const Eigen::Vector2d moved = meeting_px(first->line, second->line);
    const bool stands = (moved - meeting).norm() < 0.5;
    meeting = moved;
    if (stands || round == 2) {
      return FittedPair{*first, *second, meeting};
    }
    a = first->line;
    b = second->line;
  }
}

// Both flanks of a narrow line are found as lines of their own, and lead to the same fit.
bool is_along(const StraightLine& found, const FittedPair& fitted) {
  constexpr double kFlank_px = 4.0, kTurn_rad = 0.12;
  for (const auto* edge : {&fitted.a, &fitted.b}) {
    const Eigen::Vector2d offset =
        edge->line.origin_px + edge->line.offset_px * edge->line.left() - found.origin_px;
    if (angle_between(found, edge->line) < kTurn_rad &&
        std::abs(found.left().dot(offset) - found.offset_px) < kFlank_px) {
      return true;
    }
  }
  return false;
}

// With the lines' left normals as rows of L, L x = offsets: errors of offset and direction carry
// over as L⁻¹ (δoffset + arm · δdirection), the arm being the crossing's place along each line.
Eigen::Matrix2d meeting_covariance(const FittedPair& pair) {
  Eigen::Matrix2d rows;
  rows << pair.a.line.left().transpose(), pair.b.line.left().transpose();
  Eigen::Vector2d variance;
  const FittedEdge* edges[] = {&pair.a, &pair.b};
  for (int k = 0; k < 2; ++k) {
    const auto& edge = *edges[k];
    const double arm = edge.line.along().dot(pair.meeting - edge.line.origin_px);
    const Eigen::Vector2d weight(1.0, arm);
    variance[k] = weight.dot(edge.covariance * weight);
  }
  const Eigen::Matrix2d inverse = rows.inverse();
  return inverse * variance.asDiagonal() * inverse.transpose();
}

}  // namespace

Refinement refine_crossing(const PhotoWindow& photo, const Eigen::Vector2d& position_px,
                           const RefineOptions& options) {
  const double half_px = options.half_window_px.value_or(kUsualHalf_px);
  const GreyPatch patch(photo, position_px, options.radius_px + half_px + 10.0);
  if (!patch.holds(position_px, 10.0)) {
    return calib::Unexpected(MarkRefusal::kLeavesPhoto);
  }
  const auto lines =
      lines_about(patch, position_px, half_px + options.radius_px, options.radius_px);
  // A line needs a third of the strongest one's votes, else texture would do.
  std::vector<Pair> pairs;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    for (std::size_t j = i + 1; j < lines.size(); ++j) {
      if (angle_between(lines[i], lines[j]) < kLeastAngle_rad ||
          lines[j].votes < 0.3 * lines[i].votes) {
        continue;
      }
      const Eigen::Vector2d meeting = meeting_px(lines[i], lines[j]);
      if ((meeting - position_px).norm() <= options.radius_px + 1.5) {
        pairs.push_back(
            {&lines[i], &lines[j], meeting, std::sqrt(lines[i].votes * lines[j].votes)});
      }
    }
  }
  if (pairs.empty()) {
    constexpr double kFewVotes = 60.0;
    return calib::Unexpected(lines.empty() || lines.front().votes < kFewVotes
                                 ? MarkRefusal::kLowContrast
                                 : MarkRefusal::kOneDirection);
  }
  std::sort(pairs.begin(), pairs.end(),
            [](const Pair& a, const Pair& b) { return a.score > b.score; });
  constexpr std::size_t kMostPairs = 3;
  pairs.resize(std::min(pairs.size(), kMostPairs));
  std::optional<FittedPair> best;
  double best_score = 0.0;
  std::optional<MarkRefusal> why;
  for (const Pair& pair : pairs) {
    if (best && is_along(*pair.a, *best) && is_along(*pair.b, *best)) {
      continue;
    }
    auto fitted = fit_pair(patch, pair, half_px, options);
    if (!fitted) {
      why = why ? why : fitted.error();
      continue;
    }
    if ((fitted->meeting - position_px).norm() > options.radius_px) {
      why = why ? why : MarkRefusal::kWouldJump;
      continue;
    }
    if (!best) {
      best = *fitted;
      best_score = pair.score;
    } else if (pair.score > 0.8 * best_score && (fitted->meeting - best->meeting).norm() > 1.0) {
      return calib::Unexpected(MarkRefusal::kAmbiguous);
    }
  }
  if (!best) {
    // One of both fits no line: what is left is a single straight thing.
    return calib::Unexpected(*why == MarkRefusal::kLowContrast || *why == MarkRefusal::kTooSmall
                                 ? MarkRefusal::kOneDirection
                                 : *why);
  }
  RefinedMark mark;
  mark.shape = MarkShape::kCrossing;
  mark.position_px = best->meeting;
  mark.covariance_px2 =
      meeting_covariance(*best) + Eigen::Matrix2d::Identity() * (kBeyondNoise_px * kBeyondNoise_px);
  DrawnEdges drawn;
  const FittedEdge* edges[] = {&best->a, &best->b};
  for (std::size_t k = 0; k < 2; ++k) {
    const auto& line = edges[k]->line;
    const Eigen::Vector2d foot = line.origin_px + line.offset_px * line.left();
    // To the crossing at least, so that it is seen where the lines meet.
    const double at = line.along().dot(best->meeting - foot);
    drawn.edge[k] = {foot + std::min(edges[k]->from_px, at) * line.along(),
                     foot + std::max(edges[k]->to_px, at) * line.along()};
  }
  mark.drawing = drawn;
  mark.contrast = std::min(best->a.contrast, best->b.contrast);
  mark.misfit = std::max(best->a.misfit, best->b.misfit);
  mark.blur_px = 0.5 * (best->a.blur_px + best->b.blur_px);
  if (!(mark.sigma_px() < kWorst_px)) {
    return calib::Unexpected(MarkRefusal::kNotPrecise);
  }
  return mark;
}

}  // namespace measure
