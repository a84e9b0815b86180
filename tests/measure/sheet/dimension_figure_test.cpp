#include "measure/sheet/dimension_figure.h"

#include <gtest/gtest.h>

namespace measure {
namespace {

const PlacedForms kPoints = {{{"a", point_form({0, 0, 0})},
                              {"b", point_form({10, 0, 0})},
                              {"c", point_form({10, 8, 0})},
                              {"d", point_form({0, 8, 0})},
                              {"p", point_form({4, 3, 5})},
                              {"q", point_form({14, 0, 2})},
                              {"twin", point_form({0, 0, 0})}},
                             {}};

TEST(DimensionFigure, ADistanceRunsFromPointToPoint) {
  const auto figure = figure_of(Dossier{}, Distance{"a", "q"}, kPoints);
  ASSERT_TRUE(figure);
  ASSERT_EQ(figure->lengths.size(), 1u);
  EXPECT_TRUE(figure->lengths[0].moved_off);
  EXPECT_NEAR((figure->lengths[0].to - figure->lengths[0].from).dot(figure->lengths[0].along),
              std::sqrt(200.0), 1e-12);
}

TEST(DimensionFigure, ADistanceAlongKeepsTheDirectionOfItsAxis) {
  const auto figure = figure_of(Dossier{}, DistanceAlong{"a", "q", "a", "b"}, kPoints);
  ASSERT_TRUE(figure);
  EXPECT_EQ(figure->lengths[0].along, Eigen::Vector3d::UnitX());
}

TEST(DimensionFigure, AnOffsetFromALineStandsOnIt) {
  const auto figure = figure_of(Dossier{}, OffsetFromLine{"q", "a", "b"}, kPoints);
  ASSERT_TRUE(figure);
  const FigureLength& length = figure->lengths[0];
  EXPECT_FALSE(length.moved_off);
  EXPECT_NEAR((length.to - Eigen::Vector3d(14, 0, 0)).norm(), 0, 1e-12);
  // The foot lies beyond the line's points: the line is drawn out to it.
  ASSERT_EQ(figure->curves.size(), 1u);
  EXPECT_NEAR((figure->curves[0].points.back() - length.to).norm(), 0, 1e-12);
}

TEST(DimensionFigure, AnOffsetFromAPlaneStandsOnItAndItsOutlineDoesNotCrossItself) {
  // Named across the corners: drawn in this order the outline would be a bow.
  const auto figure = figure_of(Dossier{}, OffsetFromPlane{"p", {"a", "c", "b", "d"}}, kPoints);
  ASSERT_TRUE(figure);
  EXPECT_NEAR((figure->lengths[0].to - Eigen::Vector3d(4, 3, 0)).norm(), 0, 1e-9);
  const auto& outline = figure->curves.back().points;
  ASSERT_EQ(outline.size(), 5u);
  for (std::size_t i = 1; i < outline.size(); ++i) {
    EXPECT_LT((outline[i] - outline[i - 1]).norm(), 10.1) << "a side, no diagonal (12.8)";
  }
}

TEST(DimensionFigure, APointThatIsNotPlacedLeavesNothingToDraw) {
  EXPECT_FALSE(figure_of(Dossier{}, Distance{"a", "nowhere"}, kPoints));
  EXPECT_FALSE(figure_of(Dossier{}, Angle{"a", "twin", "b"}, kPoints));
  EXPECT_FALSE(figure_of(Dossier{}, OffsetFromLine{"p", "a", "twin"}, kPoints));
}

TEST(DimensionFigure, TwoPlacesThatCoincideAreStillDrawn) {
  EXPECT_TRUE(figure_of(Dossier{}, Distance{"a", "twin"}, kPoints));
}

}  // namespace
}  // namespace measure
