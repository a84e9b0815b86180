// Points from the placed photos, blunders among the marks or not. For the .cpp files of this room
// only.
#pragma once

#include "measure/orient/mark_table.h"

namespace measure::internal {

enum class IntersectionOutcome { kPlaced, kTooFewMarks, kRaysNearlyParallel, kContradiction };

/// Places a point (or places it anew) from the marks that agree, and says which marks those are.
IntersectionOutcome intersect(const MarkTable& table, Model& model, int point,
                              const Tolerance& tolerance);

/// Point that two rays see, object frame: halfway between them where they pass closest. Depths may
/// come out negative: check them.
[[nodiscard]] Eigen::Vector3d meet(const CameraPose& first, const Eigen::Vector3d& first_ray,
                                   const CameraPose& second, const Eigen::Vector3d& second_ray);

}  // namespace measure::internal
