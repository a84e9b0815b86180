// Measurands from lengths of vectors, unsigned and signed numbers. For this room's .cpp files.
#pragma once

#include "measure/shapes/chain_rule.h"
#include "measure/shapes/measurand.h"

namespace measure::internal {

/// A number that nothing bounds.
[[nodiscard]] Measurand unbounded(const Scalar& value);
/// The length of a vector, which ends at zero.
[[nodiscard]] Measurand length_measurand(const Vector& departure);
/// The magnitude of a number, which ends at zero.
[[nodiscard]] Measurand magnitude_measurand(const Scalar& departure);

/// An angle near or far from an end: the departure by a vector or a number whose size is the sine
/// of the distance.
[[nodiscard]] Measurand angle_measurand(const Scalar& angle, const Vector& departure, double end);
[[nodiscard]] Measurand angle_measurand(const Scalar& angle, const Scalar& departure, double end);

/// Do all of them count as a point?
[[nodiscard]] bool all_places(std::span<const Form> forms);

}  // namespace measure::internal
