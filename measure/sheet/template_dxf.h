// A template as DXF, for drawing programs and machines.
#pragma once

#include <string>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/sheet/drawing_layout.h"
#include "measure/sheet/outline.h"

namespace measure {

/// The drawing as DXF of release 2000 (AC1015), written by dxflib. One drawing unit is one
/// millimetre ($INSUNITS 4, and told by a text and in the names of the layers' comment); y up, the
/// origin as in the drawing. Layers EDGES, CIRCLES, CENTRE-LINES, POINTS, DIMENSIONS, UNCERTAINTY,
/// NAMES, LEGEND. Every entity carries the name of what it belongs to as extended data of the
/// application SCANTLING. Names hold any Unicode (dxf_text). The same drawing gives the same bytes.
///
/// Errors: what TemplateDrawing::first_problem says; a Problem (kInput) where the folder for
/// temporary
///         files takes none: dxflib writes to files only.
[[nodiscard]] calib::Result<std::string, calib::Problem> template_dxf(
    const TemplateDrawing& drawing, const LayoutOptions& options = {});

}  // namespace measure
