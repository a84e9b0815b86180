// Edges, circles and cylinders measured by marks of their own, and everything made of them: found
// from nothing, doubted where a mark is wrong, refused in words where the photos cannot carry them.
#include <algorithm>
#include <cmath>
#include <numbers>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/dimension/explain.h"
#include "measure/dimension/form_result.h"
#include "tests/support/simulated_shapes.h"

namespace measure {
namespace {

using testing::HasSubstr;
using testing_support::make_simulated_shapes;
using testing_support::SimulatedShapes;

const SeenShapeReport& shape_report(const Survey& survey, const std::string& name) {
  const auto& shapes = survey.report().shapes;
  return *std::find_if(shapes.begin(), shapes.end(),
                       [&](const SeenShapeReport& shape) { return shape.name == name; });
}

/// Keeps only the marks on a shape for which `keep` says so.
void keep_marks(Dossier& dossier, const std::string& shape,
                const std::function<bool(const ShapeMark&)>& keep) {
  std::erase_if(dossier.shape_marks,
                [&](const ShapeMark& mark) { return mark.shape == shape && !keep(mark); });
}

TEST(SeenShapes, AndAllMadeOfThemAreFoundWithinTheirErrorBars) {
  const SimulatedShapes sim = make_simulated_shapes({.seed = 5});
  const auto survey = solve_survey(sim.survey.dossier, sim.survey.cameras);
  ASSERT_TRUE(survey) << survey.error().sentence;
  std::set<std::string> kinds;
  for (const DimensionResult& result : evaluate_dimensions(*survey, sim.survey.dossier)) {
    if (result.scale != "model") continue;
    EXPECT_EQ(result.problem, "") << result.name;
    kinds.insert(result.kind);
    const double truth = sim.true_values.at(result.name);
    // Twice U: one in 10,000 draws would lie outside; the seed is fixed.
    const double reach =
        result.interval ? result.interval->second - result.interval->first : 2 * result.U;
    EXPECT_NEAR(result.value, truth, reach) << result.name;
    double shares = 0;
    for (const auto& [group, share] : result.budget) shares += share;
    EXPECT_NEAR(shares, 1.0, 1e-9) << result.name;
  }
  EXPECT_EQ(kinds.size(), 16u);  // all but the angle at three points
}

TEST(SeenShapes, FirstOrderUncertaintiesAreThoseOfSimulatedSurveys) {
  const SimulatedShapes sim = make_simulated_shapes({.photo_count = 5, .seed = 6});
  const auto survey = solve_survey(sim.survey.dossier, sim.survey.cameras);
  ASSERT_TRUE(survey);
  constexpr int kRuns = 120;
  int compared = 0;
  for (const MonteCarloComparison& one : monte_carlo(*survey, sim.survey.dossier, kRuns, 1)) {
    if (one.name.starts_with("near zero")) continue;
    EXPECT_EQ(one.runs, kRuns) << one.name;
    // The sd of 120 runs scatters by 1/√240 = 6.5 %: four of these.
    EXPECT_NEAR(one.sd / one.first_order_u, 1.0, 0.26) << one.name;
    ++compared;
  }
  EXPECT_GE(compared, 30);
}

TEST(SeenShapes, AMarkBesideItsEdgeIsDoubtedAndTheOthersAreNot) {
  SimulatedShapes sim = make_simulated_shapes({.seed = 7});
  auto& marks = sim.survey.dossier.shape_marks;
  const auto wrong = std::find_if(marks.begin(), marks.end(), [](const ShapeMark& mark) {
    return mark.shape == "edge 1" && mark.photo == "photo 3";
  });
  wrong->position_px += Eigen::Vector2d(6, -6);
  const auto slipped = std::find_if(marks.begin(), marks.end(), [](const ShapeMark& mark) {
    return mark.shape == "rim" && mark.photo == "photo 5";
  });
  slipped->position_px += Eigen::Vector2d(9, 0);
  const Eigen::Vector2d wrong_px = wrong->position_px, slipped_px = slipped->position_px;
  const auto survey =
      solve_survey(sim.survey.dossier, sim.survey.cameras, {.leave_out_doubted = true});
  ASSERT_TRUE(survey);
  std::vector<Eigen::Vector2d> doubted;
  for (const ShapeMarkReport& mark : survey->report().shape_marks) {
    if (mark.doubted) doubted.push_back(mark.position_px);
  }
  // About one good mark in a thousand is doubted by chance; of these 400, at most one.
  EXPECT_LE(doubted.size(), 3u);
  EXPECT_THAT(doubted, testing::Contains(wrong_px));
  EXPECT_THAT(doubted, testing::Contains(slipped_px));
}

TEST(SeenShapes, GoOnFromAnEarlierSolutionToTheSameResult) {
  SimulatedShapes sim = make_simulated_shapes({.seed = 8});
  const auto first = solve_survey(sim.survey.dossier, sim.survey.cameras);
  ASSERT_TRUE(first);
  const auto again = solve_survey(sim.survey.dossier, sim.survey.cameras, {.start = &*first});
  ASSERT_TRUE(again);
  const auto before = evaluate_dimensions(*first, sim.survey.dossier),
             after = evaluate_dimensions(*again, sim.survey.dossier);
  ASSERT_EQ(before.size(), after.size());
  for (std::size_t i = 0; i < before.size(); ++i) {
    EXPECT_NEAR(before[i].value, after[i].value, 0.01 * before[i].u + 1e-9) << before[i].name;
    EXPECT_NEAR(before[i].u, after[i].u, 0.01 * before[i].u) << before[i].name;
  }
}

TEST(SeenShapes, SayWhatTheyLack) {
  struct Case {
    const char* shape;
    std::function<bool(const ShapeMark&)> keep;
    const char* sentence;
  };
  int in_first = 0;
  const Case cases[] = {
      {"edge 1", [](const ShapeMark&) { return false; }, "is not marked in any photo"},
      {"edge 1", [](const ShapeMark& m) { return m.photo == "photo 1"; },
       "is marked in one placed photo only"},
      {"rim", [](const ShapeMark& m) { return m.photo == "photo 1"; },
       "is marked in one placed photo only"},
      {"rim",
       [&](const ShapeMark& m) {
         return m.photo == "photo 2" || (m.photo == "photo 1" && ++in_first <= 0);
       },
       "is marked in one placed photo only"},
      {"pipe", [](const ShapeMark& m) { return m.side == 1; }, "both sides of its outline"},
      {"pipe", [](const ShapeMark& m) { return m.photo == "photo 1" || m.photo == "photo 2"; }, ""},
  };
  for (const Case& one : cases) {
    SimulatedShapes sim = make_simulated_shapes({.seed = 9});
    keep_marks(sim.survey.dossier, one.shape, one.keep);
    const auto survey =
        solve_survey(sim.survey.dossier, sim.survey.cameras, {.look_for_blunders = false});
    ASSERT_TRUE(survey) << survey.error().sentence;
    const SeenShapeReport& report = shape_report(*survey, one.shape);
    EXPECT_EQ(report.placed, std::string(one.sentence).empty()) << one.shape << report.reason;
    EXPECT_THAT(report.reason, HasSubstr(one.sentence));
    // What rests on it has no value and says why; everything else goes on.
    for (const DimensionResult& result : evaluate_dimensions(*survey, sim.survey.dossier)) {
      const auto asked =
          std::find_if(sim.survey.dossier.dimensions.begin(), sim.survey.dossier.dimensions.end(),
                       [&](const AskedDimension& d) { return d.name == result.name; });
      const auto behind = seen_shapes_behind(sim.survey.dossier, names_of(asked->kind));
      const bool rests_on_it =
          std::find(behind.begin(), behind.end(), one.shape) != behind.end() && !report.placed;
      EXPECT_EQ(result.problem.empty(), !rests_on_it) << result.name << ": " << result.problem;
    }
  }
}

TEST(SeenShapes, AnEdgeAlongTheBaseLineIsRefusedInWords) {
  // Two photos, and an edge in the plane of both cameras' centres: all rays lie in that plane, and
  // how far away the edge is they do not tell.
  SimulatedShapes sim = make_simulated_shapes({.seed = 10});
  const Eigen::Vector3d a = sim.survey.true_poses[0].centre(),
                        b = sim.survey.true_poses[2].centre();
  Dossier& dossier = sim.survey.dossier;
  dossier.shapes.push_back({"hopeless", SeenEdge{}, ""});
  const Eigen::Vector3d along = (b - a).normalized();
  for (const std::size_t p : {std::size_t{0}, std::size_t{2}}) {
    for (int i = 0; i < 5; ++i) {
      ShapeMark mark;
      mark.photo = dossier.photos[p].name;
      mark.shape = "hopeless";
      mark.position_px = calib::project(sim.survey.true_camera, sim.survey.true_poses[p],
                                        Eigen::Vector3d((30.0 * i - 60) * along)) +
                         Eigen::Vector2d(0.3 * (i % 2), -0.2 * (i % 3));
      dossier.shape_marks.push_back(mark);
    }
  }
  const auto survey = solve_survey(dossier, sim.survey.cameras, {.look_for_blunders = false});
  ASSERT_TRUE(survey) << survey.error().sentence;
  EXPECT_FALSE(shape_report(*survey, "hopeless").placed);
  EXPECT_THAT(shape_report(*survey, "hopeless").reason, HasSubstr("along the line between"));
}

TEST(SeenShapes, ARimMarkedOverAShortArcIsRefusedInWords) {
  SimulatedShapes sim = make_simulated_shapes({.seed = 11});
  Dossier& dossier = sim.survey.dossier;
  dossier.shapes.push_back({"sliver", SeenCircle{}, ""});
  for (std::size_t p = 0; p < 4; ++p) {
    for (int i = 0; i < 5; ++i) {
      const double turn = 0.01 * i;  // of a circle of 30 mm: 1.2 mm of its rim
      ShapeMark mark;
      mark.photo = dossier.photos[p].name;
      mark.shape = "sliver";
      mark.position_px =
          calib::project(sim.survey.true_camera, sim.survey.true_poses[p],
                         Eigen::Vector3d(30 * std::cos(turn), 30 * std::sin(turn), 0)) +
          Eigen::Vector2d(0.4 * (i % 2), -0.3 * (i % 3));
      dossier.shape_marks.push_back(mark);
    }
  }
  const auto survey = solve_survey(dossier, sim.survey.cameras, {.look_for_blunders = false});
  ASSERT_TRUE(survey) << survey.error().sentence;
  EXPECT_FALSE(shape_report(*survey, "sliver").placed);
  EXPECT_NE(shape_report(*survey, "sliver").reason, "");
}

TEST(SeenShapes, GiveRatiosWhereThereIsNoBar) {
  SimulatedShapes sim = make_simulated_shapes({.bars = false, .seed = 12});
  const auto survey =
      solve_survey(sim.survey.dossier, sim.survey.cameras, {.look_for_blunders = false});
  ASSERT_TRUE(survey) << survey.error().sentence;
  // The first distance asked is the unit.
  const double unit = sim.true_values.at("distance of centres");
  for (const DimensionResult& result : evaluate_dimensions(*survey, sim.survey.dossier)) {
    if (result.scale != "model" || !result.problem.empty() || result.interval) continue;
    const auto asked =
        std::find_if(sim.survey.dossier.dimensions.begin(), sim.survey.dossier.dimensions.end(),
                     [&](const AskedDimension& d) { return d.name == result.name; });
    const double truth =
        sim.true_values.at(result.name) / std::pow(unit, length_exponent(asked->kind));
    EXPECT_NEAR(result.value, truth, 2.5 * result.U + 1e-12) << result.name;
  }
}

TEST(Explain, SharesSumToOneAndNameWhatCarriesTheDimension) {
  const SimulatedShapes sim = make_simulated_shapes({.seed = 13});
  const auto survey =
      solve_survey(sim.survey.dossier, sim.survey.cameras, {.look_for_blunders = false});
  ASSERT_TRUE(survey);
  const auto diameter = explain(*survey, sim.survey.dossier, "diameter, seen rim");
  ASSERT_TRUE(diameter) << diameter.error();
  double sum = 0, marks_on_rim = 0, bars = 0;
  for (const Contribution& c : diameter->contributions) {
    sum += c.share;
    if (c.what == Contribution::What::kShapeMark && c.item == "rim") marks_on_rim += c.share;
    if (c.what == Contribution::What::kBar) {
      EXPECT_THAT(c.item, testing::AnyOf("bar A", "bar B"));
      bars += c.share;
    }
  }
  EXPECT_NEAR(sum, 1.0, 1e-6);
  EXPECT_GT(marks_on_rim, 0.5);
  // The same sums by group as the budget gives.
  EXPECT_NEAR(diameter->result.budget.at("bars"), bars, 0.02);
  EXPECT_FALSE(explain(*survey, sim.survey.dossier, "nowhere"));
}

TEST(Forms, TellFlatFromBentAndSymmetricFromNot) {
  SimulatedShapes sim = make_simulated_shapes({.seed = 14});
  Dossier& dossier = sim.survey.dossier;
  dossier.shapes.push_back({"bent", PlaneThrough{{"a 1", "a 2", "a 3", "a 4", "s 4"}}, ""});
  dossier.shapes.push_back({"no plane", PlaneThrough{{"a 1", "a 2", "a 3", "b 1", "a 5"}}, ""});
  dossier.shapes.push_back(
      {"askew", MirrorPlane{{{"m 1", "m 2"}, {"m 3", "m 4"}, {"m 7", "m 8"}}}, ""});
  const auto survey = solve_survey(dossier, sim.survey.cameras, {.look_for_blunders = false});
  ASSERT_TRUE(survey);
  for (const FormResult& form : evaluate_forms(*survey, dossier)) {
    if (form.name == "no plane") {
      EXPECT_THAT(form.problem, HasSubstr("too far from any shape of this kind"));
      continue;
    }
    EXPECT_EQ(form.problem, "") << form.name;
    EXPECT_TRUE(form.covariance.allFinite());
    if (!form.test) continue;
    EXPECT_EQ(form.test->within, form.name != "bent" && form.name != "askew") << form.name;
    if (form.name == "bent") EXPECT_GT(form.test->form_sigma, 0.3);
    if (form.name == "middle") {
      ASSERT_EQ(form.pairs.size(), 3u);
      for (const auto& pair : form.pairs) EXPECT_TRUE(pair.symmetric);
    }
  }
}

}  // namespace
}  // namespace measure
