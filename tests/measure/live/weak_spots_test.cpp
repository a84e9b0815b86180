#include "measure/live/weak_spots.h"

#include <cmath>
#include <cstdio>

#include <Eigen/Geometry>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "measure/live/trace.h"
#include "tests/support/simulated_survey.h"

namespace measure {
namespace {

using testing::Contains;
using testing::Field;
using testing::HasSubstr;
using testing_support::make_simulated_survey;
using testing_support::SimulatedSurvey;

std::vector<WeakSpot> spots_of(const Survey& survey, const Dossier& dossier,
                               const WeakSpotOptions& options) {
  return find_weak_spots(survey, dossier, evaluate_dimensions(survey, dossier), options);
}

const DimensionResult& model(const std::vector<DimensionResult>& results, const std::string& name) {
  return *std::find_if(results.begin(), results.end(), [&](const auto& result) {
    return result.name == name && result.scale == "model";
  });
}

// What is promised is compared with what comes: the suggested marks are set, and all is adjusted
// anew. The marks' own s0 differs a little between the two, hence 5 %.
TEST(WeakSpots, PredictTheErrorBarThatTheirMarksBring) {
  SimulatedSurvey sim = make_simulated_survey({.photo_count = 9, .point_count = 30, .seed = 6});
  sim.dossier.dimensions = {{"width", Distance{"P10", "P11"}}};
  std::size_t kept = 0;
  std::vector<Mark> taken;
  std::erase_if(sim.dossier.marks, [&](const Mark& mark) {
    if (mark.point != "P10") return false;
    if (kept < 2) return ++kept, false;
    taken.push_back(mark);
    return true;
  });
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey) << survey.error().sentence;
  const auto spots = spots_of(*survey, sim.dossier, {.tolerance_mm = 1e-4});
  ASSERT_FALSE(spots.empty());
  EXPECT_EQ(spots.front().dimension, "width");
  std::optional<double> predicted;
  for (const Help& help : spots.front().helps) {
    if (help.kind != Help::Kind::kMark) continue;
    const auto mark = std::find_if(taken.begin(), taken.end(), [&](const Mark& m) {
      return m.photo == help.photo && m.point == help.point;
    });
    ASSERT_NE(mark, taken.end()) << help.sentence;
    sim.dossier.marks.push_back(*mark);
    predicted = help.predicted_U;
    SurveyOptions options;
    options.start = &*survey;
    const auto after = solve_survey(sim.dossier, sim.cameras, options);
    ASSERT_TRUE(after);
    const auto result = model(evaluate_dimensions(*after, sim.dossier), "width");
    EXPECT_NEAR(*predicted / result.U, 1, 0.05) << help.sentence;
  }
  ASSERT_TRUE(predicted);
  EXPECT_LT(*predicted, 0.8 * *spots.front().U);
}

TEST(WeakSpots, PredictTheErrorBarThatANewPhotoBrings) {
  SimulatedSurvey sim = make_simulated_survey({.photo_count = 4, .point_count = 14, .seed = 9});
  sim.dossier.dimensions = {{"width", Distance{"P10", "P11"}}};
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey);
  const auto spots = spots_of(*survey, sim.dossier, {.tolerance_mm = 1e-4});
  ASSERT_FALSE(spots.empty());
  const auto help = std::find_if(spots.front().helps.begin(), spots.front().helps.end(),
                                 [](const Help& h) { return h.kind == Help::Kind::kNewPhoto; });
  ASSERT_NE(help, spots.front().helps.end());
  // The photo is taken: all points are marked in it.
  const Eigen::Vector3d z = (*help->looking_at - *help->camera_position).normalized();
  const Eigen::Vector3d x = z.cross(upward(*survey)).normalized();
  Eigen::Matrix3d rotation;
  rotation << x.transpose(), z.cross(x).transpose(), z.transpose();
  const auto pose = calib::Pose::from_matrix(rotation, -(rotation * *help->camera_position));
  const auto camera = calib::Intrinsics::from_vector(
      survey->network().block(*survey->camera_block("photo 1")).values);
  Photo photo = sim.dossier.photos.front();
  photo.name = "photo new";
  sim.dossier.photos.push_back(photo);
  for (const PointReport& point : survey->report().points) {
    const Eigen::Vector2d px = calib::project(camera, pose, point.position);
    if (px.x() < 0 || px.y() < 0 || px.x() > photo.size.width - 1 || px.y() > photo.size.height - 1)
      continue;
    sim.dossier.marks.push_back({photo.name, point.name, px});
  }
  const auto after = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(after) << after.error().sentence;
  const auto result = model(evaluate_dimensions(*after, sim.dossier), "width");
  // Exact marks make s0 smaller than it was; u at the same s0 is compared. Twelve points were
  // planned with, all are marked: the bar can only come out smaller, by little.
  const double s0_before = survey->network().groups().front().scale,
               s0_after = after->network().groups().front().scale;
  const double U = result.U * s0_before / s0_after;
  EXPECT_GT(*help->predicted_U / U, 0.95);
  EXPECT_LT(*help->predicted_U / U, 1.25);
}

