// The least σ of a mark that was measured in the image.
#pragma once

namespace cli {

/// What the refinement is tested to reach: a smaller σ from one lucky window would outweigh its
/// neighbours.
inline constexpr double kLeastRefinedSigma_px = 0.02;

}  // namespace cli
