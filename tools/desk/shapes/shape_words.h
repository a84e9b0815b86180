// What a person reads of an edge, round or plane.
#pragma once

#include <QString>

#include "measure/bundle/survey.h"
#include "measure/dimension/form_result.h"
#include "measure/dimension/quantity_text.h"
#include "measure/dossier/shape.h"

namespace desk {

/// "edge, marked along it", "plane through 4 points", "crossing of A and B".
[[nodiscard]] QString origin_text(const measure::ShapeOrigin& origin);
/// "diameter 54.0 ± 0.2 mm" on the original; empty where its kind has no size of its own.
[[nodiscard]] QString size_text(const measure::FormResult& form, measure::LengthUnit length,
                                measure::TextUnit unit);
/// "flat within the error bars, range 0.02 ± 0.03 mm"; empty where nothing tests it.
[[nodiscard]] QString form_text(const measure::FormResult& form, measure::LengthUnit length,
                                measure::TextUnit unit);

}  // namespace desk
