// One photo of the board, from its file to its corners or the reason why not.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "calib/board/checkerboard.h"
#include "calib/board/exif.h"
#include "calib/board/find_board.h"
#include "calib/board/photo_refusal.h"

namespace calib {

struct BoardPhoto {
  std::filesystem::path path;
  std::string file;    ///< name without folder
  std::string sha256;  ///< empty where the file could not be read
  PhotoExif exif;
  std::optional<FoundBoard> found;      ///< where the photo can be used
  std::optional<PhotoRefusal> refusal;  ///< where it cannot: exactly one of the two is there

  /// Empty where the photo can be used, else the sentence for a person.
  [[nodiscard]] std::string reason() const;
};

/// Reads, hashes, and searches one photo. Never throws for what a file holds.
[[nodiscard]] BoardPhoto read_board_photo(const std::filesystem::path& path, const BoardSpec& board,
                                          const Cancelled& cancelled = {});

}  // namespace calib
