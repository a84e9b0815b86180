// Names that the desk proposes, so that nobody has to type one.
#pragma once

#include <QString>

#include "measure/dossier/dossier.h"

namespace desk {

/// "hopper rim corner, rear left to front right": what the points share is said once. Not taken
/// yet, and short enough for a name.
[[nodiscard]] QString proposed_dimension_name(const measure::Dossier& dossier,
                                              const measure::DimensionKind& kind);

/// "bar 3": not taken yet.
[[nodiscard]] QString proposed_bar_name(const measure::Dossier& dossier);

}  // namespace desk
