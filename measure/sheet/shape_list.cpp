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

ShapeList scaled(const ShapeList& shapes, double factor, const std::string& scale) {
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
  return made;
}

}  // namespace measure
