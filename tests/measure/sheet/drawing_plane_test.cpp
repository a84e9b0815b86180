#include "measure/sheet/drawing_plane.h"

#include <cmath>

#include <gtest/gtest.h>

#include "measure/sheet/drawing_layout.h"
#include "measure/sheet/turned_box.h"
#include "tests/measure/sheet/workshop_drawing.h"

namespace measure {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

DrawingPlane leaning_plane() {
  return *drawing_plane({10, 20, 30}, {0.3, -0.5, 0.8}, {0.1, 1.0, 0.2}, 0.25);
}

TEST(DrawingPlane, HasAxesOfLengthOneAtRightAnglesWithUpUpwards) {
  const DrawingPlane plane = leaning_plane();
  EXPECT_NEAR(plane.x_axis.norm(), 1.0, 1e-12);
  EXPECT_NEAR(plane.y_axis.norm(), 1.0, 1e-12);
  EXPECT_NEAR(plane.x_axis.dot(plane.y_axis), 0.0, 1e-12);
  EXPECT_LT((plane.normal() - Vector3d(0.3, -0.5, 0.8).normalized()).norm(), 1e-12);
  EXPECT_GT(plane.y_axis.dot(Vector3d(0.1, 1.0, 0.2)), 0.0);
  // Seen from the front with up upwards, x points to the right.
  EXPECT_LT(
      (drawing_plane({0, 0, 0}, {0, 0, 1}, {0, 1, 0}, 1.0)->x_axis - Vector3d::UnitX()).norm(),
      1e-12);
}

TEST(DrawingPlane, RefusesDirectionsThatMakeNone) {
  EXPECT_FALSE(drawing_plane({0, 0, 0}, {0, 0, 1}, {0, 0, 2}, 1.0));
  EXPECT_FALSE(drawing_plane({0, 0, 0}, {0, 0, 0}, {0, 1, 0}, 1.0));
  EXPECT_FALSE(drawing_plane({0, 0, 0}, {0, 0, 1}, {0, 1, 0}, 0.0));
  EXPECT_FALSE(drawing_plane({std::nan(""), 0, 0}, {0, 0, 1}, {0, 1, 0}, 1.0));
}

/// Whether a place of the drawing lies on the ellipse, as its equation says; 1 on it.
double ellipse_equation(const TemplateEllipse& ellipse, const Vector2d& place) {
  const Vector2d along(std::cos(ellipse.turn_rad), std::sin(ellipse.turn_rad));
  const Vector2d from = place - ellipse.centre_mm;
  return std::hypot(from.dot(along) / ellipse.radius_mm,
                    from.dot(Vector2d(-along.y(), along.x())) / ellipse.minor_radius_mm);
}

TEST(Project, MakesOfATiltedCircleTheEllipseThatItsPlacesLieOn) {
  const DrawingPlane plane = leaning_plane();
  const NamedCircle circle{"rim", {40, -10, 5}, Vector3d(0.5, 0.6, 0.2).normalized(), 12.0};
  const TemplateEllipse drawn = project(plane, circle);
  EXPECT_NEAR(drawn.radius_mm, 3.0, 1e-12);
  const Vector3d first = circle.normal.unitOrthogonal(), second = circle.normal.cross(first);
  for (double angle = 0.0; angle < 6.28; angle += 0.1) {
    const Vector3d place =
        circle.centre + circle.radius * (std::cos(angle) * first + std::sin(angle) * second);
    EXPECT_NEAR(ellipse_equation(drawn, project(plane, place)), 1.0, 1e-9);
  }
}

TEST(Project, ACircleFromItsEdgeCarriesItsUncertainty) {
  // Against differences: both ends as functions of centre, normal and radius.
  const DrawingPlane plane = *drawing_plane({0, 0, 0}, {0, 0, 1}, {0, 1, 0}, 0.5);
  const NamedCircle circle{"ring", {5, 7, 1}, Vector3d(0.6, 0.8, 0.0), 10.0};
  const auto ends = [&](const Vector3d& centre, const Vector3d& normal, double radius) {
    const Vector2d n = Vector2d(normal.x(), normal.y()).normalized(), e(n.y(), -n.x());
    Eigen::Vector4d both;
    both << 0.5 * (centre.head<2>() - radius * e), 0.5 * (centre.head<2>() + radius * e);
    return both;
  };
  Eigen::Matrix<double, 7, 7> covariance = Eigen::Matrix<double, 7, 7>::Zero();
  covariance.diagonal() << 0.1, 0.2, 0.3, 4e-4, 2e-4, 1e-4, 0.05;
  covariance(3, 6) = covariance(6, 3) = 1e-3;
  Eigen::Matrix<double, 4, 7> gradient;
  for (int i = 0; i < 7; ++i) {
    Eigen::Matrix<double, 7, 1> up = Eigen::Matrix<double, 7, 1>::Zero();
    up[i] = 1e-6;
    const auto at = [&](double sign) {
      return ends(circle.centre + sign * up.head<3>(), circle.normal + sign * up.segment<3>(3),
                  circle.radius + sign * up[6]);
    };
    gradient.col(i) = (at(1.0) - at(-1.0)) / 2e-6;
  }
  NamedCircle uncertain = circle;
  uncertain.covariance = covariance;
  TemplateDrawing drawing;
  add_circle(drawing, plane, uncertain);
  ASSERT_EQ(drawing.edges.size(), 1u);
  const DrawnSegment& edge = drawing.edges[0];
  Eigen::Vector4d drawn;
  drawn << edge.from_mm, edge.to_mm;
  Eigen::Vector4d expected = ends(circle.centre, circle.normal, circle.radius);
  Eigen::Matrix4d expected_covariance = gradient * covariance * gradient.transpose();
  if ((drawn - expected).norm() > 1e-9) {  // which end comes first is nobody's business
    Eigen::Matrix4d swap = Eigen::Matrix4d::Zero();
    swap.topRightCorner<2, 2>().setIdentity();
    swap.bottomLeftCorner<2, 2>().setIdentity();
    expected = swap * expected;
    expected_covariance = swap * expected_covariance * swap.transpose();
  }
  EXPECT_LT((drawn - expected).norm(), 1e-9);
  EXPECT_LT((*edge.covariance_mm2 - expected_covariance).norm(), 1e-8);
}

TEST(Project, TheOutlineOfACylinderIsAsWideAsItIs) {
  const DrawingPlane plane = leaning_plane();
  const NamedCylinder cylinder{"boom", {0, 0, 0}, {50, 20, -10}, 4.0};
  TemplateDrawing drawing;
  add_cylinder(drawing, plane, cylinder);
  ASSERT_EQ(drawing.edges.size(), 2u);
  ASSERT_EQ(drawing.circles.size(), 2u);
  // The places of the surface that lie furthest to either side of the axis as it is seen.
  const Vector2d from = project(plane, cylinder.from), to = project(plane, cylinder.to);
  const Vector2d along = (to - from).normalized(), across(-along.y(), along.x());
  const Vector3d axis = (cylinder.to - cylinder.from).normalized(), first = axis.unitOrthogonal();
  double furthest = 0.0;
  for (double angle = 0.0; angle < 6.2832; angle += 1e-4) {
    const Vector3d out = std::cos(angle) * first + std::sin(angle) * axis.cross(first);
    furthest = std::max(furthest, (project(plane, cylinder.from + 4.0 * out) - from).dot(across));
  }
  EXPECT_NEAR(std::abs((drawing.edges[0].from_mm - from).dot(across)), furthest, 1e-6);
  EXPECT_NEAR(furthest, 1.0, 1e-6);  // its radius at a quarter
}

TEST(Project, CovarianceScalesWithTheSquareOfTheFactor) {
  const DrawingPlane plane = *drawing_plane({0, 0, 0}, {0, 0, 1}, {0, 1, 0}, 0.5);
  const Eigen::Matrix3d covariance = Vector3d(0.04, 0.09, 9.0).asDiagonal();
  const Eigen::Matrix2d drawn = project_covariance(plane, covariance);
  EXPECT_NEAR(drawn(0, 0), 0.01, 1e-15);
  EXPECT_NEAR(drawn(1, 1), 0.0225, 1e-15);
}

TEST(Scaled, LeavesDirectionsAndSquaresCovariances) {
  const ShapeList list = testing_support::workshop_shapes();
  const ShapeList half = scaled(list, 0.5, "replica 1:2");
  EXPECT_NEAR(half.circles[0].radius, 30.0, 1e-12);
  EXPECT_NEAR((*half.circles[0].covariance)(6, 6), 0.25 * 0.25, 1e-12);
  EXPECT_NEAR((*half.circles[0].covariance)(3, 3), 1e-4, 1e-15);
  EXPECT_NEAR((*half.points[0].covariance)(1, 1), 0.09 / 4, 1e-12);
  EXPECT_EQ(half.scale, "replica 1:2");
}

// By hand: 1:48 ± 0.3 (u) drawn as 1:72 ± 0.6 (u). Relative: 0.3/48 = 0.00625, 0.6/72 = 0.008333…,
// together √(0.00625² + 0.0083333²) = 0.0104166…; r² = 1.0850694e-4. The factor is 48/72 = 2/3.
TEST(Project, TheRatiosOwnUncertaintyGrowsWithTheDistanceFromTheOrigin) {
  DrawingPlane plane = *drawing_plane({0, 0, 0}, {0, 0, 1}, {0, 1, 0}, 2.0 / 3.0);
  plane.factor_relative_u = std::hypot(0.3 / 48.0, 0.6 / 72.0);
  const Eigen::Matrix3d small = 0.09 * Eigen::Matrix3d::Identity();
  // At (300, −150) on the original, (200, −100) on paper: 4/9 · 0.09 = 0.04 mm² of the marks, and
  // r² · 200² = 4.3402778, r² · 100² = 1.0850694, r² · 200 · (−100) = −2.1701389 mm².
  const DrawnPoint point = project(plane, NamedPoint{"far", {300, -150, 7}, small});
  EXPECT_NEAR((*point.covariance_mm2)(0, 0), 0.04 + 4.3402778, 1e-6);
  EXPECT_NEAR((*point.covariance_mm2)(1, 1), 0.04 + 1.0850694, 1e-6);
  EXPECT_NEAR((*point.covariance_mm2)(0, 1), -2.1701389, 1e-6);
  // The length of an edge, 200 on paper: both ends move together, so that its variance is
  // 2 · 0.04 + r² · 200² however far from the origin it lies.
  const Eigen::Matrix<double, 6, 6> ends = 0.09 * Eigen::Matrix<double, 6, 6>::Identity();
  const DrawnSegment edge = project(plane, NamedEdge{"edge", {900, 0, 0}, {1200, 0, 0}, ends});
  const Eigen::Vector4d length(-1, 0, 1, 0);
  EXPECT_NEAR(length.dot(*edge.covariance_mm2 * length), 0.08 + 4.3402778, 1e-6);
  // A radius of 150 on the original, 100 on paper: √(4/9 · 0.09 + r² · 100²) = √1.1250694.
  Eigen::Matrix<double, 7, 7> rim = Eigen::Matrix<double, 7, 7>::Zero();
  rim(6, 6) = 0.09;
  const TemplateEllipse circle =
      project(plane, NamedCircle{"rim", {0, 0, 0}, {0, 0, 1}, 150.0, rim});
  EXPECT_NEAR(circle.u_radius_mm, 1.0606929, 1e-6);
  EXPECT_NEAR(circle.centre_covariance_mm2->norm(), 0.0, 1e-12);
  // Outlines of a cylinder of that radius with its axis through the origin: across as the radius,
  // at its ends, 200 from the origin, along as the point.
  TemplateDrawing drawing;
  add_cylinder(drawing, plane, {"boom", {-300, 0, 0}, {300, 0, 0}, 150.0, rim});
  int outlines = 0;
  for (const DrawnSegment& outline : drawing.edges) {
    if (outline.covariance_mm2) {
      ++outlines;
      EXPECT_NEAR((*outline.covariance_mm2)(1, 1), 0.04 + 1.0850694, 1e-6);
      EXPECT_NEAR((*outline.covariance_mm2)(0, 0), 4.3402778, 1e-6);
    }
  }
  EXPECT_EQ(outlines, 2);
}

// The same ratio, in the files of points: r² of the products of the lengths in each covariance.
TEST(Scaled, TheRatiosOwnUncertaintyIsCommonToAllLengths) {
  ShapeList list;
  const Eigen::Matrix3d small = 0.09 * Eigen::Matrix3d::Identity();
  list.points = {{"a", {300, 0, 0}, small}, {"b", {0, -150, 0}, small}};
  list.points_covariance = 0.09 * Eigen::MatrixXd::Identity(6, 6);
  Eigen::Matrix<double, 7, 7> rim = Eigen::Matrix<double, 7, 7>::Zero();
  rim(6, 6) = 0.09;
  rim(3, 3) = 1e-4;
  list.circles = {{"rim", {0, 0, 300}, {0, 0, 1}, 150.0, rim}};
  const double relative_u = std::hypot(0.3 / 48.0, 0.6 / 72.0);
  const ShapeList made = scaled(list, 2.0 / 3.0, "replica 1:72", relative_u);
  EXPECT_NEAR((*made.points[0].covariance)(0, 0), 0.04 + 4.3402778, 1e-6);
  EXPECT_NEAR((*made.points[0].covariance)(1, 1), 0.04, 1e-12);
  EXPECT_NEAR((*made.points_covariance)(0, 4), -2.1701389, 1e-6);
  EXPECT_NEAR((*made.circles[0].covariance)(6, 6), 0.04 + 1.0850694, 1e-6);
  EXPECT_NEAR((*made.circles[0].covariance)(2, 6), 2.1701389, 1e-6);
  EXPECT_NEAR((*made.circles[0].covariance)(3, 3), 1e-4, 1e-12);
}

TEST(LayOut, TheBandOfAnEdgeIsUWide) {
  TemplateDrawing drawing;
  drawing.edges = {{"edge", {0, 0}, {100, 0}, Eigen::Vector4d(1, 0.04, 1, 0.16).asDiagonal()}};
  drawing.k = 2.0;
  double at_from = 0.0, at_to = 0.0, at_middle = 1e9;
  for (const Stroke& stroke : lay_out(drawing).strokes) {
    if (stroke.layer == DrawingLayer::kUncertainty) {
      const auto& corners = std::get<PathStroke>(stroke.shape).corners_mm;
      at_from = std::abs(corners.front().y());
      at_to = std::abs(corners.back().y());
      at_middle = std::abs(corners[corners.size() / 2].y());
    }
  }
  EXPECT_NEAR(at_from, 2.0 * 0.2, 1e-12);
  EXPECT_NEAR(at_to, 2.0 * 0.4, 1e-12);
  EXPECT_NEAR(at_middle, 2.0 * std::sqrt(0.25 * 0.04 + 0.25 * 0.16), 1e-12);
}

}  // namespace
}  // namespace measure
