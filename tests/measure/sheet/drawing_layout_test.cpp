// Whether a template can be read: what its texts lie on once it is laid out. Rooms of texts and
// lines are measured here anew, from what is drawn.
#include "measure/sheet/drawing_layout.h"

#include <cmath>
#include <set>

#include <gtest/gtest.h>

#include "measure/sheet/turned_box.h"
#include "tests/measure/sheet/workshop_drawing.h"

namespace measure {
namespace {

using Eigen::Vector2d;

/// Of a text, from the top of its capitals to the line they stand on: descenders hang below.
TurnedBox capitals_of(const LaidOutText& text) {
  TurnedBox box;
  box.along = {std::cos(text.turn_rad), std::sin(text.turn_rad)};
  box.half = {0.5 * text.width_mm, 0.5 * text.height_mm};
  box.centre = text.at_mm + box.half.x() * box.along + box.half.y() * box.across();
  return box;
}

void expect_readable(const LaidOutDrawing& drawing, std::span<const PageSegment> seams = {}) {
  for (std::size_t i = 0; i < drawing.texts.size(); ++i) {
    const LaidOutText& text = drawing.texts[i];
    const TurnedBox box = capitals_of(text);
    for (std::size_t j = 0; j < i; ++j) {
      EXPECT_FALSE(overlap(box, capitals_of(drawing.texts[j])))
          << text.text << " on " << drawing.texts[j].text;
    }
    for (const Stroke& stroke : drawing.strokes) {
      for (const PageSegment& piece : pieces_of(stroke)) {
        EXPECT_FALSE(crosses(piece, box))
            << text.text << " on a line of " << pen_of(stroke.layer).title << " " << stroke.name;
      }
    }
    for (const PageSegment& seam : seams) {
      EXPECT_FALSE(crosses(seam, box)) << text.text << " on a seam";
    }
    for (const double x : {-1.0, 1.0}) {
      for (const double y : {-1.0, 1.0}) {
        const Vector2d corner = box.corner(x, y);
        EXPECT_TRUE((corner.array() >= drawing.frame.low.array() - 1e-9).all() &&
                    (corner.array() <= drawing.frame.high.array() + 1e-9).all())
            << text.text << " outside of the frame";
      }
    }
  }
}

/// Every name stands in the drawing, or with its number in the list.
void expect_names(const TemplateDrawing& asked, const LaidOutDrawing& drawing) {
  std::multiset<std::string> written;
  for (const LaidOutText& text : drawing.texts) {
    const auto colon = text.text.find(": ");
    const bool listed =
        colon != std::string::npos && text.text.find_first_not_of("0123456789") == colon;
    written.insert(listed ? text.text.substr(colon + 2) : text.text);
  }
  for (const DrawnPoint& point : asked.points) {
    EXPECT_EQ(written.count(point.name), 1u) << point.name;
  }
  for (const TemplateDimension& dimension : asked.dimensions) {
    EXPECT_GE(written.count(dimension.text), 1u) << dimension.text;
  }
}

TEST(LayOut, NoTextOfAWorkshopDrawingLiesOnAnotherOrOnALine) {
  const TemplateDrawing drawing = testing_support::workshop_drawing();
  const LaidOutDrawing laid_out = lay_out(drawing);
  expect_readable(laid_out);
  expect_names(drawing, laid_out);
}

/// As the demo original from the front: rows of points behind each other, edges on edges.
TemplateDrawing crowded_drawing() {
  TemplateDrawing drawing = testing_support::workshop_drawing();
  for (int i = 0; i < 40; ++i) {
    const double x = 20.0 + 3.0 * i;
    drawing.points.push_back({"rivet of row two " + std::to_string(i), {x, 20.0}});
    drawing.points.push_back(
        {"rivet seen from its end " + std::to_string(i), {200.0 + 0.01 * i, 90.0}});
    drawing.points.push_back(
        {"bolt on a circle " + std::to_string(i),
         {100.0 + 9.0 * std::cos(0.157 * i), 95.0 + 9.0 * std::sin(0.157 * i)}});
    drawing.edges.push_back(
        {"plate " + std::to_string(i), {250.0, 10.0 + 0.4 * i}, {280.0, 10.0 + 0.4 * i}});
    if (i % 4 == 3) {
      drawing.dimensions.push_back({"pitch",
                                    "3.00 ± 0.08 mm",
                                    TemplateDimension::Kind::kLinear,
                                    {x - 3.0, 20.0},
                                    {x, 20.0}});
    }
  }
  for (int i = 0; i < 5; ++i) {
    drawing.circles.push_back({"ring " + std::to_string(i), {100.0, 95.0}, 4.0 + i, 4.0 + i});
    const Vector2d rim = (4.0 + i) * Vector2d(std::sqrt(0.5), std::sqrt(0.5));
    drawing.dimensions.push_back({"ring " + std::to_string(i),
                                  "⌀ " + std::to_string(8 + 2 * i) + ".00 ± 0.05 mm",
                                  TemplateDimension::Kind::kRim,
                                  {100.0, 95.0},
                                  Vector2d(100.0, 95.0) + rim});
  }
  return drawing;
}

TEST(LayOut, NorDoesOneOfACrowdWhoseNamesAreListedWhereThereIsNoRoom) {
  const TemplateDrawing drawing = crowded_drawing();
  const LaidOutDrawing laid_out = lay_out(drawing);
  expect_readable(laid_out);
  expect_names(drawing, laid_out);
  const auto lists = [](const LaidOutText& text) { return text.text.starts_with("1: "); };
  EXPECT_TRUE(std::any_of(laid_out.texts.begin(), laid_out.texts.end(), lists));
}

TEST(LayOut, TextsKeepOffTheSeamsOfSheets) {
  const TemplateDrawing drawing = crowded_drawing();
  LayoutOptions options;
  for (const double x : {60.0, 230.0}) {
    options.seams.push_back({{x, -300.0}, {x, 400.0}});
  }
  options.seams.push_back({{-100.0, 70.0}, {500.0, 70.0}});
  options.seams.push_back({{-100.0, -80.0}, {500.0, -80.0}});
  expect_readable(lay_out(drawing, options), options.seams);
}

TEST(LayOut, WhatIsCutAlongIsNeverInterrupted) {
  const TemplateDrawing drawing = crowded_drawing();
  std::size_t edges = 0, circles = 0;
  for (const Stroke& stroke : lay_out(drawing).strokes) {
    edges += stroke.layer == DrawingLayer::kEdges ? 1 : 0;
    circles += stroke.layer == DrawingLayer::kCircles ? 1 : 0;
  }
  EXPECT_EQ(edges, drawing.edges.size() + drawing.outlines.size());
  EXPECT_EQ(circles, drawing.circles.size() + drawing.arcs.size());
}

}  // namespace
}  // namespace measure
