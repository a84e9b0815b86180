// A point on a cylinder: as far from its axis as the radius.
#include "measure/shapes/form_model.h"

namespace measure::internal {

namespace {

using Eigen::Vector3d;

/// Parameters: those of the axis as of a line, 4; radius.
class CylinderModel final : public FormModel {
 public:
  int parameters() const override { return 5; }

  Conditions conditions(const Form& form, Points points) const override {
    const Across across(form.direction);
    Conditions result = empty_conditions(points.size(), 5, points);
    for (std::size_t i = 0; i < points.size(); ++i) {
      const AboutAxis at(points[i], form.position, form.direction);
      const double first = across.first.dot(at.outward), second = across.second.dot(at.outward);
      const auto row = static_cast<Eigen::Index>(i);
      result.misclosure[row] = at.off - form.radius;
      result.by_parameters.row(row) << -first, -second, -at.along * first, -at.along * second, -1;
      set_by_point(result, row, i, at.outward.transpose());
    }
    return result;
  }

  Form moved(const Form& form, const Eigen::VectorXd& by, Points points) const override {
    Form result = line_model().moved(form, by.head<4>(), points);
    result.radius += by[4];
    return result;
  }

  Eigen::MatrixXd form_by_parameters(const Form& form, Points points) const override {
    Eigen::MatrixXd result = Eigen::MatrixXd::Zero(kFormSize, 5);
    result.leftCols<4>() = line_model().form_by_parameters(form, points);
    result(6, 4) = 1;
    return result;
  }

  Eigen::Matrix3d position_by_centroid(const Form& form) const override {
    return line_model().position_by_centroid(form);
  }
};

}  // namespace

const FormModel& cylinder_model() {
  static const CylinderModel model;
  return model;
}

}  // namespace measure::internal
