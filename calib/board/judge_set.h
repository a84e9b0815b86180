// What only the whole set of board photos can tell: odd sizes, repeated views, mixed cameras.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "calib/base/problem.h"
#include "calib/board/find_board.h"
#include "calib/board/photo_refusal.h"
#include "calib/camera/camera.h"

namespace calib {

/// One photo with its board, as the set is judged.
struct SetPhoto {
  std::string file;                   ///< name for sentences
  const FoundBoard* board = nullptr;  ///< nullptr where none was found: such a photo is not judged
};

/// For each photo a refusal (kAnotherSize, kSameView) or nothing.
///
/// The size that most photos have stands (the first among equals). A view is the same as an earlier
/// one when every corner lies within a twentieth of its square of where it lies there, in any turn
/// of the board onto itself: it would count the same evidence twice.
[[nodiscard]] std::vector<std::optional<PhotoRefusal>> judge_set(std::span<const SetPhoto> photos);

/// One photo's camera according to its EXIF.
struct PhotoCamera {
  std::string file;
  LensAndBody lens_and_body;
};

/// A sentence listing the cameras if the photos come from more than one body, lens or focal length.
///
/// A photo whose EXIF is silent on an item agrees with every other on it.
[[nodiscard]] std::optional<Problem> mixed_cameras(std::span<const PhotoCamera> photos);

}  // namespace calib
