// Forms fitted to points: cases built from their answer, a published one, and what must hold for
// every kind.
#include "measure/shapes/fit_form.h"

#include <cmath>
#include <numbers>

#include <Eigen/Geometry>
#include <gtest/gtest.h>

#include "measure/dossier/dossier.h"
#include "measure/shapes/construct.h"
#include "measure/shapes/measurand.h"
#include "tests/support/shape_points.h"

namespace measure {
namespace {

using Eigen::MatrixXd;
using Eigen::Vector3d;
using Eigen::VectorXd;
using testing_support::kFittedKinds;
using testing_support::make_shape_points;
using testing_support::PointList;

class EveryKind : public testing::TestWithParam<FormKind> {};

std::string kind_name(const testing::TestParamInfo<FormKind>& info) {
  return form_word(info.param);
}
INSTANTIATE_TEST_SUITE_P(FitForm, EveryKind, testing::ValuesIn(kFittedKinds), kind_name);

TEST_P(EveryKind, IsFoundThroughPointsThatLieOnIt) {
  for (std::uint32_t seed = 1; seed <= 40; ++seed) {
    const auto shape = make_shape_points(GetParam(), 12, seed);
    const auto fit = fit_form(GetParam(), {.points = shape.points});
    ASSERT_TRUE(fit) << "seed " << seed << ": " << describe(fit.error());
    // Coordinates of 300 carry 1e-13 of rounding; the apex of a narrow cone magnifies it most.
    EXPECT_LT(fit->departures.cwiseAbs().maxCoeff(), 1e-10) << seed;
    EXPECT_NEAR(fit->form.radius, shape.truth.radius, 1e-9) << seed;
    EXPECT_NEAR(fit->form.half_angle, shape.truth.half_angle, 1e-10) << seed;
    if (GetParam() != FormKind::kSphere) {
      EXPECT_LT(fit->form.direction.cross(shape.truth.direction).norm(), 1e-10) << seed;
    }
    if (is_place(GetParam())) {
      EXPECT_LT((fit->form.position - shape.truth.position).norm(), 1e-8) << seed;
    }
    EXPECT_FALSE(fit->test);
    EXPECT_TRUE(fit->definition_covariance.isZero());
  }
}

TEST_P(EveryKind, FollowsItsPointsAsDifferencesDo) {
  for (const bool weighted : {false, true}) {
    const auto shape = make_shape_points(GetParam(), 10, 77);
    FitInput input{.points = shape.points};
    if (weighted) input.covariance = testing_support::correlated_covariance(shape.points, 0.01, 3);
    const auto fit = fit_form(GetParam(), input);
    ASSERT_TRUE(fit);
    for (Eigen::Index k = 0; k < 3 * 10; ++k) {
      constexpr double kStep = 1e-4;  // of 60: truncation below 1e-9, rounding near 1e-9
      FormVector ends[2];
      for (int side = 0; side < 2; ++side) {
        PointList moved = shape.points;
        moved[static_cast<std::size_t>(k / 3)][k % 3] += side == 0 ? -kStep : kStep;
        FitInput there = input;
        there.points = moved;
        const auto other = fit_form(GetParam(), there);
        ASSERT_TRUE(other) << describe(other.error());
        ends[side] = vector(other->form);
      }
      const FormVector difference = (ends[1] - ends[0]) / (2 * kStep);
      EXPECT_LT((fit->by_points.col(k) - difference).norm(), 1e-6 * (1 + difference.norm()))
          << "coordinate " << k << (weighted ? ", weighted" : ", alike") << "\n"
          << fit->by_points.col(k).transpose() << "\n"
          << difference.transpose();
    }
  }
}

/// Weights of a datum that holds three coordinates of one point, all but one of a second, …: seven.
VectorXd seven_held(Eigen::Index points, Eigen::Index a, Eigen::Index b, Eigen::Index c) {
  VectorXd weights = VectorXd::Zero(3 * points);
  weights.segment<3>(3 * a).setOnes();
  weights.segment<3>(3 * b).setOnes();
  weights[3 * c + 2] = 1;
  return weights;
}

TEST_P(EveryKind, DependsOnNoDatum) {
  auto shape = make_shape_points(GetParam(), 11, 5);
  const MatrixXd covariance = [&] {
    PointList all = shape.points;
    all.push_back(shape.truth.position + Vector3d(50, -80, 30));
    all.push_back(shape.truth.position + Vector3d(-60, 20, 90));
    return testing_support::correlated_covariance(all, 0.2, 9);
  }();
  std::mt19937 random(11);
  PointList all = shape.points;
  all.push_back(shape.truth.position + Vector3d(50, -80, 30));
  all.push_back(shape.truth.position + Vector3d(-60, 20, 90));
  all = testing_support::Draws(covariance).moved(all, random);
  // One point well off: the form test rejects, and form_sigma has its part too.
  for (const double dent : {0.0, 3.0}) {
    const Vector3d off = shape.points[4] - shape.truth.position;
    all[4] += dent * (off - off.dot(shape.truth.direction) * shape.truth.direction).normalized() +
              dent * shape.truth.direction;
    const auto n = static_cast<Eigen::Index>(all.size());
    const Eigen::Index own = n - 2;
    std::vector<VectorXd> datums{VectorXd::Ones(3 * n), seven_held(n, 0, n - 1, 5),
                                 seven_held(n, 3, 8, n - 2)};
    std::vector<FittedForm> fits;
    std::vector<double> variances[3];
    for (const VectorXd& weights : datums) {
      const MatrixXd here = testing_support::in_datum(covariance, all, weights);
      const auto fit =
          fit_form(GetParam(), {.points = std::span(all).first(static_cast<std::size_t>(own)),
                                .covariance = here.topLeftCorner(3 * own, 3 * own)});
      ASSERT_TRUE(fit) << describe(fit.error());
      ASSERT_TRUE(fit->test);
      EXPECT_EQ(fit->test->within, dent == 0.0);
      // What is asked of the form and of two points beside it.
      const Form one = point_form(all[all.size() - 2]), other = point_form(all.back());
      const auto far_one = distance(one, fit->form), far_other = distance(fit->form, other);
      ASSERT_TRUE(far_one && far_other);
      Eigen::RowVectorXd by_one = Eigen::RowVectorXd::Zero(3 * n), by_other = by_one;
      by_one.head(3 * own) = far_one->gradient.tail<8>() * fit->by_points;
      by_one.segment<3>(3 * own) = far_one->gradient.head<3>();
      by_other.head(3 * own) = far_other->gradient.head<8>() * fit->by_points;
      by_other.tail<3>() = far_other->gradient.segment<3>(8);
      // A ratio: distances carry the scale, which each datum holds in another way.
      const Eigen::RowVectorXd ratio = by_one / far_one->value - by_other / far_other->value;
      auto& list = variances[fits.size()];
      list.push_back(ratio * here * ratio.transpose());
      for (Eigen::Index i = 0; i < fit->departures.size(); ++i)
        list.push_back(fit->u_departures[i]);
      fits.push_back(*fit);
    }
    for (std::size_t k = 1; k < 3; ++k) {
      EXPECT_LT((vector(fits[k].form) - vector(fits[0].form)).norm(), 1e-8);
      EXPECT_NEAR(fits[k].test->statistic, fits[0].test->statistic, 1e-7 * fits[0].test->statistic);
      EXPECT_NEAR(fits[k].test->form_sigma, fits[0].test->form_sigma,
                  1e-7 * fits[0].test->form_sigma);
      EXPECT_NEAR(variances[k][0], variances[0][0], 1e-6 * variances[0][0]) << "datum " << k;
      // Departures of some 0.2 grow with the scale, which is known to 0.5 % in the worst of these
      // datums: beside their own u of 0.1 it shows by a percent.
      for (std::size_t i = 1; dent == 0 && i < variances[k].size(); ++i)
        EXPECT_NEAR(variances[k][i], variances[0][i], 1e-2 * variances[0][i]) << i;
    }
  }
}

TEST_P(EveryKind, KeepsNoMotionOfTheWholeToItself) {
  // Moving, turning and scaling all points does the same to the form, also where they are noisy.
  auto shape = make_shape_points(GetParam(), 9, 21);
  std::mt19937 random(2);
  std::normal_distribution<double> normal;
  for (auto& point : shape.points)
    for (double& x : point) x += 0.3 * normal(random);
  const MatrixXd covariance = testing_support::correlated_covariance(shape.points, 0.3, 4);
  const auto fit = fit_form(GetParam(), {.points = shape.points, .covariance = covariance});
  ASSERT_TRUE(fit) << describe(fit.error());
  const Eigen::Matrix3d turn =
      Eigen::AngleAxisd(1.1, Vector3d(2, -1, 0.7).normalized()).toRotationMatrix();
  const double scale = 1.7;
  PointList moved;
  for (const auto& point : shape.points)
    moved.push_back(scale * turn * point + Vector3d(10, -200, 30));
  MatrixXd all = MatrixXd::Zero(27, 27);
  for (int j = 0; j < 9; ++j) all.block<3, 3>(3 * j, 3 * j) = scale * turn;
  const auto other =
      fit_form(GetParam(), {.points = moved, .covariance = all * covariance * all.transpose()});
  ASSERT_TRUE(other);
  EXPECT_LT(
      (other->form.position - (scale * turn * fit->form.position + Vector3d(10, -200, 30))).norm(),
      1e-6);
  if (GetParam() != FormKind::kSphere) {
    EXPECT_LT((other->form.direction - turn * fit->form.direction).norm(), 1e-9);
  }
  EXPECT_NEAR(other->form.radius, scale * fit->form.radius, 1e-7);
  EXPECT_NEAR(other->test->statistic, fit->test->statistic, 1e-6 * fit->test->statistic);
  EXPECT_NEAR(other->test->deviation, scale * fit->test->deviation, 1e-7);
}

TEST(FitCircle, GivesThePublishedGeometricFit) {
  // W. Gander, G. H. Golub & R. Strebel, Least-squares fitting of circles and ellipses, BIT 34
  // (1994) 558–578: six points; centre (4.7398, 2.9835), radius 4.7142, to half a last digit.
  // Standard deviations, s² = RSS/3: recomputed independently, not published.
  const PointList points{{1, 7, 0}, {2, 6, 0}, {5, 8, 0}, {7, 7, 0}, {9, 5, 0}, {3, 7, 0}};
  const auto fit = fit_form(FormKind::kCircle, {.points = points});
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->form.position.x(), 4.7398, 5e-5);
  EXPECT_NEAR(fit->form.position.y(), 2.9835, 5e-5);
  EXPECT_NEAR(fit->form.position.z(), 0, 1e-12);
  EXPECT_NEAR(fit->form.radius, 4.7142, 5e-5);
  EXPECT_NEAR(fit->departures.norm(), 1.107971, 5e-7);
  const double s = fit->departures.norm() / std::sqrt(3.0);
  // Points of variance s² in every coordinate.
  const MatrixXd covariance = s * s * fit->by_points * fit->by_points.transpose();
  EXPECT_NEAR(std::sqrt(covariance(0, 0)), 0.4776, 5e-5);
  EXPECT_NEAR(std::sqrt(covariance(1, 1)), 1.5429, 5e-5);
  EXPECT_NEAR(std::sqrt(covariance(6, 6)), 1.2243, 5e-5);
}

TEST(FitForm, WithoutACovarianceTakesAllPointsAlike) {
  // Offsets +1, −1, +1, −1 at the corners of a rectangle are at right angles to every plane.
  const PointList corners{{-30, -20, 1}, {30, -20, -1}, {30, 20, 1}, {-30, 20, -1}};
  for (const MatrixXd& covariance : {MatrixXd(), MatrixXd(MatrixXd::Zero(12, 12))}) {
    const auto plane = fit_form(FormKind::kPlane, {.points = corners, .covariance = covariance});
    ASSERT_TRUE(plane);
    EXPECT_NEAR(plane->form.direction.z(), 1, 1e-14);
    EXPECT_NEAR(plane->departures[0], 1, 1e-13);
    EXPECT_NEAR(plane->departures[1], -1, 1e-13);
    EXPECT_FALSE(plane->test);
  }
}

TEST(FitForm, TellsFormFromMeasurement) {
  // The same rectangle twisted by ±1: with an error bar of 1 it is flat within it, with 0.1 it is
  // not. Ω = Σ offset²/σ² = 4/σ², one degree of freedom, but that the offsets grow with the scale:
  // taking it out of the covariance takes out their share of Σ r² = 5204.
  const double share = 4.0 / 5204;
  const PointList corners{{-30, -20, 1}, {30, -20, -1}, {30, 20, 1}, {-30, 20, -1}};
  const auto loose =
      fit_form(FormKind::kPlane, {.points = corners, .covariance = MatrixXd::Identity(12, 12)});
  ASSERT_TRUE(loose && loose->test);
  EXPECT_NEAR(loose->test->statistic, 4 / (1 - share), 1e-8);
  EXPECT_NEAR(loose->test->critical, 10.8276, 1e-4);  // χ² 99.9 %, tables
  EXPECT_EQ(loose->test->degrees_of_freedom, 1);
  EXPECT_TRUE(loose->test->within);
  EXPECT_EQ(loose->test->form_sigma, 0);
  EXPECT_NEAR(loose->test->deviation, 2, 1e-12);
  // Of one corner the offset moves by ¼ of (1, −1, 1, −1)·z: the difference of two by ½ of it.
  EXPECT_NEAR(loose->test->u_deviation, 0.5 * 2, 1e-9);
  EXPECT_NEAR(loose->u_departures[2], 0.25 * 2, 1e-9);
  EXPECT_TRUE(loose->definition_covariance.isZero());

  const auto twisted = fit_form(
      FormKind::kPlane, {.points = corners, .covariance = 0.01 * MatrixXd::Identity(12, 12)});
  ASSERT_TRUE(twisted && twisted->test);
  EXPECT_NEAR(twisted->test->statistic, 400 / (1 - share), 1e-6);
  EXPECT_FALSE(twisted->test->within);
  // 4/(σ² + s²) = 1.
  const double s2 = 4 - 0.01 * (1 - share);
  EXPECT_NEAR(twisted->test->form_sigma, std::sqrt(s2), 1e-7);
  // At the centroid the surface is defined to s itself, its tilt to s over the rms arm.
  EXPECT_NEAR(twisted->definition_covariance(2, 2), s2, 1e-7);
  EXPECT_NEAR(twisted->definition_covariance(3, 3), s2 / 900, 1e-9);
  EXPECT_NEAR(twisted->definition_covariance(4, 4), s2 / 400, 1e-9);

  // With its scale known to five degrees of freedom only, the F test is asked.
  const auto vague = fit_form(
      FormKind::kPlane,
      {.points = corners, .covariance = 0.1 * MatrixXd::Identity(12, 12), .tested_dof = 5});
  ASSERT_TRUE(vague && vague->test);
  EXPECT_NEAR(vague->test->statistic, 40 / (1 - share), 1e-7);
  EXPECT_NEAR(vague->test->critical, 47.18, 5e-3);  // F(1, 5) 99.9 %, tables
  EXPECT_TRUE(vague->test->within);
}

TEST(FitForm, IsExactWhereNothingIsLeftToTest) {
  struct Case {
    FormKind kind;
    int count;
  };
  for (const auto& [kind, count] : {Case{FormKind::kLine, 2}, Case{FormKind::kPlane, 3},
                                    Case{FormKind::kCircle, 3}, Case{FormKind::kSphere, 4}}) {
    const auto shape = make_shape_points(kind, count, 8);
    const auto fit = fit_form(
        kind, {.points = shape.points,
               .covariance = testing_support::correlated_covariance(shape.points, 0.05, 2)});
    ASSERT_TRUE(fit) << form_word(kind) << ": " << describe(fit.error());
    EXPECT_FALSE(fit->test) << form_word(kind);
    EXPECT_LT(fit->departures.cwiseAbs().maxCoeff(), 1e-10) << form_word(kind);
    EXPECT_LT(fit->u_departures.maxCoeff(), 1e-6) << form_word(kind);
  }
}

TEST(FitForm, ReportsTheStraightnessOfALine) {
  // Offsets ±0.1 in z and ±0.2 in y that leave the line in place: the widest range is their
  // diagonal.
  const PointList points{{0, 0.2, 0.1}, {10, -0.2, -0.1}, {20, -0.2, -0.1}, {30, 0.2, 0.1}};
  const auto line =
      fit_form(FormKind::kLine, {.points = points, .covariance = MatrixXd::Identity(12, 12)});
  ASSERT_TRUE(line && line->test);
  EXPECT_NEAR(line->test->deviation, std::hypot(0.4, 0.2), 1e-9);
  EXPECT_NEAR(line->departures[0], std::hypot(0.2, 0.1), 1e-9);
  EXPECT_EQ(line->test->degrees_of_freedom, 4);
  EXPECT_NEAR(line->form.from, -15, 1e-9);
  EXPECT_NEAR(line->form.to, 15, 1e-9);
}

TEST(FitForm, TakesItsSideFromTheOrderOfThePoints) {
  PointList corners{{0, 0, 5}, {10, 0, 5}, {0, 10, 5}, {10, 10, 5}};
  EXPECT_NEAR(fit_form(FormKind::kPlane, {.points = corners})->form.direction.z(), 1, 1e-14);
  std::swap(corners[1], corners[2]);
  EXPECT_NEAR(fit_form(FormKind::kPlane, {.points = corners})->form.direction.z(), -1, 1e-14);
  // The first three in a line: the next one decides.
  const PointList edge{{0, 0, 5}, {5, 0, 5}, {10, 0, 5}, {10, -10, 5}};
  EXPECT_NEAR(fit_form(FormKind::kPlane, {.points = edge})->form.direction.z(), -1, 1e-14);
  // Departures are positive on the positive side.
  const PointList bent{{0, 0, 1}, {0, 10, -1}, {10, 10, 1}, {10, 0, -1}};
  const auto plane = fit_form(FormKind::kPlane, {.points = bent});
  EXPECT_LT(plane->form.direction.z(), 0);
  EXPECT_NEAR(plane->departures[0], -1, 1e-12);
  // Lines and cylinders point from the first to the last.
  auto cylinder = make_shape_points(FormKind::kCylinder, 10, 3);
  for (int turn = 0; turn < 2; ++turn) {
    const auto fit = fit_form(FormKind::kCylinder, {.points = cylinder.points});
    EXPECT_GT(fit->form.direction.dot(cylinder.points.back() - cylinder.points.front()), 0);
    EXPECT_LT(fit->form.from, 0);
    EXPECT_GT(fit->form.to, 0);
    std::reverse(cylinder.points.begin(), cylinder.points.end());
  }
}

TEST(FitForm, FindsNarrowAndShortPartsOfRoundThings) {
  // A quarter of a pipe, a cone of 4°, a shallow cap: starts that simple guesses get wrong.
  PointList pipe, nozzle, cap;
  for (int i = 0; i < 12; ++i) {
    const double turn = 1.4 * (i % 4) / 3.0, along = 25.0 * (i / 4);
    pipe.emplace_back(8 * std::cos(turn), 8 * std::sin(turn), along);
    const double wide = 5 + std::tan(0.035) * along, round = 2 * std::numbers::pi * i / 5.0;
    nozzle.emplace_back(along, wide * std::cos(round), wide * std::sin(round));
    const double low = 0.25 + 0.05 * (i / 4), about = 2.0 * i;
    cap.emplace_back(50 * std::sin(low) * std::cos(about), 50 * std::sin(low) * std::sin(about),
                     50 * std::cos(low));
  }
  const auto cylinder = fit_form(FormKind::kCylinder, {.points = pipe});
  ASSERT_TRUE(cylinder) << describe(cylinder.error());
  EXPECT_NEAR(cylinder->form.radius, 8, 1e-9);
  const auto cone = fit_form(FormKind::kCone, {.points = nozzle});
  ASSERT_TRUE(cone) << describe(cone.error());
  EXPECT_NEAR(cone->form.half_angle, 0.035, 1e-10);
  EXPECT_NEAR(cone->form.position.x(), -5 / std::tan(0.035), 1e-6);
  const auto sphere = fit_form(FormKind::kSphere, {.points = cap});
  ASSERT_TRUE(sphere) << describe(sphere.error());
  EXPECT_NEAR(sphere->form.radius, 50, 1e-8);
}

ShapeError error_of(FormKind kind, const PointList& points, double sigma = 0) {
  FitInput input{.points = points};
  const auto rows = 3 * static_cast<Eigen::Index>(points.size());
  if (sigma > 0) input.covariance = sigma * sigma * MatrixXd::Identity(rows, rows);
  const auto fit = fit_form(kind, input);
  EXPECT_FALSE(fit) << form_word(kind) << " was fitted";
  return fit ? ShapeError::kAxisWithoutLength : fit.error();
}

TEST(FitForm, RefusesTooFewPoints) {
  const PointList all{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {1, 1, 1}};
  const auto first = [&](std::size_t n) { return PointList(all.begin(), all.begin() + long(n)); };
  EXPECT_EQ(error_of(FormKind::kPoint, first(1)), ShapeError::kNoFormToPoint);
  EXPECT_EQ(error_of(FormKind::kLine, first(1)), ShapeError::kTooFewForLine);
  EXPECT_EQ(error_of(FormKind::kPlane, first(2)), ShapeError::kTooFewPoints);
  EXPECT_EQ(error_of(FormKind::kCircle, first(2)), ShapeError::kTooFewForCircle);
  EXPECT_EQ(error_of(FormKind::kSphere, first(3)), ShapeError::kTooFewForSphere);
  EXPECT_EQ(error_of(FormKind::kCylinder, first(4)), ShapeError::kTooFewForCylinder);
  EXPECT_EQ(error_of(FormKind::kCone, first(5)), ShapeError::kTooFewForCone);
  for (const FormKind kind : kFittedKinds) EXPECT_FALSE(fit_form(kind, {}));
}

TEST(FitForm, RefusesPointsThatDoNotSpanTheForm) {
  const PointList spot(8, Vector3d(7, 7, 7));
  PointList line, ring, flat, side, near_spot, near_line, near_flat;
  std::mt19937 random(5);
  std::normal_distribution<double> noise(0, 0.05);
  for (int i = 0; i < 8; ++i) {
    line.emplace_back(10.0 * i, 5.0 * i, -3.0 * i);
    ring.emplace_back(20 * std::cos(i), 20 * std::sin(i), 4);
    flat.emplace_back(3.0 * i, (i * i) % 5, 0);
    const Vector3d error(noise(random), noise(random), noise(random));
    near_spot.push_back(spot[0] + error);
    near_line.push_back(line.back() + error);
    near_flat.push_back(ring.back() + error);
  }
  for (const FormKind kind : kFittedKinds) {
    EXPECT_EQ(error_of(kind, spot), ShapeError::kPointsInOnePlace) << form_word(kind);
    EXPECT_EQ(error_of(kind, near_spot, 0.05), ShapeError::kPointsInOnePlace) << form_word(kind);
  }
  EXPECT_EQ(error_of(FormKind::kPlane, {line[0], line[1], line[2]}), ShapeError::kPointsInLine);
  EXPECT_EQ(error_of(FormKind::kPlane, {near_line[0], near_line[3], near_line[7]}, 0.05),
            ShapeError::kPointsInLine);
  for (const auto& [kind, error] : std::initializer_list<std::pair<FormKind, ShapeError>>{
           {FormKind::kPlane, ShapeError::kPointsInLine},
           {FormKind::kCircle, ShapeError::kCircleInLine},
           {FormKind::kSphere, ShapeError::kSphereInPlane},
           {FormKind::kCylinder, ShapeError::kCylinderOneSide},
           {FormKind::kCone, ShapeError::kConeOneSide}}) {
    EXPECT_EQ(error_of(kind, line), error) << form_word(kind);
    EXPECT_EQ(error_of(kind, near_line, 0.05), error) << form_word(kind);
  }
  // A circle marked at two places only.
  EXPECT_EQ(error_of(FormKind::kCircle, {ring[0], ring[3], ring[0], ring[3]}),
            ShapeError::kCircleInLine);
  EXPECT_EQ(error_of(FormKind::kSphere, ring), ShapeError::kSphereInPlane);
  EXPECT_EQ(error_of(FormKind::kSphere, near_flat, 0.05), ShapeError::kSphereInPlane);
  EXPECT_EQ(error_of(FormKind::kCylinder, ring), ShapeError::kCylinderOneRing);
  EXPECT_EQ(error_of(FormKind::kCylinder, near_flat, 0.05), ShapeError::kCylinderOneRing);
  EXPECT_EQ(error_of(FormKind::kCone, ring), ShapeError::kConeOneRing);
}

TEST(FitForm, RefusesAConeThatIsACylinder) {
  const auto pipe = make_shape_points(FormKind::kCylinder, 14, 6);
  EXPECT_EQ(error_of(FormKind::kCone, pipe.points, 0.05), ShapeError::kConeIsCylinder);
  EXPECT_EQ(error_of(FormKind::kCone, pipe.points), ShapeError::kConeIsCylinder);
}

TEST(FitForm, RefusesFivePointsThatSeveralCylindersPassThrough) {
  // A triangle and two points above: more than one round tube passes through all five.
  const PointList points{{10, 0, 0}, {-5, 8.66, 0}, {-5, -8.66, 0}, {10, 0, 12}, {-5, 8.66, 15}};
  EXPECT_EQ(error_of(FormKind::kCylinder, points), ShapeError::kTwoShapesFit);
  EXPECT_EQ(error_of(FormKind::kCylinder, points, 0.01), ShapeError::kTwoShapesFit);
}

TEST(FitForm, RefusesNumbersThatAreNone) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(error_of(FormKind::kLine, {{0, 0, 0}, {1, nan, 0}}), ShapeError::kNotANumber);
  const PointList two{{0, 0, 0}, {1, 0, 0}};
  const auto wrong =
      fit_form(FormKind::kLine, {.points = two, .covariance = MatrixXd::Identity(3, 3)});
  ASSERT_FALSE(wrong);
  EXPECT_EQ(wrong.error(), ShapeError::kCovarianceSize);
  const auto hole =
      fit_form(FormKind::kLine, {.points = two, .covariance = nan * MatrixXd::Identity(6, 6)});
  ASSERT_FALSE(hole);
  EXPECT_EQ(hole.error(), ShapeError::kNotANumber);
}

