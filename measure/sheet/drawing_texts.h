// Texts of a template find their places: beside what they belong to, at the end of a leader, or in
// a numbered list. Private to this room.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "measure/sheet/drawing_layout.h"
#include "measure/sheet/label_place.h"
#include "measure/sheet/turned_box.h"

namespace measure {

/// A text without its place.
struct WaitingText {
  LaidOutText text;
  LabelBox label;
  std::string name;  ///< of what it belongs to
  /// Where there is no room for it nearby, a number stands there, and the text in a list.
  bool may_be_listed = false;
};

/// What is on the drawing already, and texts keep off.
struct DrawnAlready {
  std::span<const PageSegment> lines;
  std::span<const PageBox> blocked;  ///< texts that have their place, and symbols
  std::span<const PageSegment> seams;
  PageBox bounds;
};

struct PlacedTexts {
  PageBox frame;  ///< holds what was drawn already, too
  std::vector<LaidOutText> texts;
  std::vector<Stroke> leaders;
  int listed = 0;
};

/// Gives every text its place: none lies on another text or on a line. Texts of one place that are
/// many (such as a row of rivets seen from its end) share a label of numbers, "4–14".
[[nodiscard]] PlacedTexts place_texts(const std::vector<WaitingText>& waiting,
                                      const DrawnAlready& drawn);

/// The room of a text, with all that hangs out of its line.
[[nodiscard]] TurnedBox room_of(const LaidOutText& text);

/// Interrupts thin straight lines and arcs (centre lines, lines of dimensions, leaders) where they
/// would run through a text (common practice, no source). What is cut along is never interrupted.
void interrupt_lines(std::vector<Stroke>& strokes, std::span<const LaidOutText> texts);

}  // namespace measure
