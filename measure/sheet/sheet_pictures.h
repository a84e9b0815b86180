// The photographs of a sheet: which, with what drawn into them. For the .cpp files of this room
// only.
#pragma once

#include <vector>

#include "measure/sheet/sheet_content.h"

namespace measure::internal {

/// Adds the pictures to the content, and to its dimensions where they are shown.
/// @param asked  index in the dossier of each dimension of the content.
[[nodiscard]] calib::Result<calib::Done, calib::Problem> add_pictures(
    const Survey& survey, const Dossier& dossier, const std::vector<std::size_t>& asked,
    const SheetOptions& options, SheetContent& content);

}  // namespace measure::internal
