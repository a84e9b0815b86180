// What a dimension may ask of the dossier it stands in.
#pragma once

#include <optional>
#include <string>

#include "measure/dossier/dossier.h"

namespace measure {

/// The largest length that is believed: a kilometre. Nothing longer stands in an archive.
inline constexpr double kLargestLength_mm = 1e6;

/// The sentence why the dimension cannot be asked, or nothing.
[[nodiscard]] std::optional<std::string> dimension_problem(const AskedDimension& dimension,
                                                           const Dossier& dossier);
/// Likewise of a tolerance for a dimension of this kind. @param subject  starts the sentence.
[[nodiscard]] std::optional<std::string> tolerance_problem(
    const std::optional<double>& tolerance_mm, const DimensionKind& kind,
    const std::string& subject);

/// The sentence that there is no such point, or point or shape.
[[nodiscard]] std::string missing_item(const Dossier& dossier, const std::string& name);

}  // namespace measure
