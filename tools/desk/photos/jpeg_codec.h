// JPEG as a viewer wants it: reduced, in colour and grey at once, and cut into tiles without loss.
#pragma once

#include <QByteArray>
#include <QImage>
#include <QSize>
#include <optional>
#include <span>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace desk {

using JpegBytes = std::span<const unsigned char>;

/// What these functions can decode: YCbCr or grey, 8 bits. Of others (CMYK, RGB) nothing comes back
/// and OpenCV's decoder is asked instead.
struct JpegPixels {
  QImage colour;  ///< Format_RGB32
  cv::Mat grey;   ///< CV_8UC1: the JPEG's own Y, as OpenCV reads it
};

/// All pixels, sensor orientation.
[[nodiscard]] std::optional<JpegPixels> decode_jpeg(JpegBytes bytes);

/// Reduced by `reduction` 1, 2, 4 or 8 while decoding: each pixel stands for a square of so many,
/// the last of a row or column for what is left of it.
[[nodiscard]] std::optional<QImage> decode_jpeg_reduced(JpegBytes bytes, int reduction);

/// A JPEG cut into square JPEGs, row after row, by moving its coefficients: no pixel changes but
/// colours beside a tile's edge, where the decoder has no neighbours to smooth with.
struct JpegTiles {
  QSize size;
  std::vector<QByteArray> tiles;
};
/// @param tile  side in pixels, a multiple of 32 so that every subsampling fits.
[[nodiscard]] std::optional<JpegTiles> cut_jpeg(JpegBytes bytes, int tile);

}  // namespace desk
