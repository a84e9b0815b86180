#include "calib/board/board_photo.h"

#include <utility>

#include "calib/board/photo_file.h"

namespace calib {

std::string BoardPhoto::reason() const {
  return refusal ? describe(*refusal, file) : std::string();
}

BoardPhoto read_board_photo(const std::filesystem::path& path, const BoardSpec& board,
                            const Cancelled& cancelled) {
  BoardPhoto photo;
  photo.path = path;
  photo.file = path.filename().string();
  if (cancelled && cancelled()) {
    photo.refusal = PhotoRefusal{PhotoRefusalKind::kCancelled, {}};
    return photo;
  }
  const auto grey = read_grey_photo(path);
  if (!grey) {
    photo.refusal = PhotoRefusal{PhotoRefusalKind::kUnreadable, grey.error().sentence};
    return photo;
  }
  photo.sha256 = grey->sha256;
  photo.exif = read_exif(path);
  auto found = find_board(grey->pixels, board, cancelled);
  if (found) {
    photo.found = std::move(*found);
  } else {
    photo.refusal = found.error();
  }
  return photo;
}

}  // namespace calib
