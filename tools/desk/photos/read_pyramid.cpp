#include "tools/desk/photos/read_pyramid.h"

#include <algorithm>
#include <new>

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "tools/desk/photos/jpeg_codec.h"
#include "tools/desk/photos/sample.h"

namespace desk {
namespace {

constexpr int kReduction = 8, kReducedLevel = 3;
constexpr int kSmallest_px = 64;  // on the longer side, of the coarsest level

cv::Mat mat_of(const QImage& image) {
  return {image.height(), image.width(), CV_8UC4, const_cast<uchar*>(image.constBits()),
          static_cast<std::size_t>(image.bytesPerLine())};
}

QImage image_of(const cv::Mat& pixels) {
  QImage image(pixels.cols, pixels.rows, QImage::Format_RGB32);
  if (image.isNull()) throw std::bad_alloc();
  pixels.copyTo(cv::Mat(pixels.rows, pixels.cols, CV_8UC4, image.bits(),
                        static_cast<std::size_t>(image.bytesPerLine())));
  return image;
}

void add_coarser(std::vector<QImage>& levels) {
  while (std::max(levels.back().width(), levels.back().height()) > kSmallest_px) {
    levels.push_back(image_of(halve(mat_of(levels.back()))));
  }
}

calib::Unexpected<calib::Problem> too_large(const std::filesystem::path& file) {
  return calib::Unexpected(
      calib::Problem{file.string() + ": needs more memory than there is: reduce it"});
}
calib::Unexpected<calib::Problem> damaged(const std::filesystem::path& file) {
  return calib::Unexpected(calib::Problem{
      file.string() +
      ": is damaged or cut short: copy it again from the camera, or export it as JPEG"});
}

// As OpenCV reads it: PNG, TIFF and what our JPEG decoder leaves alone.
std::optional<JpegPixels> decode_otherwise(const calib::PhotoBytes& photo) {
  const int flags = cv::IMREAD_IGNORE_ORIENTATION;
  const cv::Mat colour = cv::imdecode(photo.bytes, flags | cv::IMREAD_COLOR);
  if (colour.empty()) return std::nullopt;
  cv::Mat with_alpha;
  cv::cvtColor(colour, with_alpha, cv::COLOR_BGR2BGRA);
  JpegPixels pixels;
  pixels.colour = image_of(with_alpha);
  pixels.grey = cv::imdecode(photo.bytes, flags | cv::IMREAD_GRAYSCALE);
  if (pixels.grey.empty()) return std::nullopt;
  return pixels;
}

}  // namespace

std::shared_ptr<const PhotoPyramid> read_reduced(const calib::PhotoBytes& photo) {
  if (photo.format != calib::PhotoFormat::kJpeg) return nullptr;
  const auto reduced = decode_jpeg_reduced(photo.bytes, kReduction);
  if (!reduced) return nullptr;
  auto pyramid = std::make_shared<PhotoPyramid>();
  pyramid->size = QSize(photo.size.width, photo.size.height);
  pyramid->levels.resize(kReducedLevel);
  pyramid->levels.push_back(*reduced);
  add_coarser(pyramid->levels);
  return pyramid;
}

calib::Result<std::shared_ptr<const PhotoPyramid>, calib::Problem> read_whole(
    const std::filesystem::path& file, const calib::PhotoBytes& photo) {
  try {
    std::optional<JpegPixels> pixels;
    if (photo.format == calib::PhotoFormat::kJpeg) pixels = decode_jpeg(photo.bytes);
    if (!pixels) pixels = decode_otherwise(photo);
    if (!pixels) return damaged(file);
    auto pyramid = std::make_shared<PhotoPyramid>();
    pyramid->size = pixels->colour.size();
    pyramid->grey = pixels->grey;
    pyramid->levels.push_back(std::move(pixels->colour));
    add_coarser(pyramid->levels);
    return std::shared_ptr<const PhotoPyramid>(std::move(pyramid));
  } catch (const std::bad_alloc&) {
    return too_large(file);
  } catch (const cv::Exception& cause) {
    if (cause.code == cv::Error::StsNoMem) return too_large(file);
    return damaged(file);
  }
}

calib::Result<QImage, calib::Problem> read_thumbnail(const std::filesystem::path& file,
                                                     const calib::PhotoBytes& photo, int side) {
  QImage image;
  if (photo.format == calib::PhotoFormat::kJpeg) {
    int reduction = 8;
    while (reduction > 1 && std::max(photo.size.width, photo.size.height) / reduction < side) {
      reduction /= 2;
    }
    if (const auto reduced = decode_jpeg_reduced(photo.bytes, reduction)) image = *reduced;
  }
  if (image.isNull()) {
    const auto whole = read_whole(file, photo);
    if (!whole) return calib::Unexpected(whole.error());
    for (const QImage& level : (*whole)->levels) {
      if (image.isNull() || std::max(level.width(), level.height()) >= side) image = level;
    }
  }
  if (std::max(image.width(), image.height()) <= side) return image;
  return image.scaled(side, side, Qt::KeepAspectRatio, Qt::SmoothTransformation)
      .convertToFormat(QImage::Format_RGB32);
}

}  // namespace desk
