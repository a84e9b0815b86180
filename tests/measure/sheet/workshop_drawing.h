// A drawing with one of everything that a template can show, larger than a sheet of paper.
#pragma once

#include <cmath>
#include <string>

#include "measure/sheet/drawing_plane.h"
#include "measure/sheet/outline.h"

namespace testing_support {

inline constexpr double kFactor = 0.5;  // drawn at half the original

/// Shapes on an original of some 700 × 300 mm, in its own axes.
inline measure::ShapeList workshop_shapes() {
  measure::ShapeList shapes;
  shapes.title = "Ore hauler <no. 7> & \"tender\"";
  const Eigen::Matrix3d small = Eigen::Vector3d(0.04, 0.09, 0.02).asDiagonal();
  Eigen::Matrix3d leaning;
  leaning << 0.25, 0.12, 0.0, 0.12, 0.16, 0.01, 0.0, 0.01, 0.09;
  shapes.points = {
      {"bow", {700, 20, 0}, small},
      {"Heckspant Äöü ß", {0, 0, 0}, leaning},
      {"船首 № 3", {650, 180, 5}, small},
      {"rivet 1", {120, 60, 0}, small},
      {"rivet 2", {128, 60, 0}, small},
      {"rivet 3", {136, 60, 0}, small},
      {"rivet 4", {144, 60, 0}, small},
      {"rivet 5", {152, 60, 0}, small},
      {"\U0001F680 tip", {700, 260, 0}, std::nullopt},
      {"antenna \\U+0041 100 %%c", {300, 280, 0}, small},
  };
  Eigen::Matrix<double, 6, 6> ends = Eigen::Matrix<double, 6, 6>::Identity() * 0.09;
  ends(1, 4) = ends(4, 1) = 0.03;
  shapes.edges = {
      {"keel", {0, 0, 0}, {700, 0, 0}, ends},
      {"stem", {700, 0, 0}, {700, 260, 0}, ends},
      {"deck", {0, 240, 0}, {600, 260, 0}, ends},
      {"transom", {0, 0, 0}, {0, 240, 0}, std::nullopt},
      {"panel left", {80, 40, 0}, {80, 120, 0}, std::nullopt},
      {"panel right", {180, 40, 0}, {180, 120, 0}, std::nullopt},
      {"panel top", {80, 120, 0}, {180, 120, 0}, std::nullopt},
      {"panel foot", {80, 40, 0}, {180, 40, 0}, std::nullopt},
  };
  Eigen::Matrix<double, 7, 7> rim = Eigen::Matrix<double, 7, 7>::Zero();
  rim.diagonal() << 0.04, 0.04, 0.04, 1e-4, 1e-4, 1e-4, 0.25;
  shapes.circles = {
      {"hatch", {450, 130, 0}, {0, 0, 1}, 60.0, rim},
      {"tilted port", {580, 130, 0}, Eigen::Vector3d(0.6, 0.3, 0.7).normalized(), 30.0, rim},
      {"ring from its edge", {240, 190, 0}, {0, 1, 0}, 25.0, rim},
  };
  shapes.cylinders = {{"boom", {250, 60, 0}, {360, 90, 40}, 12.0, rim}};
  return shapes;
}

inline measure::TemplateDrawing workshop_drawing() {
  const measure::ShapeList shapes = workshop_shapes();
  const auto plane = measure::drawing_plane({0, 0, 0}, {0, 0, 1}, {0, 1, 0}, kFactor);
  measure::TemplateDrawing drawing;
  drawing.title = shapes.title;
  drawing.view = "from the side";
  drawing.scale_text = "replica 1:72";
  measure::add_shapes(drawing, *plane, shapes);
  using Kind = measure::TemplateDimension::Kind;
  const auto linear = [&](const char* name, const char* text, Eigen::Vector2d from,
                          Eigen::Vector2d to) {
    drawing.dimensions.push_back(
        {name, text, Kind::kLinear, kFactor * from, kFactor * to, Eigen::Vector2d::Zero()});
  };
  linear("length over all", "350.00 ± 0.22 mm", {0, 0}, {700, 0});
  linear("height", "130.00 ± 0.15 mm", {700, 0}, {700, 260});
  linear("panel", "50.00 ± 0.21 mm", {80, 40}, {180, 40});
  linear("panel height", "40.00 ± 0.21 mm", {180, 40}, {180, 120});
  linear("pitch 1", "4.00 ± 0.10 mm", {120, 60}, {128, 60});
  linear("pitch 4", "4.00 ± 0.10 mm", {144, 60}, {152, 60});
  linear("diagonal", "332.6 ± 1.1 mm", {0, 0}, {650, 180});
  linear("to hatch", "225.00 ± 0.30 mm", {0, 130}, {450, 130});
  drawing.dimensions.push_back(
      {"hatch",
       "⌀ 60.00 ± 0.50 mm",
       Kind::kRim,
       kFactor * Eigen::Vector2d(450, 130),
       kFactor * Eigen::Vector2d(450 + 60 * std::cos(2.0), 130 + 60 * std::sin(2.0)),
       {0, 0}});
  drawing.dimensions.push_back(
      {"rake", "88.09 ± 0.12 °", Kind::kAngle, kFactor * Eigen::Vector2d(0, 0),
       kFactor * Eigen::Vector2d(600, 260), kFactor * Eigen::Vector2d(0, 240)});
  drawing.arcs.push_back(
      {"bilge", kFactor * Eigen::Vector2d(600, 40), kFactor * 40.0, -1.5707963267948966, 0.0, 0.1});
  drawing.outlines.push_back(
      {"skylight",
       {kFactor * Eigen::Vector2d(300, 200), kFactor * Eigen::Vector2d(380, 205),
        kFactor * Eigen::Vector2d(370, 235), kFactor * Eigen::Vector2d(310, 230)},
       true});
  drawing.notes.push_back({"edge rounded off here", kFactor * Eigen::Vector2d(600, 260)});
  return drawing;
}

}  // namespace testing_support
