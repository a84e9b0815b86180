#include "measure/sheet/dimension_figure.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Geometry>

#include "measure/shapes/plane.h"

namespace measure {
namespace {

using Eigen::Vector3d;

std::optional<Vector3d> direction(const Vector3d& from, const Vector3d& to) {
  const Vector3d along = to - from;
  if (!(along.norm() > 1e-12)) return std::nullopt;
  return along.normalized();
}

/// A direction for two places that nearly coincide: any does.
Vector3d direction_or_any(const Vector3d& from, const Vector3d& to) {
  return direction(from, to).value_or(Vector3d::UnitX());
}

struct Draw {
  const PlacedPoints& points;

  [[nodiscard]] const Vector3d& at(const std::string& name) const { return points.at(name); }

  std::optional<DimensionFigure> operator()(const Distance& d) const {
    const Vector3d &a = at(d.from), &b = at(d.to);
    DimensionFigure figure;
    figure.lengths.push_back({a, b, direction_or_any(a, b)});
    figure.extent = {a, b};
    return figure;
  }

  std::optional<DimensionFigure> operator()(const DistanceAlong& d) const {
    const auto along = direction(at(d.axis_from), at(d.axis_to));
    if (!along) return std::nullopt;
    DimensionFigure figure;
    figure.lengths.push_back({at(d.from), at(d.to), *along});
    figure.extent = {at(d.from), at(d.to)};
    return figure;
  }

  std::optional<DimensionFigure> operator()(const Angle& d) const {
    DimensionFigure figure;
    figure.angle = FigureAngle{at(d.vertex), at(d.first), at(d.second)};
    if (!direction(at(d.vertex), at(d.first)) || !direction(at(d.vertex), at(d.second))) {
      return std::nullopt;
    }
    figure.extent = {at(d.first), at(d.vertex), at(d.second)};
    return figure;
  }

  std::optional<DimensionFigure> operator()(const OffsetFromLine& d) const {
    const Vector3d &a = at(d.line_from), &b = at(d.line_to), &p = at(d.point);
    const auto along = direction(a, b);
    if (!along) return std::nullopt;
    const double where = (p - a).dot(*along), length = (b - a).norm();
    const Vector3d foot = a + where * *along;
    DimensionFigure figure;
    figure.lengths.push_back({p, foot, direction_or_any(p, foot), false});
    // The line reaches as far as the foot.
    figure.curves.push_back(
        {{a + std::min(0.0, where) * *along, a + std::max(length, where) * *along}, true});
    figure.extent = {p, a, b, foot};
    return figure;
  }

  std::optional<DimensionFigure> operator()(const OffsetFromPlane& d) const {
    std::vector<Vector3d> corners;
    for (const std::string& name : d.plane) corners.push_back(at(name));
    const auto plane = fit_plane(corners);
    if (!plane) return std::nullopt;
    const Vector3d& p = at(d.point);
    const Vector3d foot = p - (p - plane->centroid).dot(plane->normal) * plane->normal;
    DimensionFigure figure;
    figure.lengths.push_back({p, foot, direction_or_any(p, foot), false});
    figure.extent = corners;
    figure.extent.push_back(p);
    figure.extent.push_back(foot);
    // Round the plane's points in their order about the middle, so that the outline does not cross
    // itself.
    const Vector3d x = direction_or_any(plane->centroid, corners.front());
    const Vector3d y = plane->normal.cross(x);
    const auto turn = [&](const Vector3d& corner) {
      const Vector3d arm = corner - plane->centroid;
      return std::atan2(arm.dot(y), arm.dot(x));
    };
    std::stable_sort(corners.begin(), corners.end(),
                     [&](const Vector3d& a, const Vector3d& b) { return turn(a) < turn(b); });
    const Vector3d nearest = *std::min_element(corners.begin(), corners.end(),
                                               [&](const Vector3d& a, const Vector3d& b) {
                                                 return (a - foot).norm() < (b - foot).norm();
                                               });
    corners.push_back(corners.front());
    figure.curves.push_back({corners, true});
    figure.curves.push_back({{foot, nearest}, false});
    return figure;
  }
};

}  // namespace

std::optional<DimensionFigure> figure_of(const DimensionKind& kind, const PlacedPoints& points) {
  for (const std::string& name : points_of(kind)) {
    if (!points.contains(name)) return std::nullopt;
  }
  return std::visit(Draw{points}, kind);
}

}  // namespace measure
