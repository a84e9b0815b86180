// Dimensions as a table for spreadsheets and programs.
#pragma once

#include <span>
#include <string>

#include "measure/dimension/dimension.h"

namespace measure {

/// CSV after RFC 4180 in UTF-8: a header, a record for each dimension and scale, lines ended by
/// CRLF, fields quoted where they must be. Columns: name, kind, scale, value, u, U, k,
/// effective_dof, unit, low, high, reference, note, problem. Lengths in mm, areas in mm2, angles in
/// degrees ("deg"), ratios without unit ("ratio", of the distance in `reference`). Numbers have as
/// many digits as it takes to read the same number back, with a decimal point; `inf` stands for
/// infinitely many degrees of freedom. low and high bound the 95.45 % interval where one stands
/// instead of ± U. Where there is no value the numbers are empty and `problem` says why.
[[nodiscard]] std::string dimensions_csv(std::span<const DimensionResult> dimensions);

}  // namespace measure
