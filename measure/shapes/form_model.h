// A kind of form as conditions between its parameters and the points. For this room's .cpp files.
#pragma once

#include <span>

#include <Eigen/Core>
#include <Eigen/SparseCore>

#include "measure/shapes/form.h"

namespace measure::internal {

using Points = std::span<const Eigen::Vector3d>;

/// m conditions F(x, p) = 0 at observed points x and a form with parameters p. Every condition is a
/// distance: |∂F/∂x| is 1 (of the mirror's, √2).
struct Conditions {
  Eigen::VectorXd misclosure;                              ///< F, m
  Eigen::MatrixXd by_parameters;                           ///< A = ∂F/∂p, m×p
  Eigen::SparseMatrix<double, Eigen::RowMajor> by_points;  ///< B = ∂F/∂x, m×3n
};

/// Parameters are small movements of a form in axes of its own, as few as it has freedoms: no
/// conditions among them, no direction in which they are singular.
class FormModel {
 public:
  virtual ~FormModel() = default;
  [[nodiscard]] virtual int parameters() const = 0;
  [[nodiscard]] virtual Conditions conditions(const Form& form, Points points) const = 0;
  /// The form after the movement; its place on a line, axis or plane is the centroid's foot again.
  [[nodiscard]] virtual Form moved(const Form& form, const Eigen::VectorXd& by,
                                   Points points) const = 0;
  /// 8×p: of the form's numbers.
  [[nodiscard]] virtual Eigen::MatrixXd form_by_parameters(const Form& form,
                                                           Points points) const = 0;
  /// 3×3: of the form's position by the centroid alone, where that gives the place on the form.
  [[nodiscard]] virtual Eigen::Matrix3d position_by_centroid(const Form&) const {
    return Eigen::Matrix3d::Zero();
  }
};

/// The model of a kind that can be fitted (all but the point).
[[nodiscard]] const FormModel& model_of(FormKind kind);
[[nodiscard]] const FormModel& line_model();
[[nodiscard]] const FormModel& plane_model();
[[nodiscard]] const FormModel& circle_model();
[[nodiscard]] const FormModel& sphere_model();
[[nodiscard]] const FormModel& cylinder_model();
[[nodiscard]] const FormModel& cone_model();
/// A plane from points that come in pairs, one after the other: reflect(one) − other = 0.
[[nodiscard]] const FormModel& mirror_model();

/// Two unit vectors at right angles to a unit vector and to each other, right-handed.
struct Across {
  explicit Across(const Eigen::Vector3d& direction);
  Eigen::Vector3d first, second;
};

[[nodiscard]] Eigen::Vector3d centroid(Points points);

/// A point as seen from an axis: how far along, how far off, and in which direction off.
struct AboutAxis {
  AboutAxis(const Eigen::Vector3d& point, const Eigen::Vector3d& place,
            const Eigen::Vector3d& axis);
  Eigen::Vector3d arm;  ///< from the place
  double along = 0.0, off = 0.0;
  Eigen::Vector3d outward;  ///< unit; any direction across for a point on the axis
};

/// Conditions with room for `rows` of them; `points_each` points occur in one.
[[nodiscard]] Conditions empty_conditions(std::size_t rows, int parameters, Points points,
                                          int points_each = 1);
/// Enters ∂F_row/∂x_point; rows must be filled in order.
void set_by_point(Conditions& conditions, Eigen::Index row, std::size_t point,
                  const Eigen::RowVector3d& derivative);

}  // namespace measure::internal
