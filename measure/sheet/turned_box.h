// A rectangle at any angle, such as the room of a text along a dimension line. Private to this
// room.
#pragma once

#include <cmath>
#include <vector>

#include <Eigen/Core>

#include "measure/sheet/label_place.h"

namespace measure {

struct TurnedBox {
  Eigen::Vector2d centre = Eigen::Vector2d::Zero();
  Eigen::Vector2d along = Eigen::Vector2d::UnitX();  ///< length 1
  Eigen::Vector2d half = Eigen::Vector2d::Zero();    ///< along, across

  [[nodiscard]] Eigen::Vector2d across() const { return {-along.y(), along.x()}; }
  [[nodiscard]] Eigen::Vector2d corner(double x, double y) const {
    return centre + x * half.x() * along + y * half.y() * across();
  }
  [[nodiscard]] Eigen::Vector2d local(const Eigen::Vector2d& place) const {
    return {(place - centre).dot(along), (place - centre).dot(across())};
  }
};

[[nodiscard]] inline bool crosses(const PageSegment& segment, const TurnedBox& box) {
  return crosses(PageSegment{box.local(segment.from), box.local(segment.to)},
                 PageBox{-box.half, box.half});
}

/// Separating axes of two rectangles are their sides.
[[nodiscard]] inline bool overlap(const TurnedBox& a, const TurnedBox& b) {
  const auto separated = [](const TurnedBox& one, const TurnedBox& other) {
    const Eigen::Vector2d apart = one.local(other.centre).cwiseAbs();
    const Eigen::Vector2d reach(std::abs(other.along.dot(one.along)) * other.half.x() +
                                    std::abs(other.across().dot(one.along)) * other.half.y(),
                                std::abs(other.along.dot(one.across())) * other.half.x() +
                                    std::abs(other.across().dot(one.across())) * other.half.y());
    return (apart.array() >= (one.half + reach).array()).any();
  };
  return !separated(a, b) && !separated(b, a);
}

/// Upright boxes that cover it and little more.
[[nodiscard]] inline std::vector<PageBox> upright_cover(const TurnedBox& box) {
  const bool is_upright = std::abs(box.along.x() * box.along.y()) < 1e-9;
  const int pieces =
      is_upright ? 1 : std::max(1, static_cast<int>(std::ceil(box.half.x() / box.half.y())));
  std::vector<PageBox> cover;
  for (int i = 0; i < pieces; ++i) {
    TurnedBox piece = box;
    piece.half.x() = box.half.x() / pieces;
    piece.centre = box.centre + ((2.0 * i + 1.0) / pieces - 1.0) * box.half.x() * box.along;
    PageBox upright{piece.corner(1, 1), piece.corner(1, 1)};
    for (const auto& [x, y] : {std::pair(1, -1), std::pair(-1, 1), std::pair(-1, -1)}) {
      upright.low = upright.low.cwiseMin(piece.corner(x, y));
      upright.high = upright.high.cwiseMax(piece.corner(x, y));
    }
    cover.push_back(upright);
  }
  return cover;
}

}  // namespace measure
