#include "measure/sheet/photo_drawing.h"

#include <cmath>
#include <numbers>
#include <random>

#include <gtest/gtest.h>

#include "calib/camera/projection.h"

namespace measure {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

/// A camera 700 mm before the origin, with a lens that bends lines as wide lenses do.
OrientedPhoto bending_photo() {
  return {{3000, 3004, 2010, 1490, -0.18, 0.05, 3e-4, -2e-4, 0.0},
          calib::Pose{{0.05, -0.1, 0.02}, {0, 0, 700}}};
}
constexpr calib::ImageSize kSize{4000, 3000};

PictureView whole_view(int exif_orientation = 1) {
  return {bending_photo(), kSize, {0, 0, kSize.width, kSize.height}, exif_orientation};
}

DimensionFigure distance_figure(const Vector3d& a, const Vector3d& b) {
  return *figure_of(Dossier{}, Distance{"a", "b"},
                    {{{"a", point_form(a)}, {"b", point_form(b)}}, {}});
}

TEST(PictureView, PutsAPlaceWhereThePhotoHasIt) {
  const Vector3d place(80, -60, 40);
  const Vector2d stored = calib::project(bending_photo().camera, bending_photo().pose, place);
  const PhotoPart part{1500, 300, 2000, 1200};
  const PictureView view(bending_photo(), kSize, part, 1);
  const Vector2d wanted = (stored + Vector2d::Constant(0.5) - Vector2d(1500, 300)) * 0.8;
  EXPECT_NEAR((*view.project(place) - wanted).norm(), 0, 1e-9);
  EXPECT_EQ(view.size(), Vector2d(1600, 960));
  EXPECT_TRUE(view.is_part());
}

TEST(PictureView, TurnsAsExifSays) {
  // EXIF 2.32, Orientation: 6, the row 0 of the stored picture is the right side of the shown one.
  const Vector2d corner(-0.5, -0.5);
  EXPECT_NEAR((whole_view(6).from_photo(corner) - Vector2d(1200, 0)).norm(), 0, 1e-9);
  EXPECT_NEAR((whole_view(3).from_photo(corner) - Vector2d(1600, 1200)).norm(), 0, 1e-9);
  EXPECT_NEAR((whole_view(8).from_photo(corner) - Vector2d(0, 1600)).norm(), 0, 1e-9);
  EXPECT_EQ(whole_view(6).size(), Vector2d(1200, 1600));
}

TEST(PartAround, HoldsAllPlacesAndStaysInThePhoto) {
  std::mt19937 random(5);
  std::uniform_real_distribution<double> x(0, kSize.width - 1), y(0, kSize.height - 1);
  for (int round = 0; round < 200; ++round) {
    std::vector<Vector2d> places;
    for (unsigned i = 0; i <= random() % 5; ++i) places.emplace_back(x(random), y(random));
    for (const calib::ImageSize size : {kSize, calib::ImageSize{3000, 4000}}) {
      if (size.width != kSize.width) {
        for (Vector2d& place : places) place = {place.y(), place.x()};
      }
      const PhotoPart part = part_around(places, size);
      EXPECT_GE(part.left, 0);
      EXPECT_GE(part.top, 0);
      EXPECT_LE(part.left + part.width, size.width);
      EXPECT_LE(part.top + part.height, size.height);
      for (const Vector2d& place : places) {
        EXPECT_TRUE(place.x() >= part.left - 0.5 && place.x() <= part.left + part.width - 0.5 &&
                    place.y() >= part.top - 0.5 && place.y() <= part.top + part.height - 0.5);
      }
    }
  }
}

TEST(DrawDimensions, ItsDimensionLineIsATrueLineOfSpaceSeenThroughTheLens) {
  const PictureView view = whole_view();
  const DimensionFigure figure = distance_figure({-250, -150, 0}, {260, -160, 30});
  const auto drawn = draw_dimensions(view, {{0, &figure, {300, kLabelHeight}}});
  ASSERT_TRUE(drawn[0].label);
  const DrawnStroke* line = nullptr;
  for (const DrawnStroke& stroke : drawn[0].strokes) {
    if (stroke.kind == StrokeKind::kDimensionLine && stroke.points.size() > 3) line = &stroke;
  }
  ASSERT_NE(line, nullptr);
  // Taken back through the lens its vertices lie in one straight line: 0.01 units is what the
  // rounding of Newton's steps and nothing else leaves.
  std::vector<Vector2d> ideal;
  for (const Vector2d& p : line->points) {
    const Vector2d stored = p * (kSize.width / kPictureSide) - Vector2d::Constant(0.5);
    ideal.push_back(*calib::unproject(bending_photo().camera, stored) * 3000 * 0.4);
  }
  const Vector2d along = (ideal.back() - ideal.front()).normalized();
  double bent = 0;
  for (std::size_t i = 0; i < ideal.size(); ++i) {
    const Vector2d arm = ideal[i] - ideal.front();
    EXPECT_NEAR(along.x() * arm.y() - along.y() * arm.x(), 0, 0.01);
    const Vector2d shown = line->points[i] - line->points.front();
    const Vector2d chord = (line->points.back() - line->points.front()).normalized();
    bent = std::max(bent, std::abs(chord.x() * shown.y() - chord.y() * shown.x()));
  }
  EXPECT_GT(bent, 2.0) << "this lens bends a line so near to the border";
}

TEST(DrawDimensions, ExtensionLinesStartOffTheFeatureAndPassTheDimensionLine) {
  const PictureView view = whole_view();
  const Vector3d a(-100, 20, 0), b(120, 10, 0);
  const DimensionFigure figure = distance_figure(a, b);
  const auto drawn = draw_dimensions(view, {{0, &figure, {300, kLabelHeight}}});
  int extensions = 0;
  for (const DrawnStroke& stroke : drawn[0].strokes) {
    if (stroke.kind != StrokeKind::kExtensionLine) continue;
    const Vector2d feature = *view.project(extensions == 0 ? a : b);
    const double gap = (stroke.points.front() - feature).norm();
    EXPECT_TRUE(gap > 4 && gap < 12) << gap;
    const double beyond =
        (stroke.points.back() - drawn[0].arrows[static_cast<std::size_t>(extensions)].tip).norm();
    EXPECT_TRUE(beyond > 5 && beyond < 14) << beyond;
    ++extensions;
  }
  EXPECT_EQ(extensions, 2);
  ASSERT_EQ(drawn[0].arrows.size(), 2u);
  // Both between the extension lines, pointing outwards.
  EXPECT_LT(drawn[0].arrows[0].direction.dot(drawn[0].arrows[1].direction), -0.99);
  EXPECT_GT((drawn[0].arrows[1].tip - drawn[0].arrows[0].tip).dot(drawn[0].arrows[1].direction), 0);
}

TEST(DrawDimensions, ArrowsOfAShortDimensionStandOutside) {
  const PictureView view = whole_view();
  const DimensionFigure figure = distance_figure({0, 0, 0}, {12, 0, 0});
  const auto drawn = draw_dimensions(view, {{0, &figure, {300, kLabelHeight}}});
  ASSERT_EQ(drawn[0].arrows.size(), 2u);
  EXPECT_LT((drawn[0].arrows[1].tip - drawn[0].arrows[0].tip).dot(drawn[0].arrows[1].direction), 0);
}

TEST(DrawDimensions, WhatTheCameraCannotSeeIsNotDrawn) {
  const DimensionFigure figure = distance_figure({0, 0, -900}, {12, 0, -900});
  const auto drawn = draw_dimensions(whole_view(), {{0, &figure, {300, kLabelHeight}}});
  EXPECT_TRUE(drawn[0].strokes.empty());
  EXPECT_FALSE(drawn[0].label);
}

TEST(DrawDimensions, TextsNeverOverlapHoweverCrowdedThePicture) {
  std::mt19937 random(3);
  std::uniform_real_distribution<double> x(-220, 220), y(-150, 150), z(-60, 60);
  const PictureView view = whole_view();
  int placed = 0, asked = 0, disturbed = 0;
  for (int round = 0; round < 30; ++round) {
    std::vector<DimensionFigure> figures;
    const auto place = [&] { return Vector3d(x(random), y(random), z(random)); };
    for (unsigned i = 0; i < 6 + random() % 20; ++i) {
      const PlacedForms points{{{"a", point_form(place())},
                                {"b", point_form(place())},
                                {"c", point_form(place())},
                                {"p", point_form(place())}},
                               {}};
      switch (random() % 5) {
        case 0:
          figures.push_back(*figure_of(Dossier{}, Angle{"a", "b", "c"}, points));
          break;
        case 1:
          figures.push_back(*figure_of(Dossier{}, OffsetFromLine{"p", "a", "b"}, points));
          break;
        case 2:
          figures.push_back(*figure_of(Dossier{}, OffsetFromPlane{"p", {"a", "b", "c"}}, points));
          break;
        case 3:
          figures.push_back(*figure_of(Dossier{}, DistanceAlong{"a", "b", "c", "p"}, points));
          break;
        default:
          figures.push_back(*figure_of(Dossier{}, Distance{"a", "b"}, points));
      }
    }
    std::vector<DimensionToDraw> to_draw;
    for (std::size_t i = 0; i < figures.size(); ++i) {
      to_draw.push_back({i, &figures[i], {260 + 10.0 * static_cast<double>(i % 12), kLabelHeight}});
    }
    const auto drawn = draw_dimensions(view, to_draw);
    ASSERT_EQ(drawn.size(), figures.size());
    for (std::size_t i = 0; i < drawn.size(); ++i) {
      ++asked;
      if (!drawn[i].label) continue;
      ++placed;
      EXPECT_GT(drawn[i].label->angle_rad, -std::numbers::pi / 2 - 1e-9);
      EXPECT_LE(drawn[i].label->angle_rad, std::numbers::pi / 2 + 1e-9);
      for (std::size_t j = 0; j < i; ++j) {
        if (drawn[j].label) {
          EXPECT_FALSE(labels_overlap(*drawn[i].label, *drawn[j].label)) << round << ": " << i;
        }
      }
      const double c = std::cos(drawn[i].label->angle_rad), s = std::sin(drawn[i].label->angle_rad);
      for (const double across : {-0.5, 0.5}) {
        for (const double down : {-0.5, 0.5}) {
          const Vector2d half(across * drawn[i].label->size.x(), down * drawn[i].label->size.y());
          const Vector2d corner = drawn[i].label->centre + Vector2d(c * half.x() - s * half.y(),
                                                                    s * half.x() + c * half.y());
          EXPECT_TRUE(corner.x() >= 0 && corner.y() >= 0 && corner.x() <= view.size().x() &&
                      corner.y() <= view.size().y());
        }
      }
      for (const DrawnDimension& other : drawn) {
        for (const DrawnArrow& arrow : other.arrows) {
          const DrawnLabel head{arrow.tip - kArrowLength / 2 * arrow.direction,
                                {kArrowLength, kArrowWidth},
                                std::atan2(arrow.direction.y(), arrow.direction.x())};
          disturbed += labels_overlap(*drawn[i].label, head) ? 1 : 0;
        }
      }
    }
  }
  // Up to 25 dimensions at random are more than a sheet draws into one picture (10).
  EXPECT_GT(placed, 0.97 * asked);
  EXPECT_LT(disturbed, 0.05 * placed);
}

TEST(DrawDimensions, TheSameInputGivesTheSameDrawing) {
  const DimensionFigure first = distance_figure({-100, 20, 0}, {120, 10, 0}),
                        second = distance_figure({-90, 30, 0}, {100, 60, 10});
  const std::vector<DimensionToDraw> asked{{0, &first, {300, kLabelHeight}},
                                           {1, &second, {280, kLabelHeight}}};
  const auto once = draw_dimensions(whole_view(), asked),
             again = draw_dimensions(whole_view(), asked);
  for (std::size_t i = 0; i < once.size(); ++i) {
    EXPECT_EQ(once[i].label->centre, again[i].label->centre);
    EXPECT_EQ(once[i].strokes.size(), again[i].strokes.size());
  }
}

}  // namespace
}  // namespace measure
