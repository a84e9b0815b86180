// The trace of a dossier in one of its photos: its marks, expected places, dimensions and bars.
#pragma once

#include <QString>
#include <string>

#include "tools/desk/photos/photo_trace.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

enum class DimensionsDrawn {
  kNone,
  kChosen,  ///< the chosen dimension, and those of the chosen point
  kAll,
};

struct TraceParts {
  bool names = true;   ///< of the points, beside their signs
  bool places = true;  ///< where points are expected that are not marked
  DimensionsDrawn dimensions = DimensionsDrawn::kChosen;  ///< with their values ± U
  bool bars = true;
  bool shapes = true;  ///< edges and rounds, with their own marks
};

/// What the session knows now, to be drawn into a photo.
[[nodiscard]] PhotoTrace trace_of(const DeskSession& session, const std::string& photo,
                                  const TraceParts& parts = {});

/// How a mark stands; kPredicted where there is none.
[[nodiscard]] MarkState state_of(const DeskSession& session, const std::string& photo,
                                 const std::string& point);

/// From a doubted mark to where the other photos see its point, by the survey without the doubted
/// marks. Nothing where the mark is not doubted.
[[nodiscard]] std::optional<QPointF> distance_from_others_px(const DeskSession& session,
                                                             const std::string& photo,
                                                             const std::string& point);

/// A sentence: by how much, against which photos. Empty where the mark is not doubted.
[[nodiscard]] QString doubt_sentence(const DeskSession& session, const std::string& photo,
                                     const std::string& point);

}  // namespace desk
