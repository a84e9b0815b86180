#include "measure/sheet/picture_file.h"

#include <algorithm>
#include <cmath>

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "calib/board/photo_file.h"
#include "calib/board/photo_hash.h"

namespace measure {
namespace {

constexpr int kJpegQuality = 84;

/// How far the decoder may reduce the photo and still give every part all its pixels.
int reduction_for(const std::vector<PhotoPart>& parts, int longest_px) {
  int reduction = 8;
  for (const PhotoPart& part : parts) {
    const int longer = std::max(part.width, part.height);
    while (reduction > 1 && longer / reduction < longest_px) reduction /= 2;
  }
  return reduction;
}

int flags_for(int reduction) {
  switch (reduction) {
    case 2:
      return cv::IMREAD_REDUCED_COLOR_2 | cv::IMREAD_IGNORE_ORIENTATION;
    case 4:
      return cv::IMREAD_REDUCED_COLOR_4 | cv::IMREAD_IGNORE_ORIENTATION;
    case 8:
      return cv::IMREAD_REDUCED_COLOR_8 | cv::IMREAD_IGNORE_ORIENTATION;
    default:
      return cv::IMREAD_COLOR | cv::IMREAD_IGNORE_ORIENTATION;
  }
}

}  // namespace

calib::Result<std::vector<StoredPicture>, calib::Problem> cut_pictures(
    const std::filesystem::path& file, const Photo& photo, const std::vector<PhotoPart>& parts,
    int quarter_turns, int longest_px) {
  const auto refuse = [&](const std::string& what) {
    return calib::Unexpected(calib::Problem{file.string() + ": " + what});
  };
  const auto bytes = calib::read_photo_bytes(file);
  if (!bytes) return calib::Unexpected(bytes.error());
  if (!photo.sha256.empty() && calib::sha256_of_bytes(bytes->bytes) != photo.sha256) {
    return refuse("is not the photo that was added as \"" + photo.name +
                  "\": put the original file back in its place, or remove the photo and add this "
                  "one");
  }
  const int reduction = reduction_for(parts, longest_px);
  cv::Mat pixels;
  try {
    pixels = cv::imdecode(bytes->bytes, flags_for(reduction));
  } catch (const cv::Exception&) {
    pixels.release();
  }
  const std::string unreadable = "cannot be decoded: put a whole copy of the photo in its place";
  if (pixels.empty()) return refuse(unreadable);
  // The decoder rounds sizes up.
  const double shrink_x = static_cast<double>(pixels.cols) / photo.size.width;
  const double shrink_y = static_cast<double>(pixels.rows) / photo.size.height;
  if (std::abs(shrink_x * reduction - 1) > 0.01 || std::abs(shrink_y * reduction - 1) > 0.01) {
    return refuse("is not as large as the dossier says that \"" + photo.name +
                  "\" is: put the original file back in its place");
  }
  std::vector<StoredPicture> pictures;
  for (const PhotoPart& part : parts) {
    const int left =
        std::clamp(static_cast<int>(std::lround(part.left * shrink_x)), 0, pixels.cols - 1);
    const int top =
        std::clamp(static_cast<int>(std::lround(part.top * shrink_y)), 0, pixels.rows - 1);
    const int width =
        std::clamp(static_cast<int>(std::lround(part.width * shrink_x)), 1, pixels.cols - left);
    const int height =
        std::clamp(static_cast<int>(std::lround(part.height * shrink_y)), 1, pixels.rows - top);
    cv::Mat cut = pixels(cv::Rect(left, top, width, height));
    const double scale = static_cast<double>(longest_px) / std::max(width, height);
    if (scale < 1) cv::resize(cut, cut, {}, scale, scale, cv::INTER_AREA);
    if (quarter_turns != 0) {
      cv::Mat turned;
      cv::rotate(cut, turned,
                 quarter_turns == 1   ? cv::ROTATE_90_CLOCKWISE
                 : quarter_turns == 2 ? cv::ROTATE_180
                                      : cv::ROTATE_90_COUNTERCLOCKWISE);
      cut = turned;
    }
    std::vector<unsigned char> jpeg;
    try {
      cv::imencode(".jpg", cut, jpeg, {cv::IMWRITE_JPEG_QUALITY, kJpegQuality});
    } catch (const cv::Exception&) {
      jpeg.clear();
    }
    if (jpeg.empty()) return refuse(unreadable);
    pictures.push_back({std::string(jpeg.begin(), jpeg.end()), {cut.cols, cut.rows}});
  }
  return pictures;
}

}  // namespace measure
