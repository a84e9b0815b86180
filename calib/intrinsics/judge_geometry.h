// What a set of photos lacks, and the photo that would help.
#pragma once

#include <string>
#include <vector>

#include "calib/intrinsics/solve_intrinsics.h"

namespace calib {

/// Sentences about few photos, frontal or one-sided views, and frame corners without a board; each
/// names the photo that would help.
[[nodiscard]] std::vector<std::string> geometry_warnings(const IntrinsicsSolution& solution);

/// Sentences about residuals that are larger than they should be, with the likely causes, and about
/// photos that seem to be focused differently.
[[nodiscard]] std::vector<std::string> residual_warnings(const IntrinsicsSolution& solution);

/// Sentences about corners that were left out, a photo each.
[[nodiscard]] std::vector<std::string> left_out_warnings(const IntrinsicsSolution& solution);

}  // namespace calib
