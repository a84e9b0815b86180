#include "measure/orient/intersection.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include <Eigen/Cholesky>
#include <Eigen/Geometry>
#include <Eigen/LU>

#include "measure/orient/triangulate.h"

namespace measure::internal {
namespace {

/// Pairs tried where the marks do not agree at once; those with the widest angle come first.
constexpr int kMaxPairs = 28;

struct PlacedMark {
  int index = -1;  ///< in the table
  const UsableMark* mark = nullptr;
  const CameraPose* pose = nullptr;
  Eigen::Vector3d direction;  ///< of the ray, object frame
};

/// A few Gauss–Newton steps on the reprojection error of the marks within the limit.
Eigen::Vector3d polish(const std::vector<PlacedMark>& marks, Eigen::Vector3d point,
                       double squared_limit) {
  for (int iteration = 0; iteration < 4; ++iteration) {
    Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
    Eigen::Vector3d right = Eigen::Vector3d::Zero();
    for (const PlacedMark& m : marks) {
      if (squared_residual(*m.mark, *m.pose, point) > squared_limit) continue;
      const Eigen::Vector3d p = *m.pose * point;
      const Eigen::Vector2d projected = p.head<2>() / p.z();
      Eigen::Matrix<double, 2, 3> by_camera_point;
      by_camera_point << 1, 0, -projected.x(), 0, 1, -projected.y();
      const Eigen::Matrix<double, 2, 3> jacobian =
          by_camera_point * m.pose->rotation / (p.z() * m.mark->sigma);
      const Eigen::Vector2d residual = (projected - m.mark->ideal) / m.mark->sigma;
      normal += jacobian.transpose() * jacobian;
      right -= jacobian.transpose() * residual;
    }
    const Eigen::Vector3d step = normal.ldlt().solve(right);
    if (!step.allFinite()) break;
    point += step;
    if (step.norm() < 1e-12 * point.norm()) break;
  }
  return point;
}

struct Consensus {
  Eigen::Vector3d point = Eigen::Vector3d::Zero();
  double score = std::numeric_limits<double>::infinity();  ///< Σ min(residual², limit²)
  int agreeing = 0;
};

Consensus judge(const std::vector<PlacedMark>& marks, const Eigen::Vector3d& point,
                double squared_limit) {
  Consensus result{point, 0.0, 0};
  for (const PlacedMark& m : marks) {
    const double squared = squared_residual(*m.mark, *m.pose, point);
    result.score += std::min(squared, squared_limit);
    if (squared <= squared_limit) ++result.agreeing;
  }
  return result;
}

}  // namespace

Eigen::Vector3d meet(const CameraPose& first, const Eigen::Vector3d& first_ray,
                     const CameraPose& second, const Eigen::Vector3d& second_ray) {
  // Centres and directions in the object frame; a·d1 − b·d2 = c2 − c1.
  const Eigen::Vector3d d1 = first.rotation.transpose() * first_ray,
                        d2 = second.rotation.transpose() * second_ray;
  const Eigen::Vector3d c1 = first.centre(), c2 = second.centre();
  const Eigen::Vector3d base = c2 - c1;
  const double cosine = d1.dot(d2);
  const double determinant = 1 - cosine * cosine;
  const double a = (base.dot(d1) - cosine * base.dot(d2)) / determinant;
  const double b = (cosine * base.dot(d1) - base.dot(d2)) / determinant;
  return 0.5 * (c1 + a * d1 + c2 + b * d2);
}

IntersectionOutcome intersect(const MarkTable& table, Model& model, int point,
                              const Tolerance& tolerance) {
  const double squared_limit = tolerance.limit * tolerance.limit;
  const double least_sine = std::sin(tolerance.min_angle_rad);
  std::vector<PlacedMark> marks;
  for (const int index : table.of_point[point]) {
    const UsableMark& mark = table.marks[index];
    if (!model.poses[mark.photo]) continue;
    const CameraPose& pose = *model.poses[mark.photo];
    marks.push_back({index, &mark, &pose, pose.rotation.transpose() * mark.ray});
    model.in_use[index] = false;
  }
  model.points[point].reset();
  if (marks.size() < 2) return IntersectionOutcome::kTooFewMarks;

  struct Pair {
    int first, second;
    double sine;
  };
  std::vector<Pair> pairs;
  for (int i = 0; i < static_cast<int>(marks.size()); ++i) {
    for (int j = i + 1; j < static_cast<int>(marks.size()); ++j) {
      const double sine = marks[i].direction.cross(marks[j].direction).norm();
      if (sine >= least_sine) pairs.push_back({i, j, sine});
    }
  }
  if (pairs.empty()) return IntersectionOutcome::kRaysNearlyParallel;
  std::sort(pairs.begin(), pairs.end(), [](const Pair& a, const Pair& b) {
    if (a.sine != b.sine) return a.sine > b.sine;
    return a.first != b.first ? a.first < b.first : a.second < b.second;
  });

  Consensus best;
  const auto consider = [&](const Eigen::Vector3d& start) {
    if (!start.allFinite()) return;
    Consensus found = judge(marks, start, squared_limit);
    if (found.agreeing < 2) {
      // The start is algebraic: let it settle with a wide limit before it is refused.
      found = judge(marks, polish(marks, start, 25 * squared_limit), squared_limit);
    } else {
      found = judge(marks, polish(marks, start, squared_limit), squared_limit);
    }
    if (found.agreeing >= 2 && found.score < best.score) best = found;
  };

  std::vector<OrientedMark> oriented;
  oriented.reserve(marks.size());
  for (const PlacedMark& m : marks) {
    OrientedMark mark;
    mark.image_from_object << m.pose->rotation, m.pose->translation;
    mark.position_px = m.mark->ideal;  // the "pixels" of a camera with unit focal length
    oriented.push_back(mark);
  }
  if (const auto all =
          triangulate(oriented, {.min_intersection_angle_rad = tolerance.min_angle_rad})) {
    consider(*all);
  }
  if (best.agreeing < static_cast<int>(marks.size())) {
    // More than a few equal pairs would only repeat the same photos: take every k-th of a long
    // list.
    const std::size_t stride = std::max<std::size_t>(1, pairs.size() / kMaxPairs);
    for (std::size_t k = 0; k < pairs.size(); k += stride) {
      const PlacedMark &a = marks[pairs[k].first], &b = marks[pairs[k].second];
      consider(meet(*a.pose, a.mark->ray, *b.pose, b.mark->ray));
    }
  }
  if (best.agreeing < 2) return IntersectionOutcome::kContradiction;
  // With many marks, two that agree are chance, not consensus.
  if (2 * best.agreeing < static_cast<int>(marks.size()))
    return IntersectionOutcome::kContradiction;

  double widest_sine = 0;
  for (const Pair& pair : pairs) {
    if (squared_residual(*marks[pair.first].mark, *marks[pair.first].pose, best.point) <=
            squared_limit &&
        squared_residual(*marks[pair.second].mark, *marks[pair.second].pose, best.point) <=
            squared_limit) {
      widest_sine = std::max(widest_sine, pair.sine);
      break;  // sorted
    }
  }
  if (widest_sine < least_sine) return IntersectionOutcome::kRaysNearlyParallel;
  model.points[point] = best.point;
  for (const PlacedMark& m : marks) {
    model.in_use[m.index] = squared_residual(*m.mark, *m.pose, best.point) <= squared_limit;
  }
  return IntersectionOutcome::kPlaced;
}

}  // namespace measure::internal
