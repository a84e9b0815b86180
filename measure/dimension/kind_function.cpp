#include "measure/dimension/kind_function.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include <Eigen/Geometry>

namespace measure::internal {

using calib::Result;
using calib::Unexpected;
using Eigen::Vector3d;

namespace {

ShapeResult value_of(const DimensionKind& kind, const std::vector<Vector3d>& p) {
  struct Visitor {
    const std::vector<Vector3d>& p;
    ShapeResult operator()(const Distance&) const { return distance(p[0], p[1]); }
    ShapeResult operator()(const DistanceAlong&) const {
      return distance_along(p[0], p[1], p[2], p[3]);
    }
    ShapeResult operator()(const Angle&) const { return angle_at(p[0], p[1], p[2]); }
    ShapeResult operator()(const OffsetFromLine&) const {
      return offset_from_line(p[0], p[1], p[2]);
    }
    ShapeResult operator()(const OffsetFromPlane&) const {
      return offset_from_plane(p[0], std::span<const Vector3d>(p).subspan(1));
    }
  };
  return std::visit(Visitor{p}, kind);
}

}  // namespace

KindFunction::KindFunction(DimensionKind kind, const std::vector<std::string>& point_names)
    : kind_(std::move(kind)) {
  for (const std::string& name : points_of(kind_)) {
    at_.push_back(static_cast<std::size_t>(std::find(point_names.begin(), point_names.end(), name) -
                                           point_names.begin()));
  }
}

Result<ValueGradient, std::string> KindFunction::evaluate(
    const std::vector<Vector3d>& points) const {
  std::vector<Vector3d> own;
  for (const std::size_t i : at_) own.push_back(points[i]);
  const ShapeResult result = value_of(kind_, own);
  if (!result) return Unexpected("cannot be measured: " + describe(result.error()));
  // A point that occurs twice collects both parts.
  ValueGradient collected{result->value,
                          Eigen::VectorXd::Zero(3 * static_cast<Eigen::Index>(points.size()))};
  for (std::size_t k = 0; k < at_.size(); ++k) {
    collected.gradient.segment<3>(3 * static_cast<Eigen::Index>(at_[k])) +=
        result->gradient.segment<3>(3 * static_cast<Eigen::Index>(k));
  }
  return collected;
}

double KindFunction::value(const std::vector<Vector3d>& points) const {
  const auto result = evaluate(points);
  return result ? result->value : std::numeric_limits<double>::quiet_NaN();
}

bool KindFunction::is_unsigned() const {
  struct Visitor {
    bool operator()(const Distance&) const { return true; }
    bool operator()(const DistanceAlong&) const { return false; }
    bool operator()(const Angle&) const { return true; }
    bool operator()(const OffsetFromLine&) const { return true; }
    bool operator()(const OffsetFromPlane&) const { return false; }
  };
  return std::visit(Visitor{}, kind_);
}

double KindFunction::end_of(double value) const {
  return std::holds_alternative<Angle>(kind_) && value > std::numbers::pi / 2 ? std::numbers::pi
                                                                              : 0.0;
}

double KindFunction::distance_from_end(double value) const {
  return std::abs(value - end_of(value));
}

Vector3d KindFunction::departure(const std::vector<Vector3d>& points) const {
  std::vector<Vector3d> p;
  for (const std::size_t i : at_) p.push_back(points[i]);
  struct Visitor {
    const std::vector<Vector3d>& p;
    Vector3d operator()(const Distance&) const { return p[1] - p[0]; }
    Vector3d operator()(const Angle&) const {
      const Vector3d a = (p[0] - p[1]).normalized(), b = (p[2] - p[1]).normalized();
      return a - a.dot(b) * b;
    }
    Vector3d operator()(const OffsetFromLine&) const {
      const Vector3d axis = (p[2] - p[1]).normalized();
      return p[0] - p[1] - (p[0] - p[1]).dot(axis) * axis;
    }
    Vector3d operator()(const DistanceAlong&) const { return Vector3d::Zero(); }
    Vector3d operator()(const OffsetFromPlane&) const { return Vector3d::Zero(); }
  };
  return std::visit(Visitor{p}, kind_);
}

bool KindFunction::departure_is_sine() const { return std::holds_alternative<Angle>(kind_); }

double KindFunction::curvature(const std::vector<Vector3d>& points,
                               const Eigen::MatrixXd& covariance) const {
  double trace = 0;
  std::vector<Vector3d> moved = points;
  for (Eigen::Index k = 0; k < covariance.rows(); ++k) {
    // Steps of a tenth of the coordinate's u: the curvature that matters is the one within the
    // error bar.
    const double step = 0.1 * std::sqrt(covariance(k, k));
    if (!(step > 0)) continue;
    double& coordinate = moved[static_cast<std::size_t>(k / 3)][k % 3];
    const double kept = coordinate;
    coordinate = kept + step;
    const auto high = evaluate(moved);
    coordinate = kept - step;
    const auto low = evaluate(moved);
    coordinate = kept;
    if (!high || !low) return std::numeric_limits<double>::infinity();
    trace += ((high->gradient - low->gradient) / (2 * step)).dot(covariance.row(k));
  }
  return trace;
}

}  // namespace measure::internal
