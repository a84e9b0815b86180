#include "measure/refine/outline.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace measure {

Outline outline_about(const GreyPatch& patch, const Eigen::Vector2d& place_px,
                      double largest_radius_px, double rising) {
  constexpr double kSmallest_px = 1.0, kStep_px = 0.5;
  constexpr int kMostChange = 3;  // in steps
  const int count =
      std::max(4, static_cast<int>((largest_radius_px - kSmallest_px) / kStep_px) + 1);
  std::vector<Eigen::Vector2d> direction;
  std::vector<std::vector<float>> gain;
  for (int i = 0; i < kOutlineRays; ++i) {
    const double angle = 2.0 * std::numbers::pi * i / kOutlineRays;
    direction.emplace_back(std::cos(angle), std::sin(angle));
    auto& ray = gain.emplace_back(static_cast<std::size_t>(count));
    for (int k = 0; k < count; ++k) {
      const double radius = kSmallest_px + k * kStep_px;
      ray[static_cast<std::size_t>(k)] = static_cast<float>(
          rising * (patch.between(place_px + (radius + 1.0) * direction.back()) -
                    patch.between(place_px + std::max(radius - 1.0, 0.0) * direction.back())));
    }
  }
  // Twice around: in the second round the path no longer knows where it began.
  constexpr int kRounds = 2 * kOutlineRays;
  std::vector<float> best(gain[0].begin(), gain[0].end());
  std::vector<std::vector<int>> from(kRounds, std::vector<int>(static_cast<std::size_t>(count)));
  for (int i = 1; i < kRounds; ++i) {
    const auto& ray = gain[static_cast<std::size_t>(i % kOutlineRays)];
    std::vector<float> next(static_cast<std::size_t>(count));
    for (int k = 0; k < count; ++k) {
      float most = -std::numeric_limits<float>::infinity();
      int source = k;
      for (int j = std::max(0, k - kMostChange); j <= std::min(count - 1, k + kMostChange); ++j) {
        // A change costs a little, so that a path of equal gain is the smooth one.
        const float sum =
            best[static_cast<std::size_t>(j)] - 0.25F * static_cast<float>((j - k) * (j - k));
        if (sum > most) {
          most = sum;
          source = j;
        }
      }
      next[static_cast<std::size_t>(k)] = most + ray[static_cast<std::size_t>(k)];
      from[static_cast<std::size_t>(i)][static_cast<std::size_t>(k)] = source;
    }
    best = std::move(next);
  }
  int k = static_cast<int>(std::max_element(best.begin(), best.end()) - best.begin());
  for (int i = kRounds - 1; i >= kRounds - kOutlineRays / 2; --i) {
    k = from[static_cast<std::size_t>(i)][static_cast<std::size_t>(k)];
  }
  Outline outline;
  outline.points_px.resize(kOutlineRays);
  for (int i = kRounds - kOutlineRays / 2 - 1; i >= kOutlineRays / 2; --i) {
    const auto at = static_cast<std::size_t>(i % kOutlineRays);
    const auto& ray = gain[at];
    // The vertex of a parabola through the step and its neighbours.
    const auto value = [&](int j) {
      return static_cast<double>(ray[static_cast<std::size_t>(std::clamp(j, 0, count - 1))]);
    };
    const double bow = value(k - 1) - 2.0 * value(k) + value(k + 1);
    const double shift =
        bow < 0.0 ? std::clamp(0.5 * (value(k - 1) - value(k + 1)) / bow, -0.5, 0.5) : 0.0;
    outline.points_px[at] = place_px + (kSmallest_px + (k + shift) * kStep_px) * direction[at];
    outline.step += rising * value(k) / kOutlineRays;
    k = from[static_cast<std::size_t>(i)][static_cast<std::size_t>(k)];
  }
  return outline;
}

}  // namespace measure
