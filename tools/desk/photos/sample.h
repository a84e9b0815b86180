// A view's pixels, sampled from a photo at the level that suits its zoom.
#pragma once

#include <QImage>
#include <QRect>
#include <functional>

#include <opencv2/core/mat.hpp>

#include "tools/desk/photos/view_map.h"

namespace desk {

/// A rectangle of one level of a photo as CV_8UC4 (blue, green, red, 255); empty where it cannot
/// be read. Level k is halved k times: its pixel i has its centre at (i + ½)·2ᵏ − ½.
using LevelReader = std::function<cv::Mat(int level, const cv::Rect& part)>;

/// Width or height of a level.
[[nodiscard]] inline int halved(int pixels, int level) {
  return (pixels + (1 << level) - 1) >> level;
}

/// Half as wide and high, each pixel the mean of four; an odd last row or column is repeated.
[[nodiscard]] cv::Mat halve(const cv::Mat& pixels);

enum class Smoothness { kNearest, kSmooth };

/// @param photo         full size
/// @param finest        level that can be read, the finest
/// @param coarsest      level that can be read, the coarsest; a view coarser still is halved on
/// @return Format_ARGB32_Premultiplied, view.size rounded, transparent beyond the photo's edge;
/// null
///         where `read` had nothing.
[[nodiscard]] QImage sample(const QSize& photo, const ViewMap& view, int finest, int coarsest,
                            const LevelReader& read, Smoothness smoothness = Smoothness::kSmooth);

}  // namespace desk
