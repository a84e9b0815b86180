// A point on a cone: no distance from its side.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "measure/shapes/form_model.h"

namespace measure::internal {

namespace {

using Eigen::Vector3d;

/// The cone where its points are: beside their centroid, and not at its apex, which may lie far off
/// and moves by much where the points move by little.
struct Waist {
  Waist(const Form& form, Points points) {
    const double height = form.direction.dot(centroid(points) - form.position);
    place = form.position + height * form.direction;
    radius = height * std::tan(form.half_angle);
  }
  Vector3d place;  ///< foot of the centroid on the axis
  double radius;   ///< of the cone there
};

constexpr double kLeastHalfAngle_rad = 1e-7;

/// Parameters: place of the waist across, 2; direction across, 2; radius of the waist; half angle.
class ConeModel final : public FormModel {
 public:
  int parameters() const override { return 6; }

  Conditions conditions(const Form& form, Points points) const override {
    const Across across(form.direction);
    const Waist waist(form, points);
    const double c = std::cos(form.half_angle), s = std::sin(form.half_angle);
    Conditions result = empty_conditions(points.size(), 6, points);
    for (std::size_t i = 0; i < points.size(); ++i) {
      const AboutAxis at(points[i], waist.place, form.direction);
      const Vector3d out_of_side = c * at.outward - s * form.direction;
      const auto row = static_cast<Eigen::Index>(i);
      result.misclosure[row] = c * (at.off - waist.radius) - s * at.along;
      // Turning the axis takes the point off by −along, and along by off, in its own direction.
      const double turning = -c * at.along - s * at.off;
      const double first = across.first.dot(at.outward), second = across.second.dot(at.outward);
      result.by_parameters.row(row) << -c * first, -c * second, turning * first, turning * second,
          -c, -s * (at.off - waist.radius) - c * at.along;
      set_by_point(result, row, i, out_of_side.transpose());
    }
    return result;
  }

  Form moved(const Form& form, const Eigen::VectorXd& by, Points points) const override {
    const Across across(form.direction);
    const Waist waist(form, points);
    Form result = form;
    result.direction = (form.direction + by[2] * across.first + by[3] * across.second).normalized();
    result.half_angle = form.half_angle + by[5];
    if (result.half_angle < 0) {  // narrowed through a cylinder: it opens to the other end now
      result.half_angle = -result.half_angle;
      result.direction = -result.direction;
    }
    result.half_angle = std::clamp(result.half_angle, kLeastHalfAngle_rad,
                                   std::numbers::pi / 2 - kLeastHalfAngle_rad);
    const Vector3d place = waist.place + by[0] * across.first + by[1] * across.second;
    result.position =
        place - (waist.radius + by[4]) / std::tan(result.half_angle) * result.direction;
    return result;
  }

  Eigen::MatrixXd form_by_parameters(const Form& form, Points points) const override {
    const Across across(form.direction);
    const double radius = Waist(form, points).radius;
    const double cotangent = 1 / std::tan(form.half_angle), sine = std::sin(form.half_angle);
    Eigen::MatrixXd result = Eigen::MatrixXd::Zero(kFormSize, 6);
    result.block<3, 1>(0, 0) = across.first;
    result.block<3, 1>(0, 1) = across.second;
    result.block<3, 1>(0, 2) = -radius * cotangent * across.first;
    result.block<3, 1>(0, 3) = -radius * cotangent * across.second;
    result.block<3, 1>(0, 4) = -cotangent * form.direction;
    result.block<3, 1>(0, 5) = radius / (sine * sine) * form.direction;
    result.block<3, 1>(3, 2) = across.first;
    result.block<3, 1>(3, 3) = across.second;
    result(7, 5) = 1;
    return result;
  }
};

}  // namespace

const FormModel& cone_model() {
  static const ConeModel model;
  return model;
}

}  // namespace measure::internal
