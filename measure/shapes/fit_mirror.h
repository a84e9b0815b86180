// The plane of symmetry of an original, from pairs of points, and each pair's departure from it.
#pragma once

#include <limits>
#include <span>
#include <vector>

#include <Eigen/Core>

#include "calib/base/result.h"
#include "measure/shapes/fit_form.h"

namespace measure {

struct MirrorPair {
  Eigen::Vector3d one, other;
};

struct MirrorInput {
  std::span<const MirrorPair> pairs = {};
  /// 6n×6n: x y z of `one`, x y z of `other`, pair by pair; as in FitInput.
  Eigen::MatrixXd covariance = {};
  double tested_dof = std::numeric_limits<double>::infinity();
};

/// How far one pair is from symmetric: the vector from `other` to the mirror image of `one`.
struct PairDeparture {
  Eigen::Vector3d vector = Eigen::Vector3d::Zero();
  Eigen::MatrixXd by_points;  ///< 3×6n: the plane, too, follows the points
};

struct FittedMirror {
  /// The plane (normal from `one` to `other` of the first pair that tells a side); departures:
  /// length of each pair's vector, unsigned. The test asks whether the original is symmetric.
  FittedForm plane;
  std::vector<PairDeparture> pairs;
};

/// The plane in which the pairs mirror each other best; one pair or more, weighted as fit_form().
[[nodiscard]] calib::Result<FittedMirror, ShapeError> fit_mirror(const MirrorInput& input);

}  // namespace measure
