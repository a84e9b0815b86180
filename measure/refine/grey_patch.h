// Inside the room: a piece of a photo as floating-point grey values of 255.
#pragma once

#include <optional>
#include <vector>

#include <Eigen/Core>
#include <opencv2/core/mat.hpp>

#include "measure/refine/photo_window.h"

namespace measure {

/// A pixel of the photo.
struct GreySample {
  int x = 0, y = 0;
  double grey = 0.0;

  [[nodiscard]] Eigen::Vector2d at() const { return {x, y}; }
};

/// A piece of a photo, converted once. Coordinates are the whole photo's.
class GreyPatch {
 public:
  /// The part of the window within half_px of the position, clipped to the window.
  GreyPatch(const PhotoWindow& window, const Eigen::Vector2d& position_px, double half_px);

  [[nodiscard]] bool empty() const { return grey_.empty(); }
  [[nodiscard]] int x0() const { return x0_; }
  [[nodiscard]] int y0() const { return y0_; }
  [[nodiscard]] int x1() const { return x0_ + grey_.cols - 1; }  ///< last column
  [[nodiscard]] int y1() const { return y0_ + grey_.rows - 1; }  ///< last row
  [[nodiscard]] const cv::Mat& grey() const { return grey_; }    ///< CV_32FC1

  /// A square of half this size about the place lies wholly inside.
  [[nodiscard]] bool holds(const Eigen::Vector2d& at, double half_px) const;
  [[nodiscard]] double pixel(int x, int y) const {
    return static_cast<double>(grey_.at<float>(y - y0_, x - x0_));
  }
  /// Bilinear; clamped to the patch.
  [[nodiscard]] double between(const Eigen::Vector2d& at) const;

 private:
  cv::Mat grey_;
  int x0_ = 0, y0_ = 0;
};

/// Part of the pixels that are burnt out (254 of 255 and above) or black (1 and below).
[[nodiscard]] double clipped_part(const std::vector<GreySample>& samples);

/// Above this part of clipped pixels an edge's place is guesswork.
inline constexpr double kMostClipped = 0.15;

}  // namespace measure
