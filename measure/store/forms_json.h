// What `scantling shapes`, `scantling coordinates` and `scantling explain` print with --json.
#pragma once

#include <string>
#include <vector>

#include "measure/bundle/survey.h"
#include "measure/dimension/explain.h"
#include "measure/dimension/form_result.h"

namespace measure {

/// One line after schema/shapes.schema.json. Model scale; mm, or the survey's own unit where there
/// is no scale bar; radians. Covariances in the order position 3, direction 3, radius, half angle.
[[nodiscard]] std::string forms_json(const std::vector<FormResult>& forms,
                                     const SurveyReport& report);

/// One line after schema/coordinates.schema.json.
/// @param in_model_axes  else in the survey's own.
[[nodiscard]] std::string coordinates_json(const std::vector<CoordinatesResult>& coordinates,
                                           bool in_model_axes, const SurveyReport& report);

/// One line after schema/explain.schema.json.
[[nodiscard]] std::string explanation_json(const Explanation& explanation);

}  // namespace measure
