// The dossier as it stands: dossier.json, and the edits of the journal that are not in it.
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/dossier/dossier.h"
#include "measure/edit/history.h"
#include "measure/store/journal.h"

namespace measure {

struct ReplayedDossier {
  Dossier dossier;
  EditHistory history;       ///< of the edits since the last save
  std::size_t unsaved = 0;   ///< edits since the last save, undone and redone ones counted too
  std::string last_utc;      ///< of the last of them; empty where there is none
  std::string saved_sha256;  ///< of dossier.json as it lies there
  JournalContents journal;   ///< that belongs to it
};

/// Reads both files and takes the edits again. Needs no lock and writes nothing: where another
/// program saves meanwhile, it reads anew.
///
/// Edits that are in dossier.json already are told by its SHA-256, so that none is taken twice.
///
/// Errors: as read_dossier.
[[nodiscard]] calib::Result<ReplayedDossier, calib::Problem> replay(
    const std::filesystem::path& folder);

}  // namespace measure
