// Named places and shapes with their covariance, free of where they were found: what drawings and
// data files are made from.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "calib/base/problem.h"

namespace measure {

// Lengths in ShapeList::unit; covariances in its square. Where there is no covariance, no file
// says one.

struct NamedPoint {
  std::string name;
  Eigen::Vector3d position = Eigen::Vector3d::Zero();
  std::optional<Eigen::Matrix3d> covariance{};
};

struct NamedEdge {
  std::string name;
  Eigen::Vector3d from = Eigen::Vector3d::Zero(), to = Eigen::Vector3d::Zero();
  std::optional<Eigen::Matrix<double, 6, 6>> covariance{};  ///< joint, of from and to
};

struct NamedCircle {
  std::string name;
  Eigen::Vector3d centre = Eigen::Vector3d::Zero();
  Eigen::Vector3d normal = Eigen::Vector3d::UnitZ();  ///< length 1
  double radius = 0.0;
  /// Joint, of centre, normal (no unit) and radius.
  std::optional<Eigen::Matrix<double, 7, 7>> covariance{};
};

struct NamedCylinder {
  std::string name;
  Eigen::Vector3d from = Eigen::Vector3d::Zero(), to = Eigen::Vector3d::Zero();  ///< on its axis
  double radius = 0.0;
  std::optional<Eigen::Matrix<double, 7, 7>> covariance{};  ///< joint, of from, to and radius
};

struct ShapeList {
  std::string title;            ///< of the original
  std::string unit = "mm";      ///< "mm", or "free" for a survey without a scale bar
  std::string scale = "model";  ///< "model", "full", "replica 1:72"
  std::vector<NamedPoint> points;
  std::vector<NamedEdge> edges;
  std::vector<NamedCircle> circles;
  std::vector<NamedCylinder> cylinders;
  /// Joint covariance of all points in the order of `points`, 3n × 3n, where it was asked for.
  std::optional<Eigen::MatrixXd> points_covariance{};

  /// Why this cannot be written, naming the item: a number that is not finite, a name twice in one
  /// list, a radius that is not above 0, a normal without length, a joint covariance of another
  /// size.
  [[nodiscard]] std::optional<calib::Problem> first_problem() const;
};

/// The same at another scale: lengths times factor, covariances times its square (directions keep
/// theirs), and what the factor's own uncertainty adds: all lengths grow with it in common, from
/// the origin of the axes.
/// @param relative_u  standard uncertainty of the factor, relative to it.
[[nodiscard]] ShapeList scaled(const ShapeList& shapes, double factor, const std::string& scale,
                               double relative_u = 0.0);

}  // namespace measure
