// Is everything that the dossier names still there, and still the same?
#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "measure/dossier/dossier.h"

namespace measure {

enum class Severity {
  kFault,   ///< results of this dossier cannot be trusted, or not be repeated
  kNotice,  ///< worth knowing
};

struct Finding {
  Severity severity = Severity::kFault;
  std::string sentence;  ///< file or item, and the remedy
};

/// Photos and camera files present and unchanged, cameras readable and of their photos' size,
/// photos that also served to calibrate their camera, points that nothing marks, results current,
/// edits that only the journal holds, remains of an interrupted save.
///
/// References inside dossier.json were checked when it was read.
/// @param progress  told the share done, 0 to 1: hashing photos takes a while.
[[nodiscard]] std::vector<Finding> verify(const std::filesystem::path& folder,
                                          const Dossier& dossier,
                                          const std::function<void(double)>& progress = {});

}  // namespace measure
