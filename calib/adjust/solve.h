// The adjustment itself: weighted least squares by Ceres, with a robust start on request.
#pragma once

#include <functional>
#include <string>

#include "calib/adjust/datum.h"
#include "calib/adjust/network.h"

namespace calib::adjust {

enum class Termination { kNotRun, kConverged, kIterationLimit, kFailed, kCancelled };

struct SolveOptions {
  int max_iterations = 100;
  double function_tolerance = 1e-12;  ///< relative change of the cost
  int threads = 2;
  /// Huber's loss on observations of groups whose factor comes from residuals: for a start only;
  /// its result is no least-squares estimate.
  bool robust = false;
  double robust_width = 2.0;  ///< in units of the scaled σ
  std::function<bool()> cancelled;
};

struct SolveSummary {
  Termination termination = Termination::kNotRun;
  double cost = 0.0;  ///< half the sum of squared scaled residuals
  int iterations = 0;
  std::string message;  ///< the solver's own words, for a log
};

/// Minimises the sum of squares of all active observations over the coordinates that are neither
/// held by the caller nor by the datum. Values of the network are replaced on success, kept on
/// failure.
SolveSummary solve(Network& network, const Datum& datum, const SolveOptions& options = {});

}  // namespace calib::adjust
