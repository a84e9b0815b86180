#include "calib/board/ring.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace calib {

double bilinear(const cv::Mat& image, const Eigen::Vector2d& at) {
  const double x = std::clamp(at.x(), 0.0, image.cols - 1.001),
               y = std::clamp(at.y(), 0.0, image.rows - 1.001);
  const int x0 = static_cast<int>(x), y0 = static_cast<int>(y);
  const double fx = x - x0, fy = y - y0;
  const auto grey = [&image](int row, int column) {
    switch (image.depth()) {
      case CV_8U:
        return static_cast<double>(image.at<unsigned char>(row, column));
      case CV_16U:
        return static_cast<double>(image.at<unsigned short>(row, column));
      default:
        return static_cast<double>(image.at<float>(row, column));
    }
  };
  return (1.0 - fy) * ((1.0 - fx) * grey(y0, x0) + fx * grey(y0, x0 + 1)) +
         fy * ((1.0 - fx) * grey(y0 + 1, x0) + fx * grey(y0 + 1, x0 + 1));
}

Ring ring_about(const cv::Mat& image, const Eigen::Vector2d& centre_px, double radius_px) {
  Ring ring{};
  for (int i = 0; i < kRingSamples; ++i) {
    const double angle = 2.0 * std::numbers::pi * i / kRingSamples;
    ring[static_cast<std::size_t>(i)] =
        bilinear(image, centre_px + radius_px * Eigen::Vector2d(std::cos(angle), std::sin(angle)));
  }
  return ring;
}

double crossing_response(const Ring& ring) {
  double mean = 0.0;
  for (const double grey : ring) {
    mean += grey / kRingSamples;
  }
  double even = 0.0, odd = 0.0;
  constexpr std::size_t kHalf = kRingSamples / 2;
  for (std::size_t i = 0; i < kHalf; ++i) {
    const double a = ring[i] - mean, b = ring[i + kHalf] - mean;
    even += 0.25 * (a + b) * (a + b) / kHalf;
    odd += 0.25 * (a - b) * (a - b) / kHalf;
  }
  return even - 2.0 * odd;
}

double variance_of(const Ring& ring) {
  double mean = 0.0, squares = 0.0;
  for (const double grey : ring) {
    mean += grey / kRingSamples;
    squares += grey * grey / kRingSamples;
  }
  return std::max(0.0, squares - mean * mean);
}

std::vector<double> edge_angles(const Ring& ring) {
  constexpr std::size_t kHalf = kRingSamples / 2;
  std::array<double, kHalf> folded{};
  double low = std::numeric_limits<double>::max(), high = std::numeric_limits<double>::lowest();
  for (std::size_t i = 0; i < kHalf; ++i) {
    folded[i] = 0.5 * (ring[i] + ring[i + kHalf]);
    low = std::min(low, folded[i]);
    high = std::max(high, folded[i]);
  }
  const double middle = 0.5 * (low + high);
  std::vector<double> angles_rad;
  for (std::size_t i = 0; i < kHalf; ++i) {
    const double here = folded[i] - middle, next = folded[(i + 1) % kHalf] - middle;
    if ((here < 0.0) != (next < 0.0)) {
      angles_rad.push_back((static_cast<double>(i) + here / (here - next)) * 2.0 *
                           std::numbers::pi / kRingSamples);
    }
  }
  return angles_rad;
}

}  // namespace calib
