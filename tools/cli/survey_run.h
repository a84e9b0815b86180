// What adjust and dimensions share: reading, solving, writing results.json.
#pragma once

#include <filesystem>
#include <vector>

#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/dossier/dossier.h"
#include "tools/cli/terminal.h"

namespace cli {

/// Reads the cameras and solves, with progress.
[[nodiscard]] calib::Result<measure::Survey, calib::Problem> solve(
    const std::filesystem::path& folder, const measure::Dossier& dossier);

/// Warnings of the survey on stderr.
void warn_of(const measure::SurveyReport& report);

}  // namespace cli
