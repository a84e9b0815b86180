// Where first order misleads: a value that cannot be negative, close to zero, is biased upwards and
// skew. For the .cpp files of this room only.
#pragma once

#include <cstdint>
#include <optional>

#include <Eigen/Core>

#include "measure/shapes/measurand.h"

namespace measure::internal {

struct NearZero {
  double low = 0.0, high = 0.0;  ///< 95.45 %
  double sd = 0.0;
};

/// The interval that stands in place of value ± U, or nothing where ± U holds: beyond 5 u from the
/// end, and without noticeable curvature.
///
/// @param covariance  of the departure's vector.
/// @param u  of the value, first order.
/// @param degrees_of_freedom  that u was estimated with; infinite: it is known.
[[nodiscard]] std::optional<NearZero> near_zero_interval(const Departure& departure,
                                                         const Eigen::MatrixXd& covariance,
                                                         double value, double u,
                                                         double degrees_of_freedom,
                                                         std::uint32_t seed);

}  // namespace measure::internal
