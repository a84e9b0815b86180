// The least σ of a mark that was measured in the image.
#pragma once

namespace cli {

/// Each mark keeps the σ that its own window tells, 0.005 to 0.02 px for a target, which is right
/// to 20 % on targets drawn exactly (tests/calib/board/refine_corner_test.cpp). The smallest is
/// what uneven pixels leave: no window is so lucky. A common floor of 0.02 px gave a flat, far
/// target the weight of a near one once the group's s0 had come out at 0.3, and such targets were
/// doubted.
inline constexpr double kLeastRefinedSigma_px = 0.005;

}  // namespace cli
