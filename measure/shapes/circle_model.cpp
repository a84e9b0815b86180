// A point on a circle in space: in its plane, and as far from the centre as the radius.
#include "measure/shapes/form_model.h"

namespace measure::internal {

namespace {

using Eigen::Vector3d;

/// Parameters: centre, 3 (across, across, along the normal); normal across, 2; radius.
class CircleModel final : public FormModel {
 public:
  int parameters() const override { return 6; }

  Conditions conditions(const Form& form, Points points) const override {
    const Across across(form.direction);
    Conditions result = empty_conditions(2 * points.size(), 6, points);
    for (std::size_t i = 0; i < points.size(); ++i) {
      const AboutAxis at(points[i], form.position, form.direction);
      const double first = across.first.dot(at.arm), second = across.second.dot(at.arm);
      const double lean = at.off > 0 ? -at.along / at.off : 0.0;
      const auto row = 2 * static_cast<Eigen::Index>(i);
      result.misclosure[row] = at.along;
      result.misclosure[row + 1] = at.off - form.radius;
      result.by_parameters.row(row) << 0, 0, -1, first, second, 0;
      result.by_parameters.row(row + 1) << -across.first.dot(at.outward),
          -across.second.dot(at.outward), 0, lean * first, lean * second, -1;
      set_by_point(result, row, i, form.direction.transpose());
      set_by_point(result, row + 1, i, at.outward.transpose());
    }
    return result;
  }

  Form moved(const Form& form, const Eigen::VectorXd& by, Points) const override {
    const Across across(form.direction);
    Form result = form;
    result.direction = (form.direction + by[3] * across.first + by[4] * across.second).normalized();
    result.position += by[0] * across.first + by[1] * across.second + by[2] * form.direction;
    result.radius += by[5];
    return result;
  }

  Eigen::MatrixXd form_by_parameters(const Form& form, Points) const override {
    const Across across(form.direction);
    Eigen::MatrixXd result = Eigen::MatrixXd::Zero(kFormSize, 6);
    result.block<3, 1>(0, 0) = across.first;
    result.block<3, 1>(0, 1) = across.second;
    result.block<3, 1>(0, 2) = form.direction;
    result.block<3, 1>(3, 3) = across.first;
    result.block<3, 1>(3, 4) = across.second;
    result(6, 5) = 1;
    return result;
  }
};

}  // namespace

const FormModel& circle_model() {
  static const CircleModel model;
  return model;
}

}  // namespace measure::internal
