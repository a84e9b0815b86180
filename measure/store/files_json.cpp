#include "measure/store/files_json.h"

#include "calib/file/versioned_json.h"

namespace measure {

std::string files_json(const std::vector<std::filesystem::path>& files) {
  calib::Json names = calib::Json::array();
  for (const std::filesystem::path& file : files) names.push_back(file.generic_string());
  // A name that is no UTF-8 must not stop the command: such bytes are replaced.
  return calib::Json{{"files", names}}.dump(-1, ' ', false, calib::Json::error_handler_t::replace);
}

}  // namespace measure
