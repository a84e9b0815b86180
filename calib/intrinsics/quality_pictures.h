// Two pictures by which a person judges a calibration, as SVG text.
#pragma once

#include <string>

#include "calib/intrinsics/solve_intrinsics.h"

namespace calib {

/// Residuals of all corners as strokes in the frame of the photo, drawn so much larger as the
/// caption says; corners left out are crossed.
[[nodiscard]] std::string residual_picture(const IntrinsicsSolution& solution);

/// Where corners were found: the frame in cells, each with the number of its corners, and the
/// outline of the board in every photo.
[[nodiscard]] std::string coverage_picture(const IntrinsicsSolution& solution);

}  // namespace calib
