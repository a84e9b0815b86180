#include "calib/board/photo_file.h"

#include <algorithm>
#include <array>
#include <cstdint>
#include <fstream>
#include <optional>
#include <span>
#include <system_error>
#include <vector>

#include <opencv2/imgcodecs.hpp>

#include "calib/board/photo_hash.h"

namespace calib {
namespace {

constexpr std::int64_t kLargestPhoto_px = 600'000'000;
// A 600-megapixel photo with three channels of 16 bits, uncompressed, with room for its metadata.
constexpr std::uintmax_t kLargestFile_bytes = 4'000'000'000;

using Bytes = std::span<const unsigned char>;

struct Header {
  PhotoFormat format = PhotoFormat::kJpeg;
  std::int64_t width = 0, height = 0;
  bool complete = true;
};

std::int64_t big_endian(Bytes bytes, std::size_t at, std::size_t count) {
  std::int64_t value = 0;
  for (std::size_t i = 0; i < count; ++i) {
    value = value * 256 + bytes[at + i];
  }
  return value;
}

// libjpeg fills the missing rest of a cut JPEG with grey and only warns, so its end is looked for
// here: segment by segment, because a preview inside the metadata has an end marker of its own.
Header jpeg_header(Bytes bytes) {
  Header header{.complete = false};
  std::size_t at = 2;
  while (at + 4 <= bytes.size()) {
    if (bytes[at] != 0xFF) {
      return header;
    }
    const unsigned marker = bytes[at + 1];
    if (marker == 0xFF) {  // fill byte
      ++at;
      continue;
    }
    if (marker == 0xD9) {
      break;
    }
    if ((marker >= 0xD0 && marker <= 0xD7) || marker == 0x01) {  // markers without a length
      at += 2;
      continue;
    }
    const auto length = static_cast<std::size_t>(big_endian(bytes, at + 2, 2));
    const bool is_frame =
        marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC;
    if (is_frame && at + 9 <= bytes.size()) {
      header.height = big_endian(bytes, at + 5, 2);
      header.width = big_endian(bytes, at + 7, 2);
    }
    at += 2 + length;
    if (marker == 0xDA) {  // entropy-coded data runs up to the next marker that is neither stuffed
                           // nor a restart
      while (at + 1 < bytes.size() &&
             !(bytes[at] == 0xFF && bytes[at + 1] != 0 && (bytes[at + 1] & 0xF8) != 0xD0)) {
        ++at;
      }
    }
  }
  header.complete = at + 2 <= bytes.size() && bytes[at] == 0xFF && bytes[at + 1] == 0xD9;
  return header;
}

bool starts_with(Bytes bytes, std::initializer_list<unsigned char> signature) {
  return bytes.size() >= signature.size() &&
         std::equal(signature.begin(), signature.end(), bytes.begin());
}

// Empty where the bytes are of no kind that we read.
std::optional<Header> header_of(Bytes bytes) {
  if (starts_with(bytes, {0xFF, 0xD8, 0xFF})) {
    return jpeg_header(bytes);
  }
  if (starts_with(bytes, {0x89, 'P', 'N', 'G', 0x0D, 0x0A, 0x1A, 0x0A})) {
    if (bytes.size() < 24) {
      return Header{.format = PhotoFormat::kPng, .complete = false};
    }
    return Header{.format = PhotoFormat::kPng,
                  .width = big_endian(bytes, 16, 4),
                  .height = big_endian(bytes, 20, 4)};
  }
  if (starts_with(bytes, {'I', 'I', 42, 0}) || starts_with(bytes, {'M', 'M', 0, 42}) ||
      starts_with(bytes, {'I', 'I', 43, 0}) || starts_with(bytes, {'M', 'M', 0, 43})) {
    return Header{.format =
                      PhotoFormat::kTiff};  // libtiff checks its own sizes against OpenCV's limit
  }
  return std::nullopt;
}

}  // namespace

Result<PhotoBytes, Problem> read_photo_bytes(const std::filesystem::path& file) {
  const auto problem = [&file](const std::string& what) {
    return Unexpected(Problem{file.string() + ": " + what});
  };
  std::error_code failure;
  const auto status = std::filesystem::status(file, failure);
  if (!std::filesystem::exists(status)) {
    return problem("there is no such file: check the name");
  }
  if (std::filesystem::is_directory(status)) {
    return problem("is a folder, not a photo: name the photos in it");
  }
  if (!std::filesystem::is_regular_file(status)) {
    return problem("is no ordinary file: name a photo");
  }
  const std::uintmax_t size = std::filesystem::file_size(file, failure);
  if (failure) {
    return problem("cannot be read: check the rights");
  }
  if (size == 0) {
    return problem("is empty: copy it again from the camera");
  }
  if (size > kLargestFile_bytes) {
    return problem("is larger than 4 GB: export the photo as JPEG");
  }
  std::vector<unsigned char> bytes(size);
  std::ifstream stream(file, std::ios::binary);
  stream.read(reinterpret_cast<char*>(bytes.data()), static_cast<std::streamsize>(size));
  if (!stream) {
    return problem("cannot be read: check the rights, or copy it again from the camera");
  }

  const auto header = header_of(bytes);
  if (!header) {
    return problem("is no JPEG, PNG or TIFF picture: export the photo as one of these");
  }
  if (!header->complete) {
    return problem("is cut short: copy it again from the camera");
  }
  if (header->width * header->height > kLargestPhoto_px) {
    return problem("has more than 600 megapixels: reduce it");
  }
  return PhotoBytes{std::move(bytes),
                    header->format,
                    {static_cast<int>(header->width), static_cast<int>(header->height)}};
}

Result<GreyPhoto, Problem> read_grey_photo(const std::filesystem::path& file, GreyDepth depth) {
  const auto problem = [&file](const std::string& what) {
    return Unexpected(Problem{file.string() + ": " + what});
  };
  const auto stored = read_photo_bytes(file);
  if (!stored) {
    return Unexpected(stored.error());
  }
  GreyPhoto photo;
  photo.sha256 = sha256_of_bytes(stored->bytes);
  const int flags = cv::IMREAD_GRAYSCALE | cv::IMREAD_IGNORE_ORIENTATION |
                    (depth == GreyDepth::kAsStored ? int{cv::IMREAD_ANYDEPTH} : 0);
  try {
    photo.pixels = cv::imdecode(stored->bytes, flags);
  } catch (const cv::Exception&) {
    photo.pixels.release();
  } catch (const std::bad_alloc&) {
    return problem("needs more memory than there is: reduce it");
  }
  if (photo.pixels.empty()) {
    return problem("is damaged or cut short: copy it again from the camera, or export it as JPEG");
  }
  if (photo.pixels.type() != CV_8UC1 && photo.pixels.type() != CV_16UC1) {
    return problem("does not hold whole-number pixels: export it with 8 or 16 bits a channel");
  }
  return photo;
}

}  // namespace calib
