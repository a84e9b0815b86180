// A photo's pose from points that are placed. For the .cpp files of this room only.
#pragma once

#include <cstdint>

#include "measure/orient/mark_table.h"

namespace measure::internal {

enum class ResectionOutcome {
  kPlaced,
  kTooFewPoints,   ///< fewer than four marks on placed points
  kAmbiguous,      ///< another pose fits as well
  kWeak,           ///< the points leave the position open: in a line, or all close together
  kContradiction,  ///< no pose that most of the marks agree on
};

inline constexpr int kLeastResectionMarks = 4;
/// From here on a resection can also tell a blunder: preferred.
inline constexpr int kGoodResectionMarks = 6;

/// Resects a photo and sets which of its marks are in use. The model is unchanged unless kPlaced.
///
/// Samples of three points give up to four poses each (P3P); the best of them and their mirror
/// images about the points' plane are refined by robust least squares; distinct minima are
/// compared.
ResectionOutcome resect(const MarkTable& table, Model& model, int photo, const Tolerance& tolerance,
                        std::uint32_t seed);

}  // namespace measure::internal
