// Lengths from place to place.
#include "measure/shapes/measurand_parts.h"

namespace measure {

using calib::Unexpected;
using internal::Inputs;
using internal::Scalar;

MeasurandResult chain_length(std::span<const Form> places) {
  if (places.size() < 2) return Unexpected(ShapeError::kChainTooShort);
  if (!internal::all_places(places)) return Unexpected(ShapeError::kNeedsPlace);
  if (places.size() == 2) return distance(places[0], places[1]);
  const Inputs inputs(places.size());
  Scalar sum{0, Eigen::RowVectorXd::Zero(inputs.columns())};
  for (std::size_t i = 1; i < places.size(); ++i)
    sum = sum + length(inputs.position(i, places[i]) - inputs.position(i - 1, places[i - 1]));
  return internal::unbounded(sum);
}

}  // namespace measure
