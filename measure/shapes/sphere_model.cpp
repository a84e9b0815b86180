// A point on a sphere: as far from its centre as the radius.
#include "measure/shapes/form_model.h"

namespace measure::internal {

namespace {

using Eigen::Vector3d;

/// Parameters: centre, 3 (x y z); radius.
class SphereModel final : public FormModel {
 public:
  int parameters() const override { return 4; }

  Conditions conditions(const Form& form, Points points) const override {
    Conditions result = empty_conditions(points.size(), 4, points);
    for (std::size_t i = 0; i < points.size(); ++i) {
      const Vector3d arm = points[i] - form.position;
      const double off = arm.norm();
      const Vector3d outward = off > 0 ? Vector3d(arm / off) : Vector3d::UnitX();
      const auto row = static_cast<Eigen::Index>(i);
      result.misclosure[row] = off - form.radius;
      result.by_parameters.row(row) << -outward.transpose(), -1;
      set_by_point(result, row, i, outward.transpose());
    }
    return result;
  }

  Form moved(const Form& form, const Eigen::VectorXd& by, Points) const override {
    Form result = form;
    result.position += by.head<3>();
    result.radius += by[3];
    return result;
  }

  Eigen::MatrixXd form_by_parameters(const Form&, Points) const override {
    Eigen::MatrixXd result = Eigen::MatrixXd::Zero(kFormSize, 4);
    result.topLeftCorner<3, 3>().setIdentity();
    result(6, 3) = 1;
    return result;
  }
};

}  // namespace

const FormModel& sphere_model() {
  static const SphereModel model;
  return model;
}

}  // namespace measure::internal
