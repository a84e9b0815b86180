// One asked dimension against a survey: value, gradient on the survey's blocks, what the survey
// does not know of it, and how it departs from an end. For the .cpp files of this room only.
#pragma once

#include <map>
#include <optional>
#include <string>

#include "calib/adjust/budget.h"
#include "calib/base/result.h"
#include "measure/dimension/resolve.h"
#include "measure/shapes/measurand.h"

namespace measure::internal {

struct Measured {
  double value = 0.0;
  calib::adjust::Gradient gradient;
  double definition_variance = 0.0;  ///< of points, seen shapes, and shapes that are not true
  std::optional<Departure> departure;
  std::map<int, Eigen::MatrixXd> departure_by_block;
  std::map<std::string, Eigen::MatrixXd> departure_by_loose;
  std::string note;
};

/// The dimension, or the sentence why it has no value.
[[nodiscard]] calib::Result<Measured, std::string> measure_kind(Resolver& resolver,
                                                                const DimensionKind& kind);

}  // namespace measure::internal