TEST(FitForm, GivesFiniteNumbersOrASentenceWhateverThePoints) {
  std::mt19937 random(99);
  std::normal_distribution<double> normal;
  int fitted = 0, refused = 0;
  for (int trial = 0; trial < 300; ++trial) {
    // Clouds flattened and shrunk at random, some points in one place, near and far from zero.
    const auto count = static_cast<std::size_t>(2 + trial % 13);
    const Vector3d size(std::pow(10, normal(random)), std::pow(10, 2 * normal(random)),
                        trial % 3 == 0 ? 0 : std::pow(10, 3 * normal(random)));
    const Vector3d middle = trial % 2 == 0 ? Vector3d(0, 0, 0) : Vector3d(1e4, -2e3, 5e3);
    PointList points;
    for (std::size_t i = 0; i < count; ++i) {
      points.push_back(middle +
                       size.cwiseProduct(Vector3d(normal(random), normal(random), normal(random))));
      if (trial % 5 == 0 && i > 2) points.back() = points[i - 2];
    }
    FitInput input{.points = points};
    const auto rows = 3 * static_cast<Eigen::Index>(count);
    if (trial % 4 != 0) {
      const double sigma = std::pow(10, -3 + normal(random));
      const MatrixXd mixed = MatrixXd::NullaryExpr(rows, trial % 4 == 1 ? rows : 2,
                                                   [&] { return sigma * normal(random); });
      input.covariance = mixed * mixed.transpose();
    }
    for (const FormKind kind : kFittedKinds) {
      const auto fit = fit_form(kind, input);
      ++(fit ? fitted : refused);
      if (!fit) {
        EXPECT_NE(describe(fit.error()), "");
        continue;
      }
      EXPECT_TRUE(vector(fit->form).allFinite()) << trial << " " << form_word(kind);
      EXPECT_TRUE(fit->by_points.allFinite()) << trial << " " << form_word(kind);
      EXPECT_TRUE(fit->definition_covariance.allFinite()) << trial << " " << form_word(kind);
      EXPECT_TRUE(fit->departures.allFinite() && fit->u_departures.allFinite());
      if (fit->test) {
        EXPECT_TRUE(std::isfinite(fit->test->statistic)) << trial << " " << form_word(kind);
      }
    }
  }
  EXPECT_GT(fitted, 200);
  EXPECT_GT(refused, 200);
}

TEST(FitForm, BearsAPointNamedTwice) {
  PointList points{{0, 0, 0}, {30, 0, 0.1}, {30, 20, 0}, {0, 20, 0.1}, {0, 0, 0}};
  MatrixXd covariance = 0.01 * MatrixXd::Identity(15, 15);
  covariance.block<3, 3>(0, 12) = covariance.block<3, 3>(12, 0) =
      0.01 * Eigen::Matrix3d::Identity();
  const auto twice = fit_form(FormKind::kPlane, {.points = points, .covariance = covariance});
  points.pop_back();
  const auto once = fit_form(FormKind::kPlane,
                             {.points = points, .covariance = 0.01 * MatrixXd::Identity(12, 12)});
  ASSERT_TRUE(twice && once);
  // The weights come from the points' own datum, which the point named twice draws to itself.
  EXPECT_NEAR(twice->form.direction.dot(once->form.direction), 1, 1e-6);
  EXPECT_TRUE(twice->by_points.allFinite());
  EXPECT_NEAR(twice->departures[0], twice->departures[4], 1e-6);
}

}  // namespace
}  // namespace measure
