// In which order the views stand, which of them are shown, and what the next point is called.
#pragma once

#include <QString>
#include <string>
#include <vector>

#include "tools/desk/session/desk_session.h"
#include "tools/desk/sightings/place.h"

namespace desk {

enum class SightingFilter { kAll, kCouldBeSeen, kMarked, kDoubted };

/// Whether one photo's view passes.
[[nodiscard]] bool passes(SightingFilter filter, const DeskSession& session, const Places& places,
                          const std::string& photo);

/// Photos in the order of their views: those with a mark, then by how well the place should be
/// seen, each in the dossier's order. Meant to be asked once when a point is chosen: views that
/// change places under the hand cost more than they tell.
[[nodiscard]] std::vector<std::string> view_order(const DeskSession& session, const Places& places);

/// A name that is free: the last number of `name` counted on ("rim bolt 3, left" → "rim bolt 4,
/// left", "T09" → "T10"), or a 2 put behind it. "P1" where nothing was named yet.
[[nodiscard]] std::string next_name(const measure::Dossier& dossier, const std::string& name);

/// The neighbour of a point in the dossier's list, round and round; the first where none is chosen.
[[nodiscard]] std::string neighbour(const measure::Dossier& dossier, const std::string& point,
                                    int step);
/// The next point with fewer than two marks in use, else with the fewest; empty: there is none.
[[nodiscard]] std::string next_lacking(const measure::Dossier& dossier, const std::string& point);

}  // namespace desk
