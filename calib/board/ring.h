// Grey values on a ring about a candidate: a crossing of two edges repeats after half a turn and
// changes four times.
#pragma once

#include <array>
#include <vector>

#include <Eigen/Core>
#include <opencv2/core/mat.hpp>

namespace calib {

inline constexpr int kRingSamples = 48;
using Ring = std::array<double, kRingSamples>;

/// Grey value between pixels, bilinear; clamped to the picture. CV_8UC1, CV_16UC1 or CV_32FC1.
[[nodiscard]] double bilinear(const cv::Mat& image, const Eigen::Vector2d& at);

[[nodiscard]] Ring ring_about(const cv::Mat& image, const Eigen::Vector2d& centre_px,
                              double radius_px);

/// Variance that repeats after half a turn, less twice what does not: high at the middle of a
/// crossing only.
[[nodiscard]] double crossing_response(const Ring& ring);

/// Mean square of the ring's differences from its mean.
[[nodiscard]] double variance_of(const Ring& ring);

/// The angles (0 to π, from the x axis towards the y axis) at which the ring passes its middle
/// grey; two of them at a crossing.
[[nodiscard]] std::vector<double> edge_angles(const Ring& ring);

}  // namespace calib
