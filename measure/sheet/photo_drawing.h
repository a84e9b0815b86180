// Dimensions drawn into a picture: dimension lines, extension lines, arrows and texts that keep
// clear of each other.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include <Eigen/Core>

#include "measure/sheet/dimension_figure.h"
#include "measure/sheet/picture_view.h"

namespace measure {

enum class StrokeKind { kDimensionLine, kExtensionLine, kCentreLine, kLeader };

struct DrawnStroke {
  std::vector<Eigen::Vector2d> points;
  StrokeKind kind = StrokeKind::kDimensionLine;
};

struct DrawnArrow {
  Eigen::Vector2d tip = Eigen::Vector2d::Zero();
  Eigen::Vector2d direction = Eigen::Vector2d::UnitX();  ///< to where it points, unit length
};

/// A text with the plate behind it, turned about its centre so that it is read from below or from
/// the right.
struct DrawnLabel {
  Eigen::Vector2d centre = Eigen::Vector2d::Zero();
  Eigen::Vector2d size = Eigen::Vector2d::Zero();
  double angle_rad = 0.0;  ///< clockwise on the page, −π/2 < angle ≤ π/2
};

struct DrawnDimension {
  std::size_t dimension = 0;  ///< as in the request
  std::vector<DrawnStroke> strokes;
  std::vector<DrawnArrow> arrows;
  std::optional<DrawnLabel> label;  ///< nothing where the picture has no room for it
};

struct DimensionToDraw {
  std::size_t dimension = 0;
  const DimensionFigure* figure = nullptr;
  Eigen::Vector2d label_size = Eigen::Vector2d::Zero();  ///< of the plate, in picture units
};

// Sizes in picture units (kPictureSide for the longer side). On paper a picture is
// some 160 mm wide and a unit 0.1 mm: texts of 2.7 mm, arrows of 2.3 mm.
inline constexpr double kLabelText = 27.0;    ///< height of an em
inline constexpr double kLabelHeight = 35.0;  ///< of the plate
inline constexpr double kLabelPadding = 8.0;  ///< left and right of the number, and of the value
inline constexpr double kArrowLength = 23.0;
inline constexpr double kArrowWidth = 8.5;

/// Draws all figures, after the drafting practice of ISO 129-1 (from memory): thin dimension lines
/// beside the original, extension lines that start off the feature and pass the dimension line a
/// little, filled arrows, outside where there is no room between; the text above its line, in the
/// middle where that is free, and readable from below or from the right; a leader line where it has
/// to stand apart. Lines are true lines of space, seen through the lens.
///
/// Texts never overlap each other and keep off lines and arrows as far as there is room. Same
/// input, same drawing. What cannot be seen has no strokes; what has no room for its text has no
/// label.
[[nodiscard]] std::vector<DrawnDimension> draw_dimensions(
    const PictureView& view, const std::vector<DimensionToDraw>& dimensions);

/// Whether two turned boxes come nearer to each other than `clearance`.
[[nodiscard]] bool labels_overlap(const DrawnLabel& a, const DrawnLabel& b, double clearance = 0);

}  // namespace measure
