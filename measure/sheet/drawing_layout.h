// A drawing laid out: every line and every text with its place, the same for PDF, SVG and DXF.
#pragma once

#include <array>
#include <string>
#include <variant>
#include <vector>

#include <Eigen/Core>

#include "measure/sheet/label_place.h"
#include "measure/sheet/outline.h"

namespace measure {

/// Layers from the bottom to the top.
enum class DrawingLayer {
  kUncertainty,
  kCentreLines,
  kEdges,
  kCircles,
  kPoints,
  kDimensions,
  kNames,
};
inline constexpr std::array kDrawingLayers = {
    DrawingLayer::kUncertainty, DrawingLayer::kCentreLines, DrawingLayer::kEdges,
    DrawingLayer::kCircles,     DrawingLayer::kPoints,      DrawingLayer::kDimensions,
    DrawingLayer::kNames};

/// How a layer's lines are drawn. Types and widths after ISO 128 (from memory): visible edges thick
/// and continuous, centre lines thin and chained, dimension lines thin and continuous, in the
/// proportion 2 : 1. The group 0.35/0.18 is the finest that every printer holds: it is cut along.
struct LayerPen {
  const char* id;     ///< "edges"; in DXF in capitals
  const char* title;  ///< for people
  double width_mm;
  std::array<double, 4> dashes_mm;  ///< drawn, left out, drawn, left out; all 0: continuous
  std::array<double, 3> colour;     ///< red, green, blue, 0 to 1
};
[[nodiscard]] const LayerPen& pen_of(DrawingLayer layer);

/// What one stroke is; millimetres, y up, as in outline.h.
struct LineStroke {
  Eigen::Vector2d from_mm, to_mm;
};
struct EllipseStroke {
  Eigen::Vector2d centre_mm;
  double major_mm = 0.0, minor_mm = 0.0, turn_rad = 0.0;
};
struct ArcStroke {
  Eigen::Vector2d centre_mm;
  double radius_mm = 0.0, from_rad = 0.0, to_rad = 0.0;
};
struct PathStroke {
  std::vector<Eigen::Vector2d> corners_mm;
  bool closed = false;
};
/// A place: a cross of kPlaceCross_mm.
struct PlaceStroke {
  Eigen::Vector2d at_mm;
};
/// A filled arrow head with its tip at `tip_mm`, pointing along `direction` (length 1).
struct ArrowStroke {
  Eigen::Vector2d tip_mm, direction;
};
inline constexpr double kPlaceCross_mm = 2.0;
inline constexpr double kArrowLength_mm = 2.2, kArrowWidth_mm = 0.75;

struct Stroke {
  DrawingLayer layer = DrawingLayer::kEdges;
  std::string name;  ///< of what it belongs to; may be empty
  std::variant<LineStroke, EllipseStroke, ArcStroke, PathStroke, PlaceStroke, ArrowStroke> shape;
};

struct LaidOutText {
  DrawingLayer layer = DrawingLayer::kNames;
  std::string text;
  Eigen::Vector2d at_mm = Eigen::Vector2d::Zero();  ///< left end of the line the letters stand on
  double height_mm = 2.5;                           ///< of capitals
  double width_mm = 0.0;                            ///< in the font of sheets
  double turn_rad = 0.0;
};

struct LaidOutDrawing {
  PageBox frame;  ///< holds all strokes and texts
  std::vector<Stroke> strokes;
  std::vector<LaidOutText> texts;
  std::vector<std::string> legend;  ///< title, view and scale, unit, what uncertainty looks like
};

struct LayoutOptions {
  bool names = true;  ///< write the names of points, edges and circles beside them
  /// Lines that are not of the drawing and that text should keep off: where sheets meet.
  std::vector<PageSegment> seams{};
};

/// Lays out a drawing that has no problem. No two texts overlap.
[[nodiscard]] LaidOutDrawing lay_out(const TemplateDrawing& drawing,
                                     const LayoutOptions& options = {});

/// A stroke as straight pieces, none further than `tolerance_mm` from it.
[[nodiscard]] std::vector<PageSegment> pieces_of(const Stroke& stroke, double tolerance_mm = 0.05);

}  // namespace measure
