// One door to all refinements, and the choice among them.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "measure/refine/match.h"
#include "measure/refine/photo_window.h"
#include "measure/refine/refined_mark.h"

namespace measure {

/// Refines a mark as this shape. A match needs a pattern.
[[nodiscard]] Refinement refine_as(MarkShape shape, const PhotoWindow& photo,
                                   const Eigen::Vector2d& position_px,
                                   const RefineOptions& options = {},
                                   const PatternView* pattern = nullptr);

/// Why a shape was not taken.
struct TriedShape {
  MarkShape shape = MarkShape::kCorner;
  /// What it was refused for; empty where it fitted but was not trusted, or another went before.
  std::optional<MarkRefusal> refusal;
};

struct ChosenRefinement {
  std::optional<RefinedMark> mark;
  std::vector<TriedShape> tried;  ///< all but the chosen one
  /// Two shapes fit at places that contradict each other.
  bool contradiction = false;

  /// The sentence for a person where there is no mark: every shape with its reason, and a remedy.
  [[nodiscard]] std::string why_not(std::string_view subject) const;
};

/// Tries the shapes and takes the one that can be trusted: its residuals are below 0.12 of its
/// contrast, σ is below 0.15 px, and no other trusted shape says another place. A cross goes before
/// a round, a round before a corner, a corner before a crossing; a match is taken where no shape is
/// trusted. Nothing is better than a doubtful place: then there is no mark.
[[nodiscard]] ChosenRefinement refine_where_trusted(const PhotoWindow& photo,
                                                    const Eigen::Vector2d& position_px,
                                                    const RefineOptions& options = {},
                                                    const PatternView* pattern = nullptr);

}  // namespace measure
