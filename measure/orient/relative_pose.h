// Two photos oriented to each other from the points they share. For the .cpp files of this room
// only.
#pragma once

#include <cstdint>
#include <functional>
#include <vector>

#include "measure/orient/mark_table.h"

namespace measure::internal {

/// Fewer leave no redundancy: five points fix a relative orientation.
inline constexpr int kLeastCommonPoints = 6;

/// The second photo relative to the first, base of length 1.
struct RelativePose {
  CameraPose second_from_first;
  double score = 0.0;  ///< Σ min(Sampson distance², limit²), in σ²
};

/// Two photos to begin with; several relative poses where they fit about equally well (a plane has
/// two).
struct TwoViewStart {
  int first = -1, second = -1;
  std::vector<RelativePose> poses;  ///< best first, at least one
  double quality = 0.0;  ///< number of points, each counted by its parallax and all by their spread
};

struct StartSearch {
  std::vector<TwoViewStart> starts;  ///< best first
  // Why there are none:
  int most_common_points = 0;
  int best_first = -1, best_second = -1;  ///< the pair that shares most points
  bool any_common = false;                ///< some pair shares enough points
  bool any_spread = false;                ///< … which do not lie in a line
  bool any_parallax = false;              ///< … and are not explained by turning the camera alone
};

/// Ranks the pairs among the allowed photos and orients the most promising of them.
StartSearch find_starts(const MarkTable& table, const std::vector<bool>& allowed_photo,
                        const Tolerance& tolerance, std::uint32_t seed,
                        const std::function<bool()>& cancelled);

/// A model that holds the two photos and the points they share.
Model start_model(const MarkTable& table, const TwoViewStart& start, const RelativePose& pose,
                  const Tolerance& tolerance);

}  // namespace measure::internal
