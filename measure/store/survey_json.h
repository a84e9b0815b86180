// What `scantling adjust --json` and `scantling dimensions --json` print.
#pragma once

#include <string>
#include <vector>

#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/dossier/dossier.h"

namespace measure {

/// One line after schema/adjust.schema.json. What does not exist is null, never NaN.
[[nodiscard]] std::string adjust_json(const SurveyReport& report, const Dossier& dossier);

/// One line after schema/dimensions.schema.json; `comparisons` are there after --monte-carlo.
[[nodiscard]] std::string dimensions_json(const std::vector<DimensionResult>& dimensions,
                                          const std::vector<MonteCarloComparison>& comparisons,
                                          const SurveyReport& report);

}  // namespace measure
