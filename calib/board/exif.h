// What a photo's EXIF says of the camera that took it.
#pragma once

#include <filesystem>
#include <optional>

#include "calib/camera/camera.h"

namespace calib {

/// EXIF of one photo; every item is absent where the file is silent or says nonsense.
struct PhotoExif {
  LensAndBody lens_and_body;
  int orientation = 1;            ///< EXIF Orientation, 1 to 8; pixels are never turned by it here
  std::optional<ImageSize> size;  ///< of the stored pixels, sensor orientation
  /// Start value of the focal length in pixels of the stored photo, from the resolution of the
  /// focal plane or else from the 35 mm equivalent; good to some per cent, and only where the photo
  /// was not cropped.
  std::optional<double> focal_length_px;
};

/// Reads the EXIF of a photo. Never throws: a file without EXIF, a damaged or a hostile one gives
/// the defaults.
///
/// Source: CIPA DC-008 (EXIF 2.32), tags Make, Model, LensModel, FocalLength,
/// FocalLengthIn35mmFilm, FocalPlaneXResolution, FocalPlaneResolutionUnit, PixelXDimension,
/// Orientation.
[[nodiscard]] PhotoExif read_exif(const std::filesystem::path& file) noexcept;

}  // namespace calib
