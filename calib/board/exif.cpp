#include "calib/board/exif.h"

#include <algorithm>
#include <cmath>
#include <mutex>
#include <string>

#include <exiv2/exiv2.hpp>

#include "calib/base/units.h"

namespace calib {
namespace {

// The diagonal of the 36 mm × 24 mm frame, to which the 35 mm equivalent refers.
const double kFullFrameDiagonal_mm = std::hypot(36.0, 24.0);
// No lens on a camera sees wider than 1/5 or narrower than 1/200 of its focal length.
constexpr double kShortestFocalLength_widths = 0.2;
constexpr double kLongestFocalLength_widths = 200.0;
constexpr std::size_t kLongestText = 200;

void silence_exiv2() {
  static std::once_flag once;
  std::call_once(once, [] {
    Exiv2::LogMsg::setLevel(Exiv2::LogMsg::mute);
    Exiv2::XmpParser::initialize();
  });
}

std::string text_of(const Exiv2::ExifData& data, const char* key) {
  const auto found = data.findKey(Exiv2::ExifKey(key));
  if (found == data.end()) {
    return {};
  }
  std::string text = found->toString();
  text.resize(std::min({text.size(), text.find('\0'), kLongestText}));
  std::erase_if(text, [](unsigned char c) { return c < 0x20 || c == 0x7F; });
  const auto first = text.find_first_not_of(' ');
  const auto last = text.find_last_not_of(' ');
  return first == std::string::npos ? std::string() : text.substr(first, last - first + 1);
}

std::optional<double> positive_number_of(const Exiv2::ExifData& data, const char* key) {
  const auto found = data.findKey(Exiv2::ExifKey(key));
  if (found == data.end() || found->count() == 0) {
    return std::nullopt;
  }
  double value = std::numeric_limits<double>::quiet_NaN();
  if (const auto type = found->typeId();
      type == Exiv2::unsignedRational || type == Exiv2::signedRational) {
    const auto [numerator, denominator] = found->toRational();
    value = denominator == 0 ? value
                             : static_cast<double>(numerator) / static_cast<double>(denominator);
  } else {
    value = static_cast<double>(found->toFloat());
  }
  return std::isfinite(value) && value > 0.0 ? std::optional(value) : std::nullopt;
}

std::optional<double> millimetres_per_unit(const std::optional<double>& unit) {
  switch (unit ? static_cast<int>(*unit) : 2) {  // EXIF: inch where the tag is missing
    case 2:
      return kMillimetresPerInch;
    case 3:
      return 10.0;
    case 4:
      return 1.0;
    case 5:
      return 0.001;
    default:
      return std::nullopt;
  }
}

std::optional<double> focal_length_px(const Exiv2::ExifData& data, const PhotoExif& exif) {
  if (!exif.size) {
    return std::nullopt;
  }
  const double width_px = exif.size->width;
  const auto plausible = [width_px](double f_px) {
    return f_px > kShortestFocalLength_widths * width_px &&
           f_px < kLongestFocalLength_widths * width_px;
  };
  const auto resolution = positive_number_of(data, "Exif.Photo.FocalPlaneXResolution");
  const auto unit_mm =
      millimetres_per_unit(positive_number_of(data, "Exif.Photo.FocalPlaneResolutionUnit"));
  if (exif.lens_and_body.focal_length_mm && resolution && unit_mm) {
    // The resolution belongs to the photo as taken; a reduced copy keeps the tag.
    const double taken_width_px =
        positive_number_of(data, "Exif.Photo.PixelXDimension").value_or(width_px);
    const double f_px =
        *exif.lens_and_body.focal_length_mm * *resolution / *unit_mm * width_px / taken_width_px;
    if (plausible(f_px)) {
      return f_px;
    }
  }
  if (exif.lens_and_body.focal_length_35mm) {
    const double f_px = *exif.lens_and_body.focal_length_35mm / kFullFrameDiagonal_mm *
                        std::hypot(width_px, static_cast<double>(exif.size->height));
    if (plausible(f_px)) {
      return f_px;
    }
  }
  return std::nullopt;
}

PhotoExif exif_of(const std::filesystem::path& file) {
  silence_exiv2();
  PhotoExif exif;
  const auto image = Exiv2::ImageFactory::open(file.string());
  image->readMetadata();
  if (image->pixelWidth() > 0 && image->pixelHeight() > 0) {
    exif.size = ImageSize{image->pixelWidth(), image->pixelHeight()};
  }
  const Exiv2::ExifData& data = image->exifData();
  auto& lens_and_body = exif.lens_and_body;
  lens_and_body.make = text_of(data, "Exif.Image.Make");
  lens_and_body.model = text_of(data, "Exif.Image.Model");
  lens_and_body.lens = text_of(data, "Exif.Photo.LensModel");
  lens_and_body.focal_length_mm = positive_number_of(data, "Exif.Photo.FocalLength");
  lens_and_body.focal_length_35mm = positive_number_of(data, "Exif.Photo.FocalLengthIn35mmFilm");
  const double orientation = positive_number_of(data, "Exif.Image.Orientation").value_or(1.0);
  exif.orientation = orientation >= 1.0 && orientation <= 8.0 ? static_cast<int>(orientation) : 1;
  exif.focal_length_px = focal_length_px(data, exif);
  return exif;
}

}  // namespace

PhotoExif read_exif(const std::filesystem::path& file) noexcept {
  try {
    return std::filesystem::is_regular_file(file) ? exif_of(file) : PhotoExif{};
  } catch (...) {  // Exiv2 throws its own and the standard library's; none may stop a calibration
    return {};
  }
}

}  // namespace calib
