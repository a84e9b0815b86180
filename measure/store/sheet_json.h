// Shapes with their covariance and dimensions in one JSON file for other programs.
#pragma once

#include <span>
#include <string>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/dimension/dimension.h"
#include "measure/sheet/shape_list.h"

namespace measure {

/// A file after schema/sheet.schema.json. The same input gives the same bytes.
///
/// Errors: what ShapeList::first_problem says.
[[nodiscard]] calib::Result<std::string, calib::Problem> sheet_json(
    const ShapeList& shapes, std::span<const DimensionResult> dimensions);

}  // namespace measure
