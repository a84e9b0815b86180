// JSON values behind survey_json.h and results_file.h. Private to this room.
#pragma once

#include "calib/file/versioned_json.h"
#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"

namespace measure {

[[nodiscard]] calib::Json json_of(const SurveyReport& report, const Dossier& dossier);
[[nodiscard]] calib::Json json_of(const std::vector<DimensionResult>& dimensions);

}  // namespace measure
