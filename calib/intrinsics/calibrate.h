// From photographs of a checkerboard to a camera.
#pragma once

#include <filesystem>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/board/board_photo.h"
#include "calib/board/checkerboard.h"
#include "calib/camera/camera.h"
#include "calib/intrinsics/solve_intrinsics.h"

namespace calib {

/// How to calibrate from photographs.
struct CalibrateOptions {
  std::string camera_name{};
  std::string date{};  ///< ISO 8601, written into the camera as it is: the caller has the clock
  SolveIntrinsicsOptions solve{};
  /// Added to each corner's own σ (pixel noise only) in quadrature: what lens and sensor leave
  /// beyond the model, a coordinate. Sets what sigma0 = 1 means and evens out the weights.
  double model_sigma_px = 0.05;
  int threads = 2;  ///< photos searched at a time; each is searched on all cores

  /// The first rule these options break, or nothing if they can be used.
  [[nodiscard]] std::optional<std::string> first_problem() const;
};

/// A photo has been searched.
struct CalibrateProgress {
  int done = 0, total = 0;  ///< photos
  std::string file;
  bool found = false;
  std::string reason;  ///< why it takes no part, empty where found
};
using OnCalibrateProgress = std::function<void(const CalibrateProgress&)>;

struct Calibration {
  Camera camera;                ///< complete, ready to be written to its file
  IntrinsicsSolution solution;  ///< the photos that are used, in the order given
};

/// Photos that a camera needs at least.
inline constexpr int kLeastCalibrationPhotos = 3;

/// Finds the board in each photo, judges the set, solves the camera, and says what would make it
/// better.
///
/// @param on_progress  called once a photo in the order in which they are done, from one thread at
/// a time, not
///                     necessarily the caller's.
/// @param cancelled  asked from several threads.
/// Errors (kInput): no photo, options or board without sense, several cameras in one set, the same
/// file name
///                  twice, cancelled.
///        (kSurvey): fewer than three photos can be used (the sentence lists why), or as
///        solve_intrinsics.
[[nodiscard]] Result<Calibration, Problem> calibrate(std::span<const std::filesystem::path> photos,
                                                     const BoardSpec& board,
                                                     const CalibrateOptions& options = {},
                                                     const OnCalibrateProgress& on_progress = {},
                                                     const Cancelled& cancelled = {});

}  // namespace calib
