// The bundle adjustment between two steps of growth. For the .cpp files of this room only.
#pragma once

#include <functional>

#include "measure/orient/mark_table.h"

namespace measure::internal {

struct RefineOptions {
  int max_iterations = 12;
  double function_tolerance = 1e-5;
  int threads = 2;
  std::function<bool()> cancelled;
};

/// Robust adjustment of all placed poses and points by their marks in use, cameras held.
/// False where nothing could be improved.
bool refine(const MarkTable& table, Model& model, const RefineOptions& options);

}  // namespace measure::internal
