// A template as SVG, for cutters and drawing programs.
#pragma once

#include <string>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/sheet/drawing_layout.h"
#include "measure/sheet/outline.h"

namespace measure {

/// The drawing as one SVG 1.1 document at true size: width and height in mm, and one user unit is
/// one millimetre, y down. A group with id and title for each layer; every shape carries the name
/// of what it belongs to in its <title>. The same drawing gives the same bytes.
///
/// Errors: what TemplateDrawing::first_problem says.
[[nodiscard]] calib::Result<std::string, calib::Problem> template_svg(
    const TemplateDrawing& drawing, const LayoutOptions& options = {});

}  // namespace measure
