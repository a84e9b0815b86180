// The pixels of a photograph, as the sensor had them.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include <opencv2/core/mat.hpp>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/camera/intrinsics.h"

namespace calib {

enum class GreyDepth {
  kEightBit,  ///< CV_8UC1 always
  kAsStored,  ///< CV_16UC1 where the file holds 16 bits a channel, else CV_8UC1
};

enum class PhotoFormat { kJpeg, kPng, kTiff };

/// A photograph as its file holds it, found fit to be decoded.
struct PhotoBytes {
  std::vector<unsigned char> bytes;
  PhotoFormat format = PhotoFormat::kJpeg;
  ImageSize size;  ///< of the stored pixels; zero for TIFF, whose decoder finds it
};

/// A photograph in grey, not turned by its EXIF orientation: pixel (0, 0) is the sensor's.
struct GreyPhoto {
  cv::Mat pixels;      ///< rows × columns, CV_8UC1 or CV_16UC1
  std::string sha256;  ///< of the file's bytes, the same bytes that were decoded

  [[nodiscard]] ImageSize size() const { return {pixels.cols, pixels.rows}; }
};

/// Reads the file, and looks at its header but not at its pixels.
///
/// Errors: a Problem (kInput) naming the file and the remedy if it is missing, a folder, empty, cut
/// short, no JPEG, PNG or TIFF, or of more than 600 megapixels.
[[nodiscard]] Result<PhotoBytes, Problem> read_photo_bytes(const std::filesystem::path& file);

/// Reads a JPEG, PNG or TIFF, colour or grey, of at most 600 megapixels.
///
/// Errors: a Problem (kInput) naming the file and the remedy if it is missing, a folder, empty, cut
/// short, no picture of these kinds, too large, or holds floating-point pixels.
[[nodiscard]] Result<GreyPhoto, Problem> read_grey_photo(const std::filesystem::path& file,
                                                         GreyDepth depth = GreyDepth::kEightBit);

}  // namespace calib
