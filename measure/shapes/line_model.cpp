// A point on a line: no distance from it in either direction across.
#include "measure/shapes/form_model.h"

namespace measure::internal {

namespace {

using Eigen::Vector3d;

/// Parameters: place across, 2; direction across, 2.
class LineModel final : public FormModel {
 public:
  int parameters() const override { return 4; }

  Conditions conditions(const Form& form, Points points) const override {
    const Across across(form.direction);
    Conditions result = empty_conditions(2 * points.size(), 4, points);
    for (std::size_t i = 0; i < points.size(); ++i) {
      const Vector3d arm = points[i] - form.position;
      const double along = form.direction.dot(arm);
      const auto row = 2 * static_cast<Eigen::Index>(i);
      result.misclosure[row] = across.first.dot(arm);
      result.misclosure[row + 1] = across.second.dot(arm);
      result.by_parameters.row(row) << -1, 0, -along, 0;
      result.by_parameters.row(row + 1) << 0, -1, 0, -along;
      set_by_point(result, row, i, across.first.transpose());
      set_by_point(result, row + 1, i, across.second.transpose());
    }
    return result;
  }

  Form moved(const Form& form, const Eigen::VectorXd& by, Points points) const override {
    const Across across(form.direction);
    Form result = form;
    result.direction = (form.direction + by[2] * across.first + by[3] * across.second).normalized();
    const Vector3d place = form.position + by[0] * across.first + by[1] * across.second;
    result.position = place + result.direction.dot(centroid(points) - place) * result.direction;
    return result;
  }

  Eigen::MatrixXd form_by_parameters(const Form& form, Points points) const override {
    const Across across(form.direction);
    // Where the line turns, the centroid's foot slides along it.
    const Vector3d off = centroid(points) - form.position;
    Eigen::MatrixXd result = Eigen::MatrixXd::Zero(kFormSize, 4);
    result.block<3, 1>(0, 0) = across.first;
    result.block<3, 1>(0, 1) = across.second;
    result.block<3, 1>(0, 2) = across.first.dot(off) * form.direction;
    result.block<3, 1>(0, 3) = across.second.dot(off) * form.direction;
    result.block<3, 1>(3, 2) = across.first;
    result.block<3, 1>(3, 3) = across.second;
    return result;
  }

  Eigen::Matrix3d position_by_centroid(const Form& form) const override {
    return form.direction * form.direction.transpose();
  }
};

}  // namespace

const FormModel& line_model() {
  static const LineModel model;
  return model;
}

}  // namespace measure::internal
