#include "measure/refine/edge_profile.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace measure {

NormalValue normal_at(double x) {
  constexpr double kReach = 6.0;
  if (std::abs(x) > kReach) {
    return {x > 0.0 ? 1.0 : 0.0, 0.0};
  }
  return {0.5 * std::erfc(-x / std::numbers::sqrt2),
          std::exp(-0.5 * x * x) * std::numbers::inv_sqrtpi / std::numbers::sqrt2};
}

EdgeProfile::EdgeProfile(double outside, double inside, double exponent) {
  constexpr double kWhite = 255.0, kDarkest = 2.0;
  const double grey0 = std::clamp(outside, kDarkest, kWhite) / kWhite;
  const double grey1 = std::clamp(inside, kDarkest, kWhite) / kWhite;
  const double light0 = std::pow(grey0, exponent), light1 = std::pow(grey1, exponent);
  const bool flat = std::abs(grey1 - grey0) < 0.5 / kWhite;
  for (int i = 0; i <= kSteps; ++i) {
    const double part = static_cast<double>(i) / kSteps;
    const double grey = std::pow(light0 + (light1 - light0) * part, 1.0 / exponent);
    node_[static_cast<std::size_t>(i)] = flat ? part : (grey - grey0) / (grey1 - grey0);
  }
  node_.back() = 2.0 * node_[kSteps] - node_[kSteps - 1];
}

EdgeProfile::Value EdgeProfile::at(double light_part) const {
  // Cubic through the node's values with central slopes: a broken line would show in the fit.
  const double x = std::clamp(light_part, 0.0, 1.0) * kSteps;
  const int i = std::min(static_cast<int>(x), kSteps - 1);
  const double t = x - i;
  const auto at = [this](int k) { return node_[static_cast<std::size_t>(k)]; };
  const double v0 = at(i), v1 = at(i + 1);
  const double before = i > 0 ? at(i - 1) : 2.0 * v0 - v1;
  const double s0 = 0.5 * (v1 - before), s1 = 0.5 * (at(i + 2) - v0);
  const double c2 = 3.0 * (v1 - v0) - 2.0 * s0 - s1, c3 = 2.0 * (v0 - v1) + s0 + s1;
  return {v0 + t * (s0 + t * (c2 + t * c3)), (s0 + t * (2.0 * c2 + t * 3.0 * c3)) * kSteps};
}

}  // namespace measure
