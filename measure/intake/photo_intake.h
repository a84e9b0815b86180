// A photograph on its way into a dossier.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/camera/camera.h"
#include "measure/dossier/dossier.h"
#include "measure/intake/file_copies.h"

namespace measure {

struct PhotoIntakeOptions {
  std::string name;   ///< empty: the file's, without folder
  std::string epoch;  ///< empty: as visited
  bool copy = false;  ///< into the dossier's photos/, where it does not lie inside already
};

/// A photo as an AddPhoto may name it.
struct TakenInPhoto {
  Photo photo;
  std::optional<WantedCopy> copy;  ///< before that edit
  std::string doubt;               ///< a sentence: the EXIF names another camera; empty: nothing
};

/// Reads the whole picture: its hash, its size, its EXIF orientation. Takes as long as decoding it.
///
/// @param entry, camera  that took it.
/// Errors: a Problem (kInput) if the picture cannot be read or has another size than its camera.
[[nodiscard]] calib::Result<TakenInPhoto, calib::Problem> take_in_photo(
    const std::filesystem::path& folder, const std::filesystem::path& file,
    const CameraEntry& entry, const calib::Camera& camera, const PhotoIntakeOptions& options = {});

}  // namespace measure
