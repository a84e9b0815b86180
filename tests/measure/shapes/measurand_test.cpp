// What is asked of forms: values by hand; gradients and departures against differences, for many
// positions; and what has no answer.
#include "measure/shapes/measurand.h"

#include <cmath>
#include <functional>
#include <numbers>
#include <random>
#include <vector>

#include <Eigen/Geometry>
#include <gtest/gtest.h>

namespace measure {
namespace {

using Eigen::MatrixXd;
using Eigen::Vector3d;
using Forms = std::vector<Form>;
using Function = std::function<MeasurandResult(const Forms&)>;

constexpr double kPi = std::numbers::pi;

Vector3d random_direction(std::mt19937& random) {
  std::normal_distribution<double> normal;
  return Vector3d(normal(random), normal(random), normal(random)).normalized();
}

Form random_form(FormKind kind, std::mt19937& random) {
  std::uniform_real_distribution<double> coordinate(-100, 100);
  Form form{.kind = kind};
  form.position = {coordinate(random), coordinate(random), coordinate(random)};
  form.direction = random_direction(random);
  form.radius = 20 + 0.1 * coordinate(random);
  form.half_angle = 0.5 + 0.003 * coordinate(random);
  form.from = -30 + 0.1 * coordinate(random);
  form.to = 40 + 0.1 * coordinate(random);
  return form;
}

/// Numbers of the forms one by one; directions are made unit again, as the gradient is tangential.
Forms stepped(const Forms& forms, Eigen::Index number, double step) {
  Forms moved = forms;
  Form& form = moved[static_cast<std::size_t>(number / kFormSize)];
  FormVector numbers = vector(form);
  numbers[number % kFormSize] += step;
  form = with_vector(form, numbers);
  return moved;
}

void expect_gradient_at(const Function& function, const Forms& forms) {
  const auto at = function(forms);
  ASSERT_TRUE(at) << describe(at.error());
  const auto columns = kFormSize * static_cast<Eigen::Index>(forms.size());
  ASSERT_EQ(at->gradient.size(), columns);
  if (at->departure) {
    const Departure& departure = *at->departure;
    const double size = departure.size == Departure::Size::kLength
                            ? departure.vector.norm()
                            : departure.vector.cwiseAbs().maxCoeff();
    const double distance = departure.sine ? std::asin(std::min(1.0, size)) : size;
    EXPECT_NEAR(std::abs(at->value - departure.end), distance, 1e-12 * (1 + at->value))
        << "value = end ± size";
    ASSERT_EQ(departure.by_inputs.cols(), columns);
    ASSERT_EQ(departure.by_inputs.rows(), departure.vector.size());
  }
  for (Eigen::Index k = 0; k < columns; ++k) {
    const bool angle = k % kFormSize >= 3 && k % kFormSize != 6;
    const double step = angle ? 1e-6 : 1e-4;
    const auto high = function(stepped(forms, k, step)), low = function(stepped(forms, k, -step));
    ASSERT_TRUE(high && low);
    const double difference = (high->value - low->value) / (2 * step);
    // Truncation grows with the curvature, which the gradient's own size stands in for.
    const double tolerance = 2e-6 * (1 + std::abs(difference) + at->gradient.norm());
    EXPECT_NEAR(at->gradient[k], difference, tolerance) << "number " << k;
    if (!at->departure) continue;
    const Eigen::VectorXd turned = (high->departure->vector - low->departure->vector) / (2 * step);
    EXPECT_LT((at->departure->by_inputs.col(k) - turned).norm(), tolerance + 2e-6 * turned.norm())
        << "departure by number " << k;
  }
}

/// In random positions of forms of these kinds; `arrange` brings them into a range that the
/// function accepts.
void expect_gradient(const Function& function, const std::vector<FormKind>& kinds,
                     const std::function<void(Forms&, std::mt19937&)>& arrange = {}) {
  std::mt19937 random(static_cast<std::uint32_t>(31 + kinds.size()));
  for (int trial = 0; trial < 25; ++trial) {
    Forms forms;
    for (const FormKind kind : kinds) forms.push_back(random_form(kind, random));
    if (arrange) arrange(forms, random);
    expect_gradient_at(function, forms);
    if (testing::Test::HasFailure()) FAIL() << "trial " << trial;
  }
}

Forms points(const std::vector<Vector3d>& places) {
  Forms forms;
  for (const Vector3d& place : places) forms.push_back(point_form(place));
  return forms;
}
Form line(const Vector3d& place, const Vector3d& direction, double from = 0, double to = 0) {
  return {.kind = FormKind::kLine,
          .position = place,
          .direction = direction.normalized(),
          .from = from,
          .to = to};
}
Form plane(const Vector3d& place, const Vector3d& normal) {
  return {.kind = FormKind::kPlane, .position = place, .direction = normal.normalized()};
}

constexpr FormKind kPoint = FormKind::kPoint, kLine = FormKind::kLine, kPlane = FormKind::kPlane,
                   kCircle = FormKind::kCircle, kSphere = FormKind::kSphere,
                   kCylinder = FormKind::kCylinder, kCone = FormKind::kCone;

MeasurandResult distance_of(const Forms& f) { return distance(f[0], f[1]); }
MeasurandResult gap_of(const Forms& f) { return gap(f[0], f[1]); }
MeasurandResult angle_of(const Forms& f) { return angle_between(f[0], f[1]); }

TEST(Distance, HasTheGradientOfDifferences) {
  for (const auto& kinds : std::vector<std::vector<FormKind>>{{kPoint, kPoint},
                                                              {kCircle, kCone},
                                                              {kPoint, kLine},
                                                              {kCylinder, kSphere},
                                                              {kPoint, kPlane},
                                                              {kPlane, kCircle},
                                                              {kLine, kLine},
                                                              {kLine, kCylinder}})
    expect_gradient(distance_of, kinds);
  // Nearly parallel lines, half a degree.
  expect_gradient(distance_of, {kLine, kLine}, [](Forms& f, std::mt19937& random) {
    f[1].direction = (f[0].direction + 0.005 * random_direction(random)).normalized();
  });
}

TEST(Distance, IsMeasuredAtRightAngles) {
  const Form p = point_form({3, 4, 12});
  EXPECT_NEAR(distance(p, point_form({0, 0, 0}))->value, 13, 1e-14);
  EXPECT_NEAR(distance(p, line({0, 0, 100}, {0, 0, 1}))->value, 5, 1e-14);
  EXPECT_NEAR(distance(plane({0, 0, 20}, {0, 0, 1}), p)->value, 8, 1e-14);
  // Skew lines 7 apart; parallel ones; ones that cross.
  EXPECT_NEAR(distance(line({5, 0, 0}, {1, 0, 0}), line({0, 9, 7}, {0, 1, 0}))->value, 7, 1e-14);
  EXPECT_NEAR(distance(line({5, 0, 0}, {1, 0, 0}), line({0, 3, 4}, {-1, 0, 0}))->value, 5, 1e-14);
  EXPECT_NEAR(distance(line({5, 0, 0}, {1, 0, 0}), line({0, 9, 0}, {0, 1, 0}))->value, 0, 1e-14);
  EXPECT_EQ(distance(p, p)->value, 0);
  EXPECT_TRUE(distance(p, p)->gradient.isZero());
  EXPECT_TRUE(distance(p, p)->departure->vector.isZero());
}

TEST(Distance, OfNearlyParallelLinesIsThatInTheMiddleOfTheSecond) {
  // Marked from 100 to 200 along itself, where it has come 0.005 × 150 nearer.
  const Form a = line({0, 0, 0}, {1, 0, 0}), b = line({0, 10, 0}, {1, -0.005, 0}, 100, 200);
  const auto between = distance(a, b);
  ASSERT_TRUE(between);
  EXPECT_NEAR(between->value, 10 - 0.75, 1e-4);
  EXPECT_NE(between->note, "");
}

TEST(Distance, OfAPlaneNeedsAPlace) {
  for (const FormKind kind : {kLine, kPlane, kCylinder}) {
    const auto refused = distance(Form{.kind = kind}, Form{.kind = kPlane});
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error(), ShapeError::kDistanceNeedsGap);
  }
}

TEST(Along, HasTheGradientOfDifferences) {
  for (const FormKind axis : {kLine, kPlane, kCylinder, kCone})
    expect_gradient([](const Forms& f) { return along(f[0], f[1], f[2]); },
                    {kPoint, kSphere, axis});
  EXPECT_NEAR(
      along(point_form({9, 1, 4}), point_form({0, 0, -3}), line({0, 0, 0}, {0, 0, 2}))->value, -7,
      1e-14);
  EXPECT_EQ(along(Form{.kind = kLine}, Form{}, Form{.kind = kLine}).error(),
            ShapeError::kNeedsPlace);
  EXPECT_EQ(along(Form{}, Form{}, Form{.kind = kSphere}).error(), ShapeError::kNeedsDirection);
}

TEST(OffsetPlane, IsSigned) {
  expect_gradient([](const Forms& f) { return offset_plane(f[0], f[1]); }, {kPoint, kPlane});
  expect_gradient([](const Forms& f) { return offset_plane(f[0], f[1]); }, {kSphere, kCircle});
  const Form floor = plane({1, 1, 5}, {0, 0, 1});
  EXPECT_NEAR(offset_plane(point_form({7, 7, 2}), floor)->value, -3, 1e-14);
  EXPECT_FALSE(offset_plane(point_form({7, 7, 2}), floor)->departure);
  EXPECT_EQ(offset_plane(floor, floor).error(), ShapeError::kNeedsPlace);
  EXPECT_EQ(offset_plane(Form{}, Form{}).error(), ShapeError::kNeedsPlane);
}

TEST(Gap, HasTheGradientOfDifferences) {
  const auto along_each_other = [](Forms& f, std::mt19937& random) {
    const double sign = random() % 2 == 0 ? 1 : -1;
    f[1].direction = (sign * f[0].direction + 0.1 * random_direction(random)).normalized();
  };
  expect_gradient(gap_of, {kPlane, kPlane}, along_each_other);
  expect_gradient(gap_of, {kCircle, kPlane}, along_each_other);
  expect_gradient(gap_of, {kLine, kCylinder}, along_each_other);
  const auto line_along_plane = [](Forms& f, std::mt19937& random) {
    f[1].direction =
        (f[0].direction.unitOrthogonal() + 0.1 * random_direction(random)).normalized();
  };
  expect_gradient(gap_of, {kPlane, kLine}, line_along_plane);
  expect_gradient(gap_of, {kCylinder, kPlane}, line_along_plane);
}

TEST(Gap, IsTakenBetweenTheMiddlesOfBoth) {
  EXPECT_NEAR(gap(plane({0, 0, 0}, {0, 0, 1}), plane({40, 3, 12}, {0, 0, -1}))->value, 12, 1e-14);
  // A wedge of 2°, symmetric about z = 0, whose places lie 50 from its edge.
  const double half = kPi / 180;
  const Form low =
      plane({50 * std::cos(half), 0, -50 * std::sin(half)}, {std::sin(half), 0, std::cos(half)});
  const Form high =
      plane({50 * std::cos(half), 0, 50 * std::sin(half)}, {-std::sin(half), 0, std::cos(half)});
  EXPECT_NEAR(gap(low, high)->value, 100 * std::sin(half), 1e-12);
  EXPECT_NEAR(gap(high, low)->value, 100 * std::sin(half), 1e-12);
  EXPECT_NEAR(gap(line({0, 0, 0}, {1, 0, 0}), line({70, 3, 4}, {-1, 0, 0}))->value, 5, 1e-14);
  EXPECT_NEAR(gap(line({0, 0, 6}, {1, 0, 0}), plane({9, 9, 2}, {0, 0, 1}))->value, 4, 1e-14);
  // What was marked counts: the middle of the second line lies at x = 100, 1 higher per 10.
  const Form rising = line({0, 0, 10}, {10, 0, 1}, 0, 200 * std::sqrt(1.01));
  const Form flat = line({100, 0, 0}, {1, 0, 0});
  EXPECT_NEAR(gap(flat, rising)->value, 20, 0.03);  // cos of half of 5.7°
}

TEST(Gap, IsRefusedWhereThereIsNone) {
  const Form a = plane({0, 0, 0}, {0, 0, 1}), tilted = plane({0, 0, 9}, {0, 0.2, 1});
  EXPECT_EQ(gap(a, tilted).error(), ShapeError::kGapNotParallel);
  EXPECT_EQ(gap(line({0, 0, 0}, {1, 0, 0}), line({0, 0, 1}, {1, 1, 0})).error(),
            ShapeError::kGapNotParallel);
  EXPECT_EQ(gap(line({0, 0, 0}, {1, 0, 1}), a).error(), ShapeError::kGapNotParallel);
  EXPECT_EQ(gap(Form{}, a).error(), ShapeError::kGapNeedsStraight);
  EXPECT_EQ(gap(a, Form{.kind = kCone}).error(), ShapeError::kGapNeedsStraight);
}

TEST(AngleBetween, HasTheGradientOfDifferences) {
  for (const auto& kinds : std::vector<std::vector<FormKind>>{{kLine, kLine},
                                                              {kPlane, kPlane},
                                                              {kLine, kPlane},
                                                              {kCircle, kCylinder},
                                                              {kCone, kCircle}}) {
    expect_gradient(angle_of, kinds);
    // Near both ends.
    for (const double lean : {0.01, 0.02}) {
      expect_gradient(angle_of, kinds, [&](Forms& f, std::mt19937& random) {
        f[1].direction = (-f[0].direction + lean * random_direction(random)).normalized();
      });
      expect_gradient(angle_of, kinds, [&](Forms& f, std::mt19937& random) {
        f[1].direction =
            (f[0].direction.unitOrthogonal() + lean * random_direction(random)).normalized();
      });
    }
  }
}

TEST(AngleBetween, IsNeverObtuse) {
  const Form x = line({0, 0, 0}, {1, 0, 0});
  const Vector3d at_30(std::cos(kPi / 6), std::sin(kPi / 6), 0);
  EXPECT_NEAR(angle_between(x, line({5, 5, 5}, at_30))->value, kPi / 6, 1e-15);
  EXPECT_NEAR(angle_between(x, line({5, 5, 5}, -at_30))->value, kPi / 6, 1e-15);
  // A line from a plane: 30° from the direction is 60° from the plane at right angles to x.
  EXPECT_NEAR(angle_between(line({5, 5, 5}, at_30), plane({0, 0, 0}, {1, 0, 0}))->value, kPi / 3,
              1e-15);
  EXPECT_NEAR(angle_between(x, line({0, 0, 1}, {0, 1, 0}))->value, kPi / 2, 1e-15);
  const auto none = angle_between(x, x);
  EXPECT_EQ(none->value, 0);
  EXPECT_EQ(none->departure->end, 0);
  EXPECT_EQ(none->length_exponent, 0);
  EXPECT_TRUE(none->gradient.allFinite());
  EXPECT_EQ(angle_between(x, line({0, 0, 1}, {0, 1, 0}))->departure->end, kPi / 2);
  EXPECT_EQ(angle_between(x, Form{}).error(), ShapeError::kAngleNeedsDirection);
}

TEST(AngleAt, HasTheGradientOfDifferences) {
  const auto angle = [](const Forms& f) { return angle_at(f[0], f[1], f[2]); };
  expect_gradient(angle, {kPoint, kCircle, kSphere});
  // Nearly straight: the end at 180°.
  expect_gradient(angle, {kPoint, kPoint, kPoint}, [](Forms& f, std::mt19937& random) {
    f[1].position = 0.5 * (f[0].position + f[2].position) + random_direction(random);
  });
  const Forms corner = points({{5, 0, 0}, {0, 0, 0}, {-3, 3, 0}});
  EXPECT_NEAR(angle(corner)->value, 0.75 * kPi, 1e-15);
  EXPECT_NEAR(angle(corner)->departure->end, kPi, 1e-15);
  EXPECT_EQ(angle(points({{1, 2, 3}, {1, 2, 3}, {0, 0, 0}})).error(),
            ShapeError::kAxisWithoutLength);
  EXPECT_EQ(angle_at(Form{}, Form{.kind = kLine}, Form{}).error(), ShapeError::kNeedsPlace);
}

TEST(Round, GivesRadiusDiameterAndConeAngle) {
  for (const FormKind kind : {kCircle, kSphere, kCylinder}) {
    expect_gradient([](const Forms& f) { return radius(f[0]); }, {kind});
    expect_gradient([](const Forms& f) { return diameter(f[0]); }, {kind});
  }
  expect_gradient([](const Forms& f) { return cone_angle(f[0]); }, {kCone});
  EXPECT_EQ(diameter(Form{.kind = kCircle, .radius = 4})->value, 8);
  EXPECT_EQ(cone_angle(Form{.kind = kCone, .half_angle = 0.25})->value, 0.5);
  EXPECT_EQ(radius(Form{.kind = kCone}).error(), ShapeError::kNeedsRound);
  EXPECT_EQ(cone_angle(Form{.kind = kCircle}).error(), ShapeError::kNeedsCone);
}

TEST(ChainLength, HasTheGradientOfDifferences) {
  const auto chain = [](const Forms& f) { return chain_length(f); };
  expect_gradient(chain, {kPoint, kPoint});
  expect_gradient(chain, {kPoint, kCircle, kPoint, kSphere, kPoint});
  EXPECT_NEAR(chain(points({{0, 0, 0}, {3, 4, 0}, {3, 4, 12}}))->value, 17, 1e-14);
  EXPECT_EQ(chain(points({{0, 0, 0}})).error(), ShapeError::kChainTooShort);
}

/// A circle and three places near its rim, at these turns.
Forms on_rim(std::mt19937& random, double from, double to, double via) {
  Forms forms{random_form(kCircle, random)};
  const Form circle = forms[0];
  const Vector3d u = circle.direction.unitOrthogonal(), v = circle.direction.cross(u);
  for (const double turn : {from, to, via})
    forms.push_back(point_form(circle.position +
                               1.1 * circle.radius * (std::cos(turn) * u + std::sin(turn) * v) +
                               2 * random_direction(random)));
  return forms;
}

TEST(ArcLength, HasTheGradientOfDifferences) {
  std::mt19937 random(8);
  std::uniform_real_distribution<double> turn(0.3, 2.5), beyond(3.5, 5.5);
  for (int trial = 0; trial < 20; ++trial) {
    for (const double to : {turn(random), -turn(random), 0.02, -0.01})
      expect_gradient_at([](const Forms& f) { return arc_length(f[0], f[1], f[2]); },
                         [&] {
                           auto f = on_rim(random, 0, to, 0);
                           f.pop_back();
                           return f;
                         }());
    for (const auto& [to, via] :
         {std::pair(turn(random), beyond(random)), std::pair(beyond(random), turn(random))})
      expect_gradient_at([](const Forms& f) { return arc_length(f[0], f[1], f[2], &f[3]); },
                         on_rim(random, 0, to, via));
  }
}

TEST(ArcLength, GoesByWayOfThePointOrTheShorterWay) {
  const Form circle{.kind = kCircle, .radius = 10};
  const auto rim = [](double degrees) {
    const double turn = degrees * kPi / 180;
    return point_form({12 * std::cos(turn), 12 * std::sin(turn), 3});
  };
  const auto degrees = [](double arc) { return arc * 10 * kPi / 180; };
  const Form mid = rim(45), far = rim(200), last = rim(359);
  EXPECT_NEAR(arc_length(circle, rim(0), rim(90))->value, degrees(90), 1e-13);
  EXPECT_NEAR(arc_length(circle, rim(0), rim(270))->value, degrees(90), 1e-13);
  EXPECT_NEAR(arc_length(circle, rim(0), rim(90), &mid)->value, degrees(90), 1e-13);
  EXPECT_NEAR(arc_length(circle, rim(0), rim(90), &far)->value, degrees(270), 1e-13);
  EXPECT_NEAR(arc_length(circle, rim(0), rim(270), &mid)->value, degrees(270), 1e-13);
  EXPECT_NEAR(arc_length(circle, rim(270), rim(0), &mid)->value, degrees(270), 1e-13);
  // All round, the ends on either side of each other.
  EXPECT_NEAR(arc_length(circle, rim(0), rim(0.01), &far)->value, degrees(359.99), 1e-12);
  EXPECT_NEAR(arc_length(circle, rim(0), rim(359.99), &far)->value, degrees(359.99), 1e-12);
  EXPECT_EQ(arc_length(circle, rim(0), rim(180)).error(), ShapeError::kArcHalfTurn);
  EXPECT_EQ(arc_length(circle, rim(0), rim(90), &last).error(), ShapeError::kArcViaAtEnd);
  EXPECT_EQ(arc_length(circle, rim(0), point_form({0, 0, 9})).error(),
            ShapeError::kArcPointAtCentre);
  EXPECT_EQ(arc_length(Form{.kind = kSphere}, rim(0), rim(9)).error(), ShapeError::kNeedsCircle);
}

/// Places roughly in a row along a random direction.
void in_a_row(Forms& f, std::mt19937& random) {
  const Vector3d along = random_direction(random);
  for (std::size_t i = 0; i < f.size(); ++i)
    f[i].position = f[0].position + 12.0 * double(i) * along + 2 * random_direction(random);
}

TEST(Row, HasTheGradientOfDifferences) {
  const std::vector<FormKind> kinds{kPoint, kCircle, kPoint, kPoint, kSphere, kPoint};
  expect_gradient([](const Forms& f) { return row_pitch(f); }, kinds, in_a_row);
  expect_gradient([](const Forms& f) { return row_departure(f); }, kinds, in_a_row);
}

TEST(Row, FindsPitchAndTheOneThatIsOff) {
  // Pitch 10 along (3, 4, 0)/5; the fourth of seven stands 0.7 too far, in the middle of the row:
  // the mean moves by 0.1, the pitch not at all.
  const Vector3d along(0.6, 0.8, 0);
  std::vector<Vector3d> places;
  for (int i = 0; i < 7; ++i)
    places.push_back(Vector3d(5, 5, 5) + (10.0 * i + (i == 3 ? 0.7 : 0)) * along);
  EXPECT_NEAR(row_pitch(points(places))->value, 10, 1e-12);
  const auto off = row_departure(points(places));
  ASSERT_TRUE(off);
  EXPECT_NEAR(off->value, 0.6, 1e-12);
  EXPECT_EQ(off->at, 3U);
  EXPECT_NE(off->note.find("number 4"), std::string::npos);
  EXPECT_NEAR(off->departure->vector[0], -0.1, 1e-12);
  places.resize(2);
  EXPECT_EQ(row_pitch(points(places)).error(), ShapeError::kRowTooShort);
  EXPECT_EQ(row_pitch(points({{1, 1, 1}, {1, 1, 1}, {1, 1, 1}})).error(),
            ShapeError::kRowInOnePlace);
  EXPECT_EQ(row_departure(points({{0, 0, 0}, {20, 0, 0}, {10, 0, 0}})).error(),
            ShapeError::kRowInOnePlace);
}

TEST(OutlineArea, HasTheGradientOfDifferences) {
  expect_gradient([](const Forms& f) { return outline_area(f); }, {kPoint, kPoint, kPoint});
  // A rough pentagon, not quite flat.
  expect_gradient(
      [](const Forms& f) { return outline_area(f); }, {kPoint, kPoint, kCircle, kPoint, kPoint},
      [](Forms& f, std::mt19937& random) {
        const Form axis = random_form(kCircle, random);
        const Vector3d u = axis.direction.unitOrthogonal();
        const Vector3d v = axis.direction.cross(u);
        for (std::size_t i = 0; i < f.size(); ++i)
          f[i].position = axis.position + 5 * random_direction(random) +
                          40 * (std::cos(1.257 * double(i)) * u + std::sin(1.257 * double(i)) * v);
      });
}

TEST(OutlineArea, IsThatOfTheFlatOutline) {
  // An L of 3 × 2 less 1 × 1, in a sloping plane.
  const Eigen::Matrix3d turn =
      Eigen::AngleAxisd(0.7, Vector3d(1, 2, 3).normalized()).toRotationMatrix();
  std::vector<Vector3d> corners;
  for (const auto& p :
       std::vector<Vector3d>{{0, 0, 0}, {3, 0, 0}, {3, 1, 0}, {2, 1, 0}, {2, 2, 0}, {0, 2, 0}})
    corners.push_back(turn * p + Vector3d(100, -50, 20));
  const auto area = outline_area(points(corners));
  ASSERT_TRUE(area) << describe(area.error());
  EXPECT_NEAR(area->value, 5, 1e-12);
  EXPECT_EQ(area->length_exponent, 2);
  std::swap(corners[1], corners[4]);
  EXPECT_EQ(outline_area(points(corners)).error(), ShapeError::kOutlineCrossesItself);
  EXPECT_EQ(outline_area(points({{0, 0, 0}, {2, 2, 0}, {2, 0, 0}, {0, 2, 0}})).error(),
            ShapeError::kOutlineCrossesItself);
  EXPECT_EQ(outline_area(points({{0, 0, 0}, {1, 1, 1}, {3, 3, 3}})).error(),
            ShapeError::kOutlineWithoutArea);
  // There and back again.
  EXPECT_EQ(outline_area(points({{0, 0, 0}, {4, 0, 0}, {4, 3, 0}, {4, 0, 0}})).error(),
            ShapeError::kOutlineWithoutArea);
  EXPECT_EQ(outline_area(points({{0, 0, 0}, {1, 1, 1}})).error(), ShapeError::kOutlineTooFew);
}

TEST(Ordinate, HasTheGradientOfDifferences) {
  for (const AxisName which : {AxisName::kX, AxisName::kY, AxisName::kZ})
    expect_gradient(
        [&](const Forms& f) {
          return ordinate(f[0], {f[1], f[2], f[3]}, which);
        },
        {kPoint, kPlane, kLine, kPoint},
        [](Forms& f, std::mt19937& random) {
          f[2].direction =
              (f[1].direction.unitOrthogonal() + 0.3 * random_direction(random)).normalized();
        });
}

TEST(Ordinate, IsMeasuredFromPlaneLineAndOrigin) {
  // Waterline z = 10; centre line rising through (0, 2, ·) along x; origin at x = 4, anywhere.
  const AxesForms axes{plane({9, 9, 10}, {0, 0, 1}), line({0, 2, 30}, {1, 0, 0.2}),
                       point_form({4, -7, 99})};
  const Form p = point_form({11, 5, 3});
  EXPECT_NEAR(ordinate(p, axes, AxisName::kX)->value, 7, 1e-14);
  EXPECT_NEAR(ordinate(p, axes, AxisName::kY)->value, 3, 1e-14);
  EXPECT_NEAR(ordinate(p, axes, AxisName::kZ)->value, -7, 1e-14);
  AxesForms across = axes;
  across.line.direction = Vector3d(0.1, 0, 1).normalized();
  EXPECT_EQ(ordinate(p, across, AxisName::kX).error(), ShapeError::kAxesLineAcross);
  across.line.kind = kPoint;
  EXPECT_EQ(ordinate(p, across, AxisName::kX).error(), ShapeError::kNeedsDirection);
  EXPECT_EQ(ordinate(axes.line, axes, AxisName::kX).error(), ShapeError::kNeedsPlace);
  EXPECT_EQ(ordinate(p, {p, axes.line, p}, AxisName::kX).error(), ShapeError::kNeedsPlane);
}

TEST(MirrorDeparture, HasTheGradientOfDifferences) {
  const auto departure = [](const Forms& f) { return mirror_departure(f[0], f[1], f[2]); };
  expect_gradient(departure, {kPoint, kPoint, kPlane});
  const Forms pair{point_form({3, 1, 2}), point_form({-1, 1, 2.5}), plane({1, 8, 8}, {1, 0, 0})};
  EXPECT_NEAR(departure(pair)->value, 0.5, 1e-14);
  EXPECT_NEAR(departure(pair)->departure->vector[2], -0.5, 1e-14);
  EXPECT_EQ(mirror_departure(pair[2], pair[1], pair[2]).error(), ShapeError::kNeedsPlace);
  EXPECT_EQ(mirror_departure(pair[0], pair[1], pair[1]).error(), ShapeError::kNeedsPlane);
}

TEST(Departure, RunsStraightThroughTheEnd) {
  // As a point moves through the other, the value turns round and the vector does not.
  for (const double x : {-0.3, -0.1, 0.0, 0.2}) {
    const auto near = distance(point_form({0, 0, 0}), point_form({x, 0, 0}));
    EXPECT_NEAR(near->departure->vector[0], x, 1e-15);
    const auto line_plane = angle_between(line({0, 0, 0}, {1, 0, x}), plane({0, 0, 0}, {0, 0, 1}));
    EXPECT_NEAR(line_plane->departure->vector[0], x / std::hypot(1, x), 1e-15);
    const auto square = angle_between(line({0, 0, 0}, {1, 0, 0}), line({0, 0, 0}, {x, 1, 0}));
    EXPECT_NEAR(square->departure->vector[0], x / std::hypot(1, x), 1e-15);
    EXPECT_NEAR(square->departure->end, kPi / 2, 1e-15);
  }
}

TEST(DescribeShapeError, GivesEveryErrorItsOwnSentence) {
  std::vector<std::string> sentences;
  for (int i = 0; i <= static_cast<int>(ShapeError::kAxesLineAcross); ++i)
    sentences.push_back(describe(static_cast<ShapeError>(i)));
  for (std::size_t i = 0; i < sentences.size(); ++i) {
    EXPECT_GT(sentences[i].size(), 15U) << i;
    for (std::size_t j = 0; j < i; ++j) EXPECT_NE(sentences[i], sentences[j]);
  }
}

}  // namespace
}  // namespace measure
