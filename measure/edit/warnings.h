// What is allowed but probably not meant.
#pragma once

#include <string>
#include <vector>

#include "measure/dossier/dossier.h"
#include "measure/edit/edit.h"

namespace measure {

/// Sentences about an edit that has been applied to this dossier: bars that contradict each other
/// beyond their uncertainties, a bar of unlikely temperature or expansion, a second dimension that
/// asks the same.
[[nodiscard]] std::vector<std::string> warnings_after(const Edit& edit, const Dossier& dossier);

}  // namespace measure
