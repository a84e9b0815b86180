// The way of every command that changes a dossier: open, edit, journal, save, warn.
#pragma once

#include <filesystem>
#include <functional>

#include "measure/dossier/dossier.h"
#include "measure/edit/edit.h"
#include "measure/store/open_dossier.h"
#include "tools/cli/terminal.h"

namespace cli {

/// Makes the edit for the dossier as it stands.
using EditOf =
    std::function<calib::Result<measure::Edit, calib::Problem>(const measure::Dossier& dossier)>;

/// Opens a dossier for changes, and says what a crash had left in its journal.
[[nodiscard]] calib::Result<measure::OpenDossier, calib::Problem> open_for_change(
    const std::filesystem::path& folder);

/// Applies one edit and saves. Where anything fails, nothing has changed on disk.
[[nodiscard]] Outcome change_dossier(const std::filesystem::path& folder, const EditOf& edit_of);
[[nodiscard]] Outcome change_dossier(const std::filesystem::path& folder,
                                     const measure::Edit& edit);

/// Points that must be named in the dossier before they can be marked.
[[nodiscard]] std::vector<measure::Edit> new_points(const measure::Dossier& dossier,
                                                    const std::vector<measure::Mark>& marks);

/// "3 marks", "1 mark".
[[nodiscard]] std::string count_of(std::size_t count, const std::string& noun);

}  // namespace cli
