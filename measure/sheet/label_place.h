// Where text goes on a page so that no text lies on another.
#pragma once

#include <limits>
#include <span>
#include <vector>

#include <Eigen/Core>

namespace measure {

/// An upright rectangle on a page. Any unit, the same for all that is placed together; y may point
/// up or down.
struct PageBox {
  Eigen::Vector2d low = Eigen::Vector2d::Zero(), high = Eigen::Vector2d::Zero();
  friend bool operator==(const PageBox&, const PageBox&) = default;
};

/// A line that is drawn on a page.
struct PageSegment {
  Eigen::Vector2d from = Eigen::Vector2d::Zero(), to = Eigen::Vector2d::Zero();
};

/// Whether two boxes share more than a border.
[[nodiscard]] bool overlap(const PageBox& a, const PageBox& b);
/// Whether any part of the segment lies inside the box; its border does not count.
[[nodiscard]] bool crosses(const PageSegment& segment, const PageBox& box);
[[nodiscard]] bool crosses(const PageSegment& a, const PageSegment& b);

/// One text to be placed.
struct LabelBox {
  Eigen::Vector2d anchor = Eigen::Vector2d::Zero();  ///< what the text belongs to
  Eigen::Vector2d size = Eigen::Vector2d::Zero();    ///< width and height of the text
  double gap = 0.0;  ///< kept free around the anchor: radius of its symbol, or half a line width
  /// Side of the anchor that is wanted, such as away from the body; zero: any. Its length counts
  /// nothing.
  Eigen::Vector2d wanted_side = Eigen::Vector2d::Zero();
  /// Where no place is free that near, it is not placed.
  double longest_leader = std::numeric_limits<double>::infinity();
};

struct PlacedLabel {
  bool placed = false;  ///< false: there is no room for it; then the rest means nothing
  PageBox box;          ///< of the text, `size` large
  bool leader = false;  ///< it stands apart: draw a line from the anchor to leader_to
  Eigen::Vector2d leader_to = Eigen::Vector2d::Zero();  ///< on the border of the box
  int lines_crossed = 0;  ///< drawn lines that run through the text: blank them out behind it
};

struct LabelOptions {
  PageBox frame;           ///< no text leaves it
  double clearance = 0.6;  ///< between texts, and between a text and a blocked box
  /// Times every label is looked at again once all others have a place.
  int passes = 3;
  /// Never over a drawn line; else only where there is no better room.
  bool keep_off_lines = false;
};

/// Places labels: no two overlap, none overlaps a blocked box or leaves the frame. They keep off
/// the drawn lines and off each other's leaders as far as there is room, and stay near their
/// anchors. The same input gives the same places; labels come back in the order given.
///
/// Greedy, the most crowded first, then passes of single moves that cost less. Places tried are the
/// eight around the anchor, then rings around it until the frame ends, where a leader is needed.
[[nodiscard]] std::vector<PlacedLabel> place_labels(std::span<const LabelBox> labels,
                                                    std::span<const PageSegment> lines,
                                                    std::span<const PageBox> blocked,
                                                    const LabelOptions& options);

}  // namespace measure
