#include "tools/cli/survey_run.h"

#include "measure/store/dossier_file.h"

namespace cli {

calib::Result<measure::Survey, calib::Problem> solve(const std::filesystem::path& folder,
                                                     const measure::Dossier& dossier) {
  const auto cameras = measure::read_cameras(folder, dossier);
  if (!cameras) {
    return calib::Unexpected(cameras.error());
  }
  Progress progress;
  measure::SurveyOptions options;
  options.progress = [&](double share, const std::string& what) { progress.show(share, what); };
  return measure::solve_survey(dossier, *cameras, options);
}

void warn_of(const measure::SurveyReport& report) {
  for (const std::string& sentence : report.warnings) {
    warn(sentence);
  }
}

}  // namespace cli
