// A kind of dimension as a function of point positions. For the .cpp files of this room only.
//
// A new kind of dimension needs: its struct in measure/dossier, its function in measure/shapes, and
// a case in each switch here and in measure/store.
#pragma once

#include <string>
#include <vector>

#include <Eigen/Core>

#include "calib/base/result.h"
#include "measure/dossier/dossier.h"
#include "measure/shapes/functions.h"

namespace measure::internal {

/// The function of one asked dimension, over a list of points that each occur once.
class KindFunction {
 public:
  KindFunction(DimensionKind kind, const std::vector<std::string>& point_names);

  /// Value (mm or radians) and gradient (3n, in the order of the point list), or the sentence why
  /// there is none.
  [[nodiscard]] calib::Result<ValueGradient, std::string> evaluate(
      const std::vector<Eigen::Vector3d>& points) const;
  /// Value alone; NaN inside where there is none.
  [[nodiscard]] double value(const std::vector<Eigen::Vector3d>& points) const;

  /// True where the value has an end that it cannot cross: zero, for angles also 180°.
  [[nodiscard]] bool is_unsigned() const;
  /// Nearest end: 0, or π for an obtuse angle.
  [[nodiscard]] double end_of(double value) const;
  [[nodiscard]] double distance_from_end(double value) const;
  /// The vector whose length is the distance from the end (for an angle its sine): zero where the
  /// value is at it.
  [[nodiscard]] Eigen::Vector3d departure(const std::vector<Eigen::Vector3d>& points) const;
  [[nodiscard]] bool departure_is_sine() const;
  /// tr(HΣ): twice the second-order bias of the value. H by differences of the gradient.
  [[nodiscard]] double curvature(const std::vector<Eigen::Vector3d>& points,
                                 const Eigen::MatrixXd& covariance) const;

 private:
  DimensionKind kind_;
  std::vector<std::size_t> at_;  ///< where each of points_of(kind) stands in the list
};

}  // namespace measure::internal
