// Where dimension lines run. Private to this room.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "measure/sheet/drawing_layout.h"
#include "measure/sheet/turned_box.h"

namespace measure {

/// A linear dimension laid out: lines, arrows, its text along the line, and the room of the text.
struct LaidOutDimension {
  std::vector<Stroke> strokes;
  LaidOutText text;
  TurnedBox room;
  /// No room for the text along the line: it waits for a place at the end of a leader from here.
  std::optional<Eigen::Vector2d> leader_from{};
};

/// What dimensions are laid out on.
struct DimensionGround {
  std::span<const PageSegment> lines;  ///< that no text lies on
  std::span<const PageSegment> thin;   ///< that texts keep off where there is room
  std::span<const PageSegment> seams;  ///< likewise
};

/// Lays out linear dimensions after drafting practice (ISO 129-1, from memory): the dimension line
/// parallel to what it measures, extension lines from there to just beyond it, the text above the
/// middle of the line, to be read from below or from the right, arrows from outside where there is
/// no room inside, the text by a leader where there is none along the line; shorter dimensions lie
/// nearer. No text lies on another or on what is cut along; a thin line runs through a text only
/// where there is no better room.
[[nodiscard]] std::vector<LaidOutDimension> lay_out_dimensions(
    std::span<const TemplateDimension> dimensions, const DimensionGround& ground,
    const PageBox& bounds);

}  // namespace measure
