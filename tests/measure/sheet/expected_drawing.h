// What an independent reader must find of a drawing, as a table: kind, name, numbers, by tabs.
#pragma once

#include <cstdio>
#include <string>

#include "calib/base/units.h"
#include "measure/sheet/outline.h"

namespace testing_support {

inline std::string expected_table(const measure::TemplateDrawing& drawing) {
  std::string table;
  const auto row = [&](const std::string& kind, const std::string& name,
                       std::initializer_list<double> numbers) {
    table += kind + "\t" + name;
    for (const double number : numbers) {
      char text[40];
      std::snprintf(text, sizeof text, "\t%.9f", number);
      table += text;
    }
    table += "\n";
  };
  for (const auto& point : drawing.points) {
    row("point", point.name, {point.at_mm.x(), point.at_mm.y()});
  }
  for (const auto& edge : drawing.edges) {
    row("edge", edge.name, {edge.from_mm.x(), edge.from_mm.y(), edge.to_mm.x(), edge.to_mm.y()});
  }
  for (const auto& circle : drawing.circles) {
    row("ellipse", circle.name,
        {circle.centre_mm.x(), circle.centre_mm.y(), circle.radius_mm, circle.minor_radius_mm,
         circle.turn_rad * calib::kDegreesPerRadian});
  }
  for (const auto& arc : drawing.arcs) {
    row("arc", arc.name,
        {arc.centre_mm.x(), arc.centre_mm.y(), arc.radius_mm,
         arc.from_rad * calib::kDegreesPerRadian, arc.to_rad * calib::kDegreesPerRadian});
  }
  for (const auto& outline : drawing.outlines) {
    for (const auto& corner : outline.corners_mm) {
      row("corner", outline.name, {corner.x(), corner.y()});
    }
  }
  for (const auto& line : drawing.centre_lines) {
    row("centre line", "", {line.from_mm.x(), line.from_mm.y(), line.to_mm.x(), line.to_mm.y()});
  }
  for (const auto& dimension : drawing.dimensions) {
    row("dimension", dimension.text, {});
  }
  return table;
}

}  // namespace testing_support
