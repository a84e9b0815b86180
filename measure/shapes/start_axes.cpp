// Axes to begin with, of cylinders and cones: every direction of the half sphere is looked at, as a
// start from the extents alone often leads to the wrong one.
#include <algorithm>
#include <cmath>
#include <numbers>

#include <Eigen/Cholesky>

#include "measure/shapes/start_values.h"

namespace measure::internal {

using Eigen::Vector2d;
using Eigen::Vector3d;

namespace {

/// About 7° apart: a refinement finds home from much farther.
constexpr int kDirections = 400;
constexpr std::size_t kKept = 8;
/// Of those kept, none lies closer to a better one than this.
constexpr double kApart_rad = 0.2;
/// A form this many times wider than its points is a flat one in disguise.
constexpr double kWidest = 100.0;

/// Directions spread evenly over the half sphere: a spiral that turns by the golden angle.
std::vector<Vector3d> half_sphere() {
  std::vector<Vector3d> directions;
  const double golden = std::numbers::pi * (3 - std::sqrt(5.0));
  for (int i = 0; i < kDirections; ++i) {
    const double z = (i + 0.5) / kDirections, off = std::sqrt(1 - z * z);
    directions.emplace_back(off * std::cos(golden * i), off * std::sin(golden * i), z);
  }
  return directions;
}

struct Candidate {
  Form form;
  double cost;  ///< Σ of squared distances, roughly
};

struct AlongAxis {
  Across across;
  std::vector<Vector2d> flat;  ///< as seen along the axis
  std::vector<double> heights;

  AlongAxis(const Vector3d& axis, const Extents& extents, Points points) : across(axis) {
    for (const Vector3d& point : points) {
      const Vector3d arm = point - extents.middle;
      flat.emplace_back(across.first.dot(arm), across.second.dot(arm));
      heights.push_back(axis.dot(arm));
    }
  }
};

std::optional<Candidate> cylinder_along(const Vector3d& axis, const Extents& extents,
                                        Points points) {
  const AlongAxis seen(axis, extents, points);
  const auto circle = algebraic_circle(seen.flat);
  if (!circle || !(circle->radius < kWidest * std::sqrt(extents.squares.sum()))) {
    return std::nullopt;
  }
  Candidate candidate{{.kind = FormKind::kCylinder, .direction = axis, .radius = circle->radius},
                      0};
  candidate.form.position = extents.middle + circle->centre[0] * seen.across.first +
                            circle->centre[1] * seen.across.second;
  for (const Vector2d& point : seen.flat) {
    candidate.cost += std::pow((point - circle->centre).norm() - circle->radius, 2);
  }
  return candidate;
}

/// u² + v² = 2au + 2bv + c + e h + k h² is linear; a, b give the axis, and the radius then follows
/// from a straight line over the heights.
std::optional<Candidate> cone_along(const Vector3d& axis, const Extents& extents, Points points) {
  const AlongAxis seen(axis, extents, points);
  const double unit = std::sqrt(extents.squares.sum() / static_cast<double>(points.size()));
  using Vector5d = Eigen::Matrix<double, 5, 1>;
  Eigen::Matrix<double, 5, 5> normal = Eigen::Matrix<double, 5, 5>::Zero();
  Vector5d right = Vector5d::Zero();
  for (std::size_t i = 0; i < points.size(); ++i) {
    const Vector2d p = seen.flat[i] / unit;
    const double h = seen.heights[i] / unit;
    const Vector5d row{2 * p[0], 2 * p[1], 1, h, h * h};
    normal += row * row.transpose();
    right += p.squaredNorm() * row;
  }
  // A trace of damping: seen along some directions the points leave one of the five open.
  normal.diagonal().array() += 1e-12 * normal.trace();
  const Vector5d solution = normal.ldlt().solve(right);
  const Vector2d centre = unit * solution.head<2>();
  if (!(centre.norm() < kWidest * unit)) return std::nullopt;

  const auto n = static_cast<double>(points.size());
  std::vector<double> off;
  double mean_off = 0, mean_height = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    off.push_back((seen.flat[i] - centre).norm());
    mean_off += off[i] / n;
    mean_height += seen.heights[i] / n;
  }
  double products = 0, squares = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    products += (off[i] - mean_off) * (seen.heights[i] - mean_height);
    squares += std::pow(seen.heights[i] - mean_height, 2);
  }
  if (!(squares > 1e-9 * unit * unit)) return std::nullopt;
  double slope = products / squares;
  Candidate candidate{{.kind = FormKind::kCone, .direction = axis}, 0};
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double departure = off[i] - mean_off - slope * (seen.heights[i] - mean_height);
    candidate.cost += departure * departure / (1 + slope * slope);
  }
  if (slope < 0) {
    slope = -slope;
    candidate.form.direction = -axis;
  }
  slope = std::max(slope, 1e-3);
  candidate.form.half_angle = std::atan(slope);
  candidate.form.position = extents.middle + centre[0] * seen.across.first +
                            centre[1] * seen.across.second -
                            mean_off / slope * candidate.form.direction;
  return candidate;
}

template <typename Try>
std::vector<Form> best_axes(Points points, Try along) {
  const Extents extents(points);
  std::vector<Candidate> candidates;
  std::vector<Vector3d> directions = half_sphere();
  for (int k = 0; k < 3; ++k) directions.emplace_back(extents.directions.col(k));
  for (const Vector3d& direction : directions) {
    if (auto candidate = along(direction, extents, points)) candidates.push_back(*candidate);
  }
  std::stable_sort(candidates.begin(), candidates.end(),
                   [](const Candidate& a, const Candidate& b) { return a.cost < b.cost; });
  std::vector<Form> kept;
  for (const Candidate& candidate : candidates) {
    const bool apart = std::all_of(kept.begin(), kept.end(), [&](const Form& other) {
      return std::abs(other.direction.dot(candidate.form.direction)) < std::cos(kApart_rad);
    });
    if (apart) kept.push_back(candidate.form);
    if (kept.size() == kKept) break;
  }
  return kept;
}

}  // namespace

std::vector<Form> start_cylinders(Points points) { return best_axes(points, cylinder_along); }
std::vector<Form> start_cones(Points points) { return best_axes(points, cone_along); }

}  // namespace measure::internal
