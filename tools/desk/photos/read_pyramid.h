// From a photo's file to its pyramid, in two steps: soon and complete.
#pragma once

#include <filesystem>
#include <memory>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/board/photo_file.h"
#include "tools/desk/photos/photo_store.h"

namespace desk {

/// A JPEG reduced to an eighth while decoding; nothing where the file's kind cannot be read so and
/// it has to be decoded whole.
[[nodiscard]] std::shared_ptr<const PhotoPyramid> read_reduced(const calib::PhotoBytes& photo);

/// Errors: a Problem naming the file and the remedy if the pixels cannot be decoded.
[[nodiscard]] calib::Result<std::shared_ptr<const PhotoPyramid>, calib::Problem> read_whole(
    const std::filesystem::path& file, const calib::PhotoBytes& photo);

/// At most `side` px on the longer side.
[[nodiscard]] calib::Result<QImage, calib::Problem> read_thumbnail(
    const std::filesystem::path& file, const calib::PhotoBytes& photo, int side);

}  // namespace desk
