#include "tools/desk/photos/sample.h"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

namespace desk {

cv::Mat halve(const cv::Mat& pixels) {
  const int right = pixels.cols % 2, bottom = pixels.rows % 2;
  cv::Mat even = pixels, half;
  if (right || bottom) {
    cv::copyMakeBorder(pixels, even, 0, bottom, 0, right, cv::BORDER_REPLICATE);
  }
  cv::resize(even, half, cv::Size(even.cols / 2, even.rows / 2), 0, 0, cv::INTER_AREA);
  return half;
}

QImage sample(const QSize& photo, const ViewMap& view, int finest, int coarsest,
              const LevelReader& read, Smoothness smoothness) {
  QImage image(view.size.toSize(), QImage::Format_ARGB32_Premultiplied);
  image.fill(Qt::transparent);
  if (image.isNull() || !(view.zoom > 0) || photo.isEmpty()) return image;

  // The coarsest level that still has a pixel for each of the view.
  const int suits = static_cast<int>(std::floor(std::log2(1.0 / view.zoom) + 1e-6));
  const int wanted = std::clamp(suits, 0, 30);
  const int level = std::clamp(wanted, finest, coarsest);

  const QTransform photo_from_view = view.transform().inverted();
  const QRectF seen = photo_from_view.mapRect(QRectF(QPointF(0, 0), view.size));
  const double step = std::ldexp(1.0, level);
  const auto in_level = [step](double photo_px) { return (photo_px + 0.5) / step - 0.5; };
  // Room for the interpolation, and for the halving that may follow.
  const int margin = 2 << std::max(0, wanted - level);
  const cv::Rect all(0, 0, halved(photo.width(), level), halved(photo.height(), level));
  const double left = in_level(seen.left()) - margin, top = in_level(seen.top()) - margin;
  const double right = in_level(seen.right()) + margin, bottom = in_level(seen.bottom()) + margin;
  if (right < 0 || bottom < 0 || left > all.width || top > all.height) return image;
  const int x = static_cast<int>(std::floor(std::max(0.0, left)));
  const int y = static_cast<int>(std::floor(std::max(0.0, top)));
  cv::Rect part(x, y, static_cast<int>(std::ceil(std::min<double>(right, all.width))) - x,
                static_cast<int>(std::ceil(std::min<double>(bottom, all.height))) - y);
  // Halving keeps the grid only from a corner that lies on it.
  const int shrink = std::max(0, wanted - level);
  const int grid = 1 << std::min(shrink, 8);
  part.width += part.x % grid;
  part.height += part.y % grid;
  part.x -= part.x % grid;
  part.y -= part.y % grid;
  part &= all;
  if (part.empty()) return image;

  cv::Mat pixels = read(level, part);
  if (pixels.empty()) return {};
  double scale = step, origin_x = part.x, origin_y = part.y;
  for (int k = 0; k < shrink && k < 8 && pixels.cols > 1 && pixels.rows > 1; ++k) {
    pixels = halve(pixels);
    scale *= 2;
    origin_x /= 2;
    origin_y /= 2;
  }
  // View pixel (u, v) has its centre at (u + ½, v + ½); a level's pixel (i, j) at (i, j).
  const auto block_from = [&](double u, double v) {
    const QPointF at = photo_from_view.map(QPointF(u + 0.5, v + 0.5));
    return QPointF((at.x() + 0.5) / scale - 0.5 - origin_x,
                   (at.y() + 0.5) / scale - 0.5 - origin_y);
  };
  const QPointF zero = block_from(0, 0), along_u = block_from(1, 0) - zero,
                along_v = block_from(0, 1) - zero;
  const cv::Matx23d map(along_u.x(), along_v.x(), zero.x(), along_u.y(), along_v.y(), zero.y());
  cv::Mat out(image.height(), image.width(), CV_8UC4, image.bits(),
              static_cast<std::size_t>(image.bytesPerLine()));
  const int way = smoothness == Smoothness::kNearest ? cv::INTER_NEAREST : cv::INTER_LINEAR;
  cv::warpAffine(pixels, out, map, out.size(), way | cv::WARP_INVERSE_MAP, cv::BORDER_CONSTANT,
                 cv::Scalar(0, 0, 0, 0));
  return image;
}

}  // namespace desk
