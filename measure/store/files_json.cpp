#include "measure/store/files_json.h"

#include "calib/file/versioned_json.h"

namespace measure {

std::string files_json(const std::vector<std::filesystem::path>& files, const std::string& check,
                       const std::vector<std::string>& warnings) {
  using calib::Json;
  Json names = Json::array();
  for (const std::filesystem::path& file : files) names.push_back(file.generic_string());
  const Json json = {{"files", std::move(names)},
                     {"check", check.empty() ? Json() : Json(check)},
                     {"warnings", warnings}};
  // A name that is no UTF-8 must not stop the command: such bytes are replaced.
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace measure
