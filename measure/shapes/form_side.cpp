#include "measure/shapes/form_side.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Geometry>

namespace measure::internal {

using Eigen::Vector3d;

namespace {

/// The side is taken from a triangle whose corners are measured: one flatter than this leaves it to
/// chance.
constexpr double kFlatTriangle = 1e-3;
/// Points that follow each other by less than this share of the form's length do not tell which
/// comes first.
constexpr double kSameHeight = 0.02;

/// Twice the area of a triangle as a vector, or zero where it is flat.
Vector3d triangle(const Vector3d& a, const Vector3d& b, const Vector3d& c) {
  const Vector3d cross = (b - a).cross(c - a);
  const double longest2 =
      std::max({(b - a).squaredNorm(), (c - a).squaredNorm(), (c - b).squaredNorm()});
  return cross.norm() > kFlatTriangle * longest2 ? cross : Vector3d::Zero();
}

bool take_flat_side(Form& form, Points points) {
  // Exactly three have their own plane, and as far as it exists it has a side.
  if (points.size() == 3) {
    const Vector3d cross = (points[1] - points[0]).cross(points[2] - points[0]);
    if (form.direction.dot(cross) < 0) form.direction = -form.direction;
    return true;
  }
  for (std::size_t k = 2; k < points.size(); ++k) {
    for (std::size_t j = 1; j < k; ++j) {
      const double side = form.direction.dot(triangle(points[0], points[j], points[k]));
      if (side == 0) continue;
      if (side < 0) form.direction = -form.direction;
      return true;
    }
  }
  return false;
}

}  // namespace

bool take_side(Form& form, Points points) {
  if (is_flat(form.kind)) return take_flat_side(form, points);
  if (!has_axis(form.kind)) return true;
  std::vector<double> heights;
  for (const Vector3d& point : points) heights.push_back(form.direction.dot(point - form.position));
  const auto [least, greatest] = std::minmax_element(heights.begin(), heights.end());
  form.from = *least;
  form.to = *greatest;
  if (form.kind == FormKind::kCone) return true;  // it points into its opening
  const double length = *greatest - *least;
  // From the last one back to one that lies at another height than the first.
  const auto last = std::find_if(heights.rbegin(), heights.rend(), [&](double height) {
    return std::abs(height - heights.front()) > kSameHeight * length;
  });
  if (last != heights.rend() && *last < heights.front()) {
    form.direction = -form.direction;
    form.from = -*greatest;
    form.to = -*least;
  }
  return true;
}

}  // namespace measure::internal
