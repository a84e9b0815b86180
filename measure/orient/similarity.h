// A change of frame and scale of a whole survey: X' = s·R·X + T.
#pragma once

#include <optional>
#include <span>

#include <Eigen/Core>

#include "calib/camera/projection.h"
#include "measure/orient/orient.h"

namespace measure {

/// target_from_source: rotation is a proper rotation matrix, scale > 0; translation in target
/// units.
struct Similarity {
  double scale = 1.0;
  Eigen::Matrix3d rotation = Eigen::Matrix3d::Identity();
  Eigen::Vector3d translation = Eigen::Vector3d::Zero();

  [[nodiscard]] Eigen::Vector3d operator*(const Eigen::Vector3d& point) const {
    return scale * (rotation * point) + translation;
  }
  /// The pose that shows the moved object as `pose` shows the object.
  [[nodiscard]] calib::Pose apply(const calib::Pose& pose) const;
};

/// Least-squares similarity between point lists of equal length. Nothing with fewer than 3 points
/// or where they lie in one line (second principal extent below 1e-6 of the first). Source: S.
/// Umeyama, IEEE PAMI 13(4) 1991.
[[nodiscard]] std::optional<Similarity> fit_similarity(std::span<const Eigen::Vector3d> source,
                                                       std::span<const Eigen::Vector3d> target);

/// Moves every pose and point; the photos show the same.
void transform(Orientation& orientation, const Similarity& target_from_source);

/// Multiplies all lengths, as when the first scale bar gives the unit. factor > 0.
void scale_by(Orientation& orientation, double factor);

}  // namespace measure
