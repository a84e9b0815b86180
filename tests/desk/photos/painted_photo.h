// Photographs to decode, painted by formula: sharp edges, soft shades and noise.
#pragma once

#include <filesystem>
#include <string>

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

namespace testing_support {

/// Colours of which every part of the photo has its own.
inline cv::Mat painted_photo(int width, int height, std::uint64_t seed = 1) {
  cv::Mat photo(height, width, CV_8UC3);
  for (int y = 0; y < height; ++y) {
    for (int x = 0; x < width; ++x) {
      photo.at<cv::Vec3b>(y, x) = {static_cast<unsigned char>(60 + 120 * x / width),
                                   static_cast<unsigned char>(60 + 120 * y / height),
                                   static_cast<unsigned char>((x / 37 + y / 23) % 2 ? 170 : 70)};
    }
  }
  cv::Mat noise(height, width, CV_8UC3);
  cv::RNG(seed).fill(noise, cv::RNG::UNIFORM, 0, 12);
  return photo + noise;
}

inline void write_photo(const std::filesystem::path& file, const cv::Mat& photo,
                        int jpeg_quality = 90) {
  cv::imwrite(file.string(), photo, {cv::IMWRITE_JPEG_QUALITY, jpeg_quality});
}

}  // namespace testing_support
