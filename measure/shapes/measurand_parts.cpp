#include "measure/shapes/measurand_parts.h"

#include <algorithm>

namespace measure::internal {

namespace {

Departure departure_of(const Vector& vector) {
  return {.vector = vector.value, .by_inputs = vector.by};
}
Departure departure_of(const Scalar& number) {
  return {.vector = Eigen::VectorXd::Constant(1, number.value), .by_inputs = number.by};
}

Measurand angle_with(const Scalar& angle, Departure departure, double end) {
  departure.sine = true;
  departure.end = end;
  return {.value = angle.value,
          .gradient = angle.by,
          .departure = std::move(departure),
          .length_exponent = 0};
}

}  // namespace

Measurand unbounded(const Scalar& value) { return {.value = value.value, .gradient = value.by}; }

Measurand length_measurand(const Vector& departure) {
  const Scalar size = length(departure);
  return {.value = size.value, .gradient = size.by, .departure = departure_of(departure)};
}

Measurand magnitude_measurand(const Scalar& departure) {
  const Scalar size = magnitude(departure);
  return {.value = size.value, .gradient = size.by, .departure = departure_of(departure)};
}

Measurand angle_measurand(const Scalar& angle, const Vector& departure, double end) {
  return angle_with(angle, departure_of(departure), end);
}
Measurand angle_measurand(const Scalar& angle, const Scalar& departure, double end) {
  return angle_with(angle, departure_of(departure), end);
}

bool all_places(std::span<const Form> forms) {
  return std::all_of(forms.begin(), forms.end(),
                     [](const Form& form) { return is_place(form.kind); });
}

}  // namespace measure::internal
