// Where dimension lines run. Private to this room.
#pragma once

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
};

/// Lays out linear dimensions after drafting practice (ISO 129-1, from memory): the dimension line
/// parallel to what it measures, extension lines from there to just beyond it, the text above the
/// middle of the line, to be read from below or from the right, arrows from outside where there is
/// no room inside; shorter dimensions lie nearer. No text or line runs through the text of another.
///
/// @param drawn  lines of the drawing itself, which texts keep off where there is room.
/// @param seams  other lines that texts keep off.
[[nodiscard]] std::vector<LaidOutDimension> lay_out_dimensions(
    std::span<const TemplateDimension> dimensions, std::span<const PageSegment> drawn,
    std::span<const PageSegment> seams, const PageBox& bounds);

}  // namespace measure
