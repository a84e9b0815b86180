// A part of a photograph as a small JPEG.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/dossier/dossier.h"
#include "measure/sheet/picture_view.h"

namespace measure {

struct StoredPicture {
  std::string jpeg;  ///< the bytes of the file
  calib::ImageSize size;
};

/// Cuts parts out of one photo, turns them, and stores each as a JPEG, no longer than longest_px.
///
/// JPEGs are decoded at a half, a quarter or an eighth where that is enough. The photo must be the
/// one that was added: its hash is compared.
///
/// Errors: a Problem (kInput) naming the file and the remedy if it cannot be read, is cut short, or
/// is another one than the dossier knows.
[[nodiscard]] calib::Result<std::vector<StoredPicture>, calib::Problem> cut_pictures(
    const std::filesystem::path& file, const Photo& photo, const std::vector<PhotoPart>& parts,
    int quarter_turns, int longest_px = 1600);

}  // namespace measure
