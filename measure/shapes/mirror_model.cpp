// A pair of points on both sides of its plane of symmetry: the image of one is the other.
#include "measure/shapes/form_model.h"

namespace measure::internal {

namespace {

using Eigen::Matrix3d;
using Eigen::Vector3d;

/// Parameters as of a plane.
class MirrorModel final : public FormModel {
 public:
  int parameters() const override { return 3; }

  Conditions conditions(const Form& form, Points points) const override {
    const Vector3d n = form.direction;
    const Across across(n);
    const Matrix3d reflection = Matrix3d::Identity() - 2 * n * n.transpose();
    const std::size_t pairs = points.size() / 2;
    Conditions result = empty_conditions(3 * pairs, 3, points, 2);
    for (std::size_t i = 0; i < pairs; ++i) {
      const Vector3d arm = points[2 * i] - form.position;
      const double height = n.dot(arm);
      const auto row = 3 * static_cast<Eigen::Index>(i);
      result.misclosure.segment<3>(row) = points[2 * i] - 2 * height * n - points[2 * i + 1];
      result.by_parameters.block<3, 1>(row, 0) = 2 * n;
      result.by_parameters.block<3, 1>(row, 1) =
          -2 * (height * across.first + across.first.dot(arm) * n);
      result.by_parameters.block<3, 1>(row, 2) =
          -2 * (height * across.second + across.second.dot(arm) * n);
      for (int k = 0; k < 3; ++k) {
        set_by_point(result, row + k, 2 * i, reflection.row(k));
        set_by_point(result, row + k, 2 * i + 1, -Matrix3d::Identity().row(k));
      }
    }
    return result;
  }

  Form moved(const Form& form, const Eigen::VectorXd& by, Points points) const override {
    return plane_model().moved(form, by, points);
  }
  Eigen::MatrixXd form_by_parameters(const Form& form, Points points) const override {
    return plane_model().form_by_parameters(form, points);
  }
  Matrix3d position_by_centroid(const Form& form) const override {
    return plane_model().position_by_centroid(form);
  }
};

}  // namespace

const FormModel& mirror_model() {
  static const MirrorModel model;
  return model;
}

}  // namespace measure::internal
