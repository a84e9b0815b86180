// The points' own datum: what of their covariance shapes them among themselves, and how everything
// that is made of them moves with them. For this room's .cpp files.
#pragma once

#include <Eigen/Core>

#include "measure/shapes/form_model.h"

namespace measure::internal {

/// The seven motions of the whole (3 shifts, 3 turns about the centroid, scale from the centroid)
/// and the projection that takes them out: inner constraints over these points alone.
class OwnDatum {
 public:
  explicit OwnDatum(Points points);

  /// SΣSᵀ: the same in whatever datum Σ was given. With or without the change of scale.
  [[nodiscard]] Eigen::MatrixXd inner(const Eigen::MatrixXd& covariance, bool keep_scale) const;

  /// The derivative by the points of something that moves along with them: `approximate` is kept
  /// for changes of shape, and replaced by what is exactly so (`by_motion`, rows × 7) for motions
  /// of the whole. Points in one line have one motion less; whatever rests on them must too.
  [[nodiscard]] Eigen::MatrixXd carried(const Eigen::MatrixXd& approximate,
                                        const Eigen::MatrixXd& by_motion) const;

  /// `by_motion` of a form's numbers, and of a vector that turns and grows with the points.
  [[nodiscard]] Eigen::Matrix<double, kFormSize, 7> motion_of(const Form& form) const;
  [[nodiscard]] static Eigen::Matrix<double, 3, 7> motion_of_vector(const Eigen::Vector3d& vector);
  /// Of a length: grows with the scale.
  [[nodiscard]] static Eigen::Matrix<double, 1, 7> motion_of_length(double length);

 private:
  Eigen::Vector3d centroid_;
  Eigen::MatrixXd motions_;      ///< G, 3n×7
  Eigen::MatrixXd basis_;        ///< orthonormal, of the columns of G; the last one is the scale
  Eigen::MatrixXd from_points_;  ///< G⁺, 7×3n
};

}  // namespace measure::internal
