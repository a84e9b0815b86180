// results.json: what was computed, and from what, so that stale results are called stale.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/dossier/dossier.h"

namespace measure {

inline constexpr const char* kResultsFileName = "results.json";

/// SHA-256 over all of the dossier that results depend on, hashes of photos and camera files
/// included.
[[nodiscard]] std::string fingerprint(const Dossier& dossier);

/// Writes results.json (schema/results.schema.json), whole or not at all.
[[nodiscard]] calib::Result<calib::Done, calib::Problem> write_results(
    const std::filesystem::path& folder, const Dossier& dossier, const SurveyReport& report,
    const std::vector<DimensionResult>& dimensions);

enum class ResultsState {
  kNone,        ///< nothing computed yet
  kCurrent,     ///< computed from the dossier as it stands
  kStale,       ///< the dossier has changed since
  kUnreadable,  ///< cut short, hostile, or of a newer version
};

[[nodiscard]] ResultsState results_state(const std::filesystem::path& folder,
                                         const Dossier& dossier);
[[nodiscard]] inline bool is_stale(const std::filesystem::path& folder, const Dossier& dossier) {
  return results_state(folder, dossier) == ResultsState::kStale;
}

}  // namespace measure
