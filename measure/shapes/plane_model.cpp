// A point in a plane: no distance from it.
#include "measure/shapes/form_model.h"

namespace measure::internal {

namespace {

using Eigen::Vector3d;

/// Parameters: along the normal; normal across, 2.
class PlaneModel final : public FormModel {
 public:
  int parameters() const override { return 3; }

  Conditions conditions(const Form& form, Points points) const override {
    const Across across(form.direction);
    Conditions result = empty_conditions(points.size(), 3, points);
    for (std::size_t i = 0; i < points.size(); ++i) {
      const Vector3d arm = points[i] - form.position;
      const auto row = static_cast<Eigen::Index>(i);
      result.misclosure[row] = form.direction.dot(arm);
      result.by_parameters.row(row) << -1, across.first.dot(arm), across.second.dot(arm);
      set_by_point(result, row, i, form.direction.transpose());
    }
    return result;
  }

  Form moved(const Form& form, const Eigen::VectorXd& by, Points points) const override {
    const Across across(form.direction);
    Form result = form;
    result.direction = (form.direction + by[1] * across.first + by[2] * across.second).normalized();
    const Vector3d place = form.position + by[0] * form.direction, middle = centroid(points);
    result.position = middle - result.direction.dot(middle - place) * result.direction;
    return result;
  }

  Eigen::MatrixXd form_by_parameters(const Form& form, Points points) const override {
    const Across across(form.direction);
    // Where the plane turns, the foot of a centroid that lies off it slides.
    const double off = form.direction.dot(centroid(points) - form.position);
    Eigen::MatrixXd result = Eigen::MatrixXd::Zero(kFormSize, 3);
    result.block<3, 1>(0, 0) = form.direction;
    result.block<3, 1>(0, 1) = -off * across.first;
    result.block<3, 1>(0, 2) = -off * across.second;
    result.block<3, 1>(3, 1) = across.first;
    result.block<3, 1>(3, 2) = across.second;
    return result;
  }

  Eigen::Matrix3d position_by_centroid(const Form& form) const override {
    return Eigen::Matrix3d::Identity() - form.direction * form.direction.transpose();
  }
};

}  // namespace

const FormModel& plane_model() {
  static const PlaneModel model;
  return model;
}

}  // namespace measure::internal
