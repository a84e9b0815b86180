#include "measure/refine/grey_patch.h"

#include <algorithm>
#include <cmath>

namespace measure {

GreyPatch::GreyPatch(const PhotoWindow& window, const Eigen::Vector2d& position_px,
                     double half_px) {
  const cv::Mat& pixels = window.pixels;
  const bool readable = !pixels.empty() && (pixels.type() == CV_8UC1 || pixels.type() == CV_16UC1);
  if (!readable || !position_px.allFinite()) {
    return;
  }
  const auto first = [&](double at, int offset, int size) {
    return static_cast<int>(std::clamp(std::floor(at - half_px) - offset, 0.0, double(size)));
  };
  const auto last = [&](double at, int offset, int size) {
    return static_cast<int>(std::clamp(std::ceil(at + half_px) + 1.0 - offset, 0.0, double(size)));
  };
  const int left = first(position_px.x(), window.offset_px.x(), pixels.cols);
  const int top = first(position_px.y(), window.offset_px.y(), pixels.rows);
  const int right = last(position_px.x(), window.offset_px.x(), pixels.cols);
  const int bottom = last(position_px.y(), window.offset_px.y(), pixels.rows);
  if (right - left < 2 || bottom - top < 2) {
    return;
  }
  pixels(cv::Rect(left, top, right - left, bottom - top))
      .convertTo(grey_, CV_32F, pixels.depth() == CV_16U ? 1.0 / 257.0 : 1.0);
  x0_ = left + window.offset_px.x();
  y0_ = top + window.offset_px.y();
}

bool GreyPatch::holds(const Eigen::Vector2d& at, double half_px) const {
  return !empty() && at.x() - half_px >= x0() && at.y() - half_px >= y0() &&
         at.x() + half_px <= x1() && at.y() + half_px <= y1();
}

double GreyPatch::between(const Eigen::Vector2d& at) const {
  const double x = std::clamp(at.x() - x0_, 0.0, grey_.cols - 1.001);
  const double y = std::clamp(at.y() - y0_, 0.0, grey_.rows - 1.001);
  const int column = static_cast<int>(x), row = static_cast<int>(y);
  const double u = x - column, v = y - row;
  const float* above = grey_.ptr<float>(row) + column;
  const float* below = grey_.ptr<float>(row + 1) + column;
  return (1.0 - v) * ((1.0 - u) * double(above[0]) + u * double(above[1])) +
         v * ((1.0 - u) * double(below[0]) + u * double(below[1]));
}

double clipped_part(const std::vector<GreySample>& samples) {
  const auto clipped = std::count_if(samples.begin(), samples.end(), [](const GreySample& sample) {
    return sample.grey >= 254.0 || sample.grey <= 1.0;
  });
  return samples.empty() ? 0.0 : static_cast<double>(clipped) / static_cast<double>(samples.size());
}

}  // namespace measure
