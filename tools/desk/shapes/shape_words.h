// What a person reads of an edge, round or plane.
#pragma once

#include <QString>
#include <optional>
#include <utility>

#include "measure/bundle/survey.h"
#include "measure/dimension/form_result.h"
#include "measure/dimension/quantity_text.h"
#include "measure/dossier/shape.h"

namespace desk {

/// "edge, marked along it", "plane through 4 points", "crossing of A and B".
[[nodiscard]] QString origin_text(const measure::ShapeOrigin& origin);
/// "line", "plane" …
[[nodiscard]] QString form_name(measure::FormKind kind);
/// "0.12 ± 0.05 mm", without a unit where there is no scale bar; or, where ± U would mislead, the
/// interval: "0.00 … 0.08 mm (95.45 %)".
[[nodiscard]] QString with_u_text(double value, double u,
                                  const std::optional<std::pair<double, double>>& interval,
                                  measure::LengthUnit length, measure::TextUnit unit);
/// "diameter 54.0 ± 0.2 mm" on the original, or by how much two lines pass each other that should
/// cross; empty where its kind has no size of its own.
[[nodiscard]] QString size_text(const measure::FormResult& form, measure::LengthUnit length,
                                measure::TextUnit unit);
/// "flat within the error bars, range 0.02 ± 0.03 mm"; empty where nothing tests it.
[[nodiscard]] QString form_text(const measure::FormResult& form, measure::LengthUnit length,
                                measure::TextUnit unit);

}  // namespace desk