TEST(WeakSpots, ListWhatHasNoValueFirstAndSayWhatItLacks) {
  SimulatedSurvey sim = make_simulated_survey({.seed = 7});
  sim.dossier.points.push_back({"new", ""});
  sim.dossier.dimensions = {{"width", Distance{"P10", "P11"}}, {"reach", Distance{"P10", "new"}}};
  sim.dossier.marks.push_back(
      {sim.dossier.photos[0].name, "new", sim.dossier.marks.front().position_px});
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey);
  const auto spots = spots_of(*survey, sim.dossier, {.tolerance_mm = 1e-4});
  ASSERT_GE(spots.size(), 2u);
  EXPECT_EQ(spots[0].kind, WeakSpot::Kind::kDimensionUnmeasured);
  EXPECT_EQ(spots[0].dimension, "reach");
  EXPECT_THAT(spots[0].sentence, HasSubstr("one photo only"));
  ASSERT_FALSE(spots[0].helps.empty());
  EXPECT_EQ(spots[0].helps.front().point, "new");
  EXPECT_EQ(spots[1].dimension, "width");
}

TEST(WeakSpots, SayWhereNoMarkHelpsThatTheOriginalItselfIsNotBetterDefined) {
  SimulatedSurvey sim = make_simulated_survey({.seed = 6});
  sim.dossier.dimensions = {{"width", Distance{"P10", "P11"}}};
  sim.dossier.point_kinds = {{"worn edge", 0.8}};
  for (Point& point : sim.dossier.points) {
    if (point.name == "P10" || point.name == "P11") point.kind = "worn edge";
  }
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey) << survey.error().sentence;
  const auto results = evaluate_dimensions(*survey, sim.dossier);
  const auto spots = find_weak_spots(*survey, sim.dossier, results, {});
  ASSERT_EQ(spots.size(), 1u);
  EXPECT_TRUE(spots[0].helps.empty());
  // The share is that of the budget: u of a length between two such ends is 0.8 √2 mm and more.
  const double share = model(results, "width").budget.at("definition");
  EXPECT_GT(share, 0.9);
  EXPECT_THAT(spots[0].sentence,
              HasSubstr("; " + std::to_string(std::lround(100 * share)) +
                        " % of it is how well its ends are defined on the original"));
}

TEST(WeakSpots, AreNoneWhereAllIsWithinTolerance) {
  const SimulatedSurvey sim = make_simulated_survey({.seed = 8});
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey);
  EXPECT_TRUE(spots_of(*survey, sim.dossier, {.tolerance_mm = 1e3, .tolerance_rad = 10}).empty());
}

TEST(WeakSpots, NeverSayThatAnErrorBarExceedsWhatLooksTheSame) {
  SimulatedSurvey sim = make_simulated_survey({.photo_count = 4, .point_count = 14, .seed = 9});
  sim.dossier.dimensions = {{"width", Distance{"P10", "P11"}}};
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey);
  const double U = model(evaluate_dimensions(*survey, sim.dossier), "width").U;
  // Within two digits the same, above and below what is found.
  const auto spots = spots_of(*survey, sim.dossier, {.tolerance_mm = U * (1 - 1e-5)});
  ASSERT_EQ(spots.front().kind, WeakSpot::Kind::kDimensionWeak);
  double known = 0, allowed = 0;
  ASSERT_EQ(std::sscanf(spots.front().sentence.c_str(),
                        "\"width\" is known to ± %lf mm only; the tolerance is ± %lf mm", &known,
                        &allowed),
            2)
      << spots.front().sentence;
  EXPECT_GT(known, allowed);
  // Both are rounded, to the first place in which they differ.
  EXPECT_LE(std::abs(known - U), 0.51 * (known - allowed));
  EXPECT_LE(std::abs(allowed - U * (1 - 1e-5)), 0.51 * (known - allowed));
  for (const WeakSpot& spot : spots_of(*survey, sim.dossier, {.tolerance_mm = U * (1 + 1e-5)})) {
    EXPECT_NE(spot.kind, WeakSpot::Kind::kDimensionWeak) << spot.sentence;
  }
}

}  // namespace
}  // namespace measure
