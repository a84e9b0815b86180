#include "measure/store/results_file.h"

#include <span>
#include <system_error>

#include "calib/board/photo_hash.h"
#include "calib/file/atomic_write.h"
#include "calib/file/versioned_json.h"
#include "measure/store/dossier_json.h"
#include "measure/store/results_json.h"

namespace measure {
namespace {

namespace fs = std::filesystem;
using calib::Json;

constexpr calib::FileSchema kSchema{"scantling results", "results file", 1, 1};

}  // namespace

std::string fingerprint(const Dossier& dossier) {
  // Where photos and cameras lie does not change what is computed: their own hashes speak for them.
  Json json = json_of(dossier);
  for (const char* list : {"photos", "cameras"}) {
    for (Json& entry : json[list]) {
      entry.erase("file");
    }
  }
  // Nor do the version of the file, where nothing was seen, and how good a dimension is to be.
  json.erase("schema_version");
  json.erase("hidden");
  for (Json& dimension : json["dimensions"]) {
    dimension.erase("tolerance_mm");
  }
  const std::string text = json.dump(-1, ' ', false, Json::error_handler_t::replace);
  return calib::sha256_of_bytes({reinterpret_cast<const unsigned char*>(text.data()), text.size()});
}

calib::Result<calib::Done, calib::Problem> write_results(
    const fs::path& folder, const Dossier& dossier, const SurveyReport& report,
    const std::vector<DimensionResult>& dimensions) {
  Json json = calib::new_file(kSchema);
  json["computed_from"] = {{"dossier_sha256", fingerprint(dossier)}};
  json["adjust"] = json_of(report, dossier);
  json["dimensions"] = json_of(dimensions);
  return calib::atomic_write(folder / kResultsFileName, calib::pretty_text(json));
}

ResultsState results_state(const fs::path& folder, const Dossier& dossier) {
  const fs::path file = folder / kResultsFileName;
  std::error_code ignored;
  if (!fs::exists(file, ignored)) {
    return ResultsState::kNone;
  }
  const auto json = calib::load_versioned(file, kSchema);
  if (!json) {
    return ResultsState::kUnreadable;
  }
  const auto computed_from =
      calib::read_json<std::string>(*json, file.string(), [](const calib::JsonItem& root) {
        return root.at("computed_from").at("dossier_sha256").text();
      });
  if (!computed_from) {
    return ResultsState::kUnreadable;
  }
  return *computed_from == fingerprint(dossier) ? ResultsState::kCurrent : ResultsState::kStale;
}

}  // namespace measure
