#include "measure/sheet/shape_list.h"

#include <cmath>
#include <set>

namespace measure {
namespace {

class Check {
 public:
  template <typename Shape>
  void names(const char* what, const std::vector<Shape>& shapes) {
    std::set<std::string> seen;
    for (const Shape& shape : shapes) {
      if (!seen.insert(shape.name).second) {
        say(std::string(what) + " \"" + shape.name + "\" is in the list twice: rename one of them");
      }
    }
  }
  template <typename Matrix>
  void covariance(const std::string& what, const std::optional<Matrix>& matrix) {
    if (matrix && !matrix->allFinite()) {
      say(what + " has a covariance with something that is no number");
    }
  }
  void finite(const std::string& what, bool is_finite) {
    if (!is_finite) {
      say(what + " has a coordinate that is no number");
    }
  }
  void radius(const std::string& what, double radius) {
    if (!(radius > 0.0 && std::isfinite(radius))) {
      say(what + " has no radius above 0");
    }
  }
  void say(const std::string& fault) {
    if (!fault_) {
      fault_ = fault;
    }
  }
  [[nodiscard]] const std::optional<std::string>& fault() const { return fault_; }

 private:
  std::optional<std::string> fault_;
};

}  // namespace

std::optional<calib::Problem> ShapeList::first_problem() const {
  Check check;
  check.names("point", points);
  check.names("edge", edges);
  check.names("circle", circles);
  check.names("cylinder", cylinders);
  for (const NamedPoint& point : points) {
    const std::string what = "point \"" + point.name + "\"";
    check.finite(what, point.position.allFinite());
    check.covariance(what, point.covariance);
  }
  for (const NamedEdge& edge : edges) {
    const std::string what = "edge \"" + edge.name + "\"";
    check.finite(what, edge.from.allFinite() && edge.to.allFinite());
    check.covariance(what, edge.covariance);
  }
  for (const NamedCircle& circle : circles) {
    const std::string what = "circle \"" + circle.name + "\"";
    check.finite(what, circle.centre.allFinite() && circle.normal.allFinite());
    check.radius(what, circle.radius);
    check.covariance(what, circle.covariance);
    if (!(circle.normal.norm() > 0.0)) {
      check.say(what + " has a normal without length");
    }
  }
  for (const NamedCylinder& cylinder : cylinders) {
    const std::string what = "cylinder \"" + cylinder.name + "\"";
    check.finite(what, cylinder.from.allFinite() && cylinder.to.allFinite());
    check.radius(what, cylinder.radius);
    check.covariance(what, cylinder.covariance);
  }
  if (points_covariance) {
    const auto size = static_cast<Eigen::Index>(3 * points.size());
    if (points_covariance->rows() != size || points_covariance->cols() != size) {
      check.say("the joint covariance of the points is not three rows for each of them");
    }
    check.covariance("the list of points", points_covariance);
  }
  if (!check.fault()) {
    return std::nullopt;
  }
  return calib::Problem{"data of \"" + title + "\": " + *check.fault() + "."};
}

namespace {

/// All lengths are off by the same share: the covariance of what is scaled grows by r² q·qᵀ, where
/// q are the lengths themselves.
void add_uncertainty_of_factor(ShapeList& shapes, double relative_u) {
  const auto add = [&](auto& covariance, const Eigen::VectorXd& lengths) {
    if (covariance) {
      *covariance += relative_u * relative_u * lengths * lengths.transpose();
    }
  };
  Eigen::VectorXd all(3 * static_cast<Eigen::Index>(shapes.points.size()));
  Eigen::Index row = 0;
  for (NamedPoint& point : shapes.points) {
    add(point.covariance, point.position);
    all.segment<3>(row) = point.position;
    row += 3;
  }
  add(shapes.points_covariance, all);
  for (NamedEdge& edge : shapes.edges) {
    add(edge.covariance, (Eigen::VectorXd(6) << edge.from, edge.to).finished());
  }
  for (NamedCircle& circle : shapes.circles) {
    add(circle.covariance,
        (Eigen::VectorXd(7) << circle.centre, Eigen::Vector3d::Zero(), circle.radius).finished());
  }
  for (NamedCylinder& cylinder : shapes.cylinders) {
    add(cylinder.covariance,
        (Eigen::VectorXd(7) << cylinder.from, cylinder.to, cylinder.radius).finished());
  }
}

}  // namespace

ShapeList scaled(const ShapeList& shapes, double factor, const std::string& scale,
                 double relative_u) {
  ShapeList made = shapes;
  made.scale = scale;
  const double square = factor * factor;
  for (NamedPoint& point : made.points) {
    point.position *= factor;
    if (point.covariance) *point.covariance *= square;
  }
  for (NamedEdge& edge : made.edges) {
    edge.from *= factor;
    edge.to *= factor;
    if (edge.covariance) *edge.covariance *= square;
  }
  for (NamedCircle& circle : made.circles) {
    circle.centre *= factor;
    circle.radius *= factor;
    if (circle.covariance) {
      Eigen::Matrix<double, 7, 1> each = Eigen::Matrix<double, 7, 1>::Constant(factor);
      each.segment<3>(3).setOnes();  // a direction has no length
      *circle.covariance = each.asDiagonal() * *circle.covariance * each.asDiagonal();
    }
  }
  for (NamedCylinder& cylinder : made.cylinders) {
    cylinder.from *= factor;
    cylinder.to *= factor;
    cylinder.radius *= factor;
    if (cylinder.covariance) *cylinder.covariance *= square;
  }
  if (made.points_covariance) *made.points_covariance *= square;
  if (relative_u > 0.0) {
    add_uncertainty_of_factor(made, relative_u);
  }
  return made;
}

}  // namespace measure
