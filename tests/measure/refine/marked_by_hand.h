// A click near a place.
#pragma once

#include <cmath>
#include <numbers>

#include <Eigen/Core>
#include <opencv2/core.hpp>

namespace measure {

inline Eigen::Vector2d marked_by_hand(cv::RNG& random, const Eigen::Vector2d& at_px,
                                      double off_px) {
  const double away = random.uniform(0.0, 2.0 * std::numbers::pi);
  return at_px + off_px * Eigen::Vector2d(std::cos(away), std::sin(away));
}

}  // namespace measure
