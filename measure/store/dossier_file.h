// A dossier is a folder: dossier.json in it, the journal, the photos, the cameras, the results.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/camera/camera.h"
#include "measure/dossier/dossier.h"

namespace measure {

inline constexpr const char* kDossierFileName = "dossier.json";

/// The dossier as it stands: dossier.json (schema/dossier.schema.json) with the edits of the
/// journal that are not in it yet (replay.h). Read by the rules of measure/edit: what is read could
/// have been entered. Lists are sorted as apply() keeps them. Needs no lock: another program may
/// have the dossier open.
///
/// Errors: a Problem (kInput) naming file, item and remedy if the folder is no dossier, or a file
///         is cut short, hostile, of a newer major version or contradicts itself, or the journal is
///         damaged. No file is ever touched.
[[nodiscard]] calib::Result<Dossier, calib::Problem> read_dossier(
    const std::filesystem::path& folder);

/// The text of dossier.json, which the journal may be ahead of.
///
/// Errors: a Problem (kInput) if the folder is no dossier or the file cannot be read.
[[nodiscard]] calib::Result<std::string, calib::Problem> read_dossier_text(
    const std::filesystem::path& folder);

/// The dossier of the text of a dossier.json, without the journal.
/// @param source  names the text in sentences.
[[nodiscard]] calib::Result<Dossier, calib::Problem> dossier_from_text(std::string_view text,
                                                                       const std::string& source);

/// Replaces dossier.json, whole or not at all (calib::atomic_write). Knows nothing of the journal:
/// what changes a dossier uses OpenDossier.
[[nodiscard]] calib::Result<calib::Done, calib::Problem> write_dossier(
    const std::filesystem::path& folder, const Dossier& dossier);
/// The same of a text that dossier_text() gave.
[[nodiscard]] calib::Result<calib::Done, calib::Problem> write_dossier_text(
    const std::filesystem::path& folder, std::string_view text);

/// Makes the folder, if need be, and writes the dossier into it.
///
/// Errors: as write_dossier, and if the folder holds a dossier or the journal of one already.
[[nodiscard]] calib::Result<calib::Done, calib::Problem> create_dossier(
    const std::filesystem::path& folder, const Dossier& dossier);

/// The text that write_dossier writes: sorted, one mark a line, units in the names of keys.
[[nodiscard]] std::string dossier_text(const Dossier& dossier);

/// Where a file named in the dossier lies: names are relative to the dossier folder.
[[nodiscard]] std::filesystem::path path_of(const std::filesystem::path& folder,
                                            const std::string& file);

/// How the dossier should name a file: relative with '/' where it lies inside the folder, or beside
/// it under a folder at most three levels up (not the root of the disk), so that both can be moved
/// together; else absolute.
[[nodiscard]] std::string name_in_dossier(const std::filesystem::path& folder,
                                          const std::filesystem::path& file);

/// Whether a name of name_in_dossier() lies inside the dossier folder, and so goes where it goes.
[[nodiscard]] bool is_inside_dossier(const std::string& name);

/// The cameras by name, as their files stand.
///
/// Errors: a Problem (kInput) if one cannot be read, or is not the file that was added.
[[nodiscard]] calib::Result<std::map<std::string, calib::Camera>, calib::Problem> read_cameras(
    const std::filesystem::path& folder, const Dossier& dossier);

/// Holds a dossier for one program at a time: two that save would lose each other's edits.
///
/// Source: flock(2), advisory; let go when the program ends, however it ends.
class DossierLock {
 public:
  /// Nothing where another program has it.
  ///
  /// Errors: a Problem (kInput) if the folder is missing.
  [[nodiscard]] static calib::Result<std::optional<DossierLock>, calib::Problem> try_to_take(
      const std::filesystem::path& folder);

  /// Errors: a Problem (kInput) if the folder is missing or another program has the dossier open.
  [[nodiscard]] static calib::Result<DossierLock, calib::Problem> take(
      const std::filesystem::path& folder);

  DossierLock(DossierLock&& other) noexcept;
  DossierLock& operator=(DossierLock&& other) noexcept;
  ~DossierLock();

 private:
  explicit DossierLock(int descriptor) : descriptor_(descriptor) {}
  int descriptor_ = -1;
};

/// Who has the dossier open, for sentences: "another program (desk, process 4711)"; no more than
/// "another program" where the system does not tell.
[[nodiscard]] std::string holder_of(const std::filesystem::path& folder);

}  // namespace measure
