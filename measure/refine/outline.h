// Inside the room: the closed outline around a place.
#pragma once

#include <vector>

#include <Eigen/Core>

#include "measure/refine/grey_patch.h"

namespace measure {

/// A closed path around a place along which the grey value steps outwards.
struct Outline {
  std::vector<Eigen::Vector2d> points_px;  ///< one in each of kOutlineRays directions
  double step = 0.0;                       ///< mean rise outwards over 2 px, signed
};
inline constexpr int kOutlineRays = 64;

/// The path of largest sum of steps in one sense, by dynamic programming over the directions: from
/// one to the next the distance from the place changes by at most 1.5 px.
///
/// @param rising  +1: brighter outside; −1: darker outside.
[[nodiscard]] Outline outline_about(const GreyPatch& patch, const Eigen::Vector2d& place_px,
                                    double largest_radius_px, double rising);

}  // namespace measure
