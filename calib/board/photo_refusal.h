// Why a photo of the board takes no part in a calibration.
#pragma once

#include <string>
#include <string_view>

namespace calib {

enum class PhotoRefusalKind {
  kUnreadable,   ///< no picture, damaged, empty …; the detail is the whole sentence
  kNotFound,     ///< no board with this many inner corners
  kCutOff,       ///< a board is there, but part of it seems to lie outside the photo
  kTooBlurred,   ///< found, but blurred over too large a part of its squares
  kCancelled,    ///< the caller asked to stop
  kAnotherSize,  ///< another number of pixels than most photos of the set
  kSameView,     ///< every corner lies where it lies in another photo of the set
};

struct PhotoRefusal {
  PhotoRefusalKind kind = PhotoRefusalKind::kNotFound;
  std::string detail;  ///< what belongs into the sentence: a size, another photo's name
};

/// One or two words for a table: "not found", "cut off", "too blurred", "another size", "same
/// view".
[[nodiscard]] std::string_view short_name(PhotoRefusalKind kind);

/// The sentence for a person, with the photo's name and the remedy.
[[nodiscard]] std::string describe(const PhotoRefusal& refusal, std::string_view photo);

}  // namespace calib
