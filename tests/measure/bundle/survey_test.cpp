#include "measure/bundle/survey.h"

#include <algorithm>
#include <memory>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "measure/dimension/dimension.h"
#include "tests/support/simulated_survey.h"

namespace measure {
namespace {

using testing::AllOf;
using testing::Contains;
using testing::HasSubstr;
using testing::Not;
using testing_support::make_simulated_survey;
using testing_support::SimulatedSurvey;

double distance(const Survey& survey, const std::string& a, const std::string& b) {
  return (survey.network().block(*survey.point(a)).values -
          survey.network().block(*survey.point(b)).values)
      .norm();
}

TEST(SolveSurvey, FindsTrueDistancesWithinTheirErrorBarsWithoutStartValues) {
  const SimulatedSurvey sim = make_simulated_survey({.seed = 3});
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey) << survey.error().sentence;
  EXPECT_EQ(survey->report().unit, LengthUnit::kMillimetre);
  EXPECT_EQ(survey->report().datum, "position (3) and rotation (3)");
  for (const PhotoReport& photo : survey->report().photos) EXPECT_TRUE(photo.placed) << photo.name;
  for (const DimensionResult& result : evaluate_dimensions(*survey, sim.dossier)) {
    if (result.scale != "model" || result.interval) continue;
    const auto asked = std::find_if(sim.dossier.dimensions.begin(), sim.dossier.dimensions.end(),
                                    [&](const auto& d) { return d.name == result.name; });
    // Two U: one in 10,000 draws would lie outside; the seed is fixed.
    EXPECT_EQ(result.problem, "") << result.name;
    EXPECT_NEAR(result.value, testing_support::true_value(sim, asked->kind), 2 * result.U)
        << result.name;
  }
}

TEST(SolveSurvey, GivesTheSameInAnyOrderOfPhotosMarksAndPoints) {
  SimulatedSurvey sim = make_simulated_survey({.seed = 4});
  const auto first = solve_survey(sim.dossier, sim.cameras);
  std::mt19937 random(1);
  std::shuffle(sim.dossier.photos.begin(), sim.dossier.photos.end(), random);
  std::shuffle(sim.dossier.marks.begin(), sim.dossier.marks.end(), random);
  std::shuffle(sim.dossier.points.begin(), sim.dossier.points.end(), random);
  const auto second = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(first && second);
  // The minimum is the same; the last digits hang on where the iteration stops (relative cost
  // 1e-12).
  EXPECT_NEAR(distance(*first, "P05", "P06"), distance(*second, "P05", "P06"), 1e-5);
  EXPECT_NEAR(first->report().rms_px, second->report().rms_px, 1e-6);
}

TEST(SolveSurvey, GivesTheSameBitsWhateverWasAllocatedBefore) {
  const SimulatedSurvey sim = make_simulated_survey({.seed = 5});
  const auto values = [&] {
    const auto survey = solve_survey(sim.dossier, sim.cameras);
    EXPECT_TRUE(survey);
    std::vector<double> all;
    for (const auto& block : survey->network().blocks()) {
      all.insert(all.end(), block.values.begin(), block.values.end());
    }
    return all;
  };
  const auto first = values();
  // Holes of the sizes that blocks have, left in the heap in no order.
  std::mt19937 random(3);
  std::vector<std::unique_ptr<double[]>> taken;
  for (int i = 0; i < 4000; ++i) taken.push_back(std::make_unique<double[]>(3 + random() % 8));
  std::shuffle(taken.begin(), taken.end(), random);
  taken.resize(taken.size() / 2);
  for (int run = 0; run < 3; ++run) EXPECT_EQ(values(), first) << run;
}

TEST(SolveSurvey, GoesOnFromAnEarlierSolutionToTheSameResultAsFromNothing) {
  SimulatedSurvey sim = make_simulated_survey({.photo_count = 9, .seed = 11});
  Dossier earlier = sim.dossier;
  // One photo and one point are new, one mark moves, one goes.
  std::erase_if(earlier.marks,
                [](const Mark& mark) { return mark.photo == "photo 4" || mark.point == "P07"; });
  earlier.marks[5].position_px.x() += 3;
  const auto before = solve_survey(earlier, sim.cameras);
  ASSERT_TRUE(before) << before.error().sentence;
  ASSERT_FALSE(before->point("P07"));
  sim.dossier.marks.pop_back();
  SurveyOptions options;
  options.start = &*before;
  const auto warm = solve_survey(sim.dossier, sim.cameras, options);
  const auto cold = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(warm && cold);
  for (const PhotoReport& photo : warm->report().photos) EXPECT_TRUE(photo.placed) << photo.name;
  EXPECT_NEAR(distance(*warm, "P07", "P06"), distance(*cold, "P07", "P06"), 1e-5);
  EXPECT_NEAR(warm->report().rms_px, cold->report().rms_px, 1e-6);
  const auto w = evaluate_dimensions(*warm, sim.dossier);
  const auto c = evaluate_dimensions(*cold, sim.dossier);
  ASSERT_EQ(w.size(), c.size());
  for (std::size_t i = 0; i < w.size(); ++i)
    EXPECT_NEAR(w[i].u, c[i].u, 1e-4 * c[i].u) << w[i].name;
}

TEST(SolveSurvey, TakesOutWhatNoLongerHasTheMarksToStand) {
  SimulatedSurvey sim = make_simulated_survey({.seed = 12});
  const auto before = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(before);
  int left = 1;
  std::erase_if(sim.dossier.marks,
                [&](const Mark& mark) { return mark.point == "P09" && left-- <= 0; });
  SurveyOptions options;
  options.start = &*before;
  const auto after = solve_survey(sim.dossier, sim.cameras, options);
  ASSERT_TRUE(after) << after.error().sentence;
  std::string why;
  EXPECT_FALSE(after->point("P09", &why));
  EXPECT_THAT(why, HasSubstr("one photo only"));
}

TEST(SolveSurvey, ScalesEveryDistanceWithItsBars) {
  SimulatedSurvey sim = make_simulated_survey({.seed = 5});
  const auto small = solve_survey(sim.dossier, sim.cameras);
  for (ScaleBar& bar : sim.dossier.bars) {
    bar.length_mm *= 10;
    bar.u_own_mm *= 10;
    bar.u_common_mm *= 10;
  }
  const auto large = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(small && large);
  EXPECT_NEAR(distance(*large, "P05", "P06") / distance(*small, "P05", "P06"), 10, 1e-6);
  const auto of = [&](const Survey& s) { return evaluate_dimensions(s, sim.dossier).front(); };
  EXPECT_NEAR(of(*large).u / of(*small).u, 10, 1e-4);
}

TEST(SolveSurvey, NamesTheBlundersAndKeepsThemUntilTheUserSaysOtherwise) {
  const SimulatedSurvey sim =
      make_simulated_survey({.point_count = 30, .blunder_share = 0.02, .seed = 8});
  ASSERT_FALSE(sim.blunders.empty());
  const auto kept = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(kept) << kept.error().sentence;
  for (const std::size_t at : sim.blunders) {
    const Mark& mark = sim.dossier.marks[at];
    const auto report = std::find_if(
        kept->report().marks.begin(), kept->report().marks.end(),
        [&](const MarkReport& m) { return m.photo == mark.photo && m.point == mark.point; });
    ASSERT_NE(report, kept->report().marks.end());
    EXPECT_TRUE(report->doubted) << mark.photo << ' ' << mark.point;
    EXPECT_TRUE(report->in_use);
    EXPECT_GT(report->w, report->critical_w);
  }
  EXPECT_THAT(kept->report().warnings, Contains(HasSubstr("doubted and still used")));
  SurveyOptions without;
  without.leave_out_doubted = true;
  const auto cleaned = solve_survey(sim.dossier, sim.cameras, without);
  ASSERT_TRUE(cleaned);
  EXPECT_LT(cleaned->report().rms_px, 0.8);  // 0.5 px a coordinate is 0.71 px a mark
  EXPECT_GT(kept->report().rms_px, 1.0);
}

TEST(SolveSurvey, NamesMarksThatCannotBeToldApartAsOneOfThese) {
  SimulatedSurvey sim = make_simulated_survey({.point_count = 30, .seed = 8});
  std::erase_if(sim.dossier.marks, [](const Mark& mark) {
    return mark.point == "P20" && mark.photo != "photo 1" && mark.photo != "photo 3";
  });
  for (Mark& mark : sim.dossier.marks) {
    if (mark.point == "P20" && mark.photo == "photo 3")
      mark.position_px += Eigen::Vector2d(0, 8);  // more, and the point would not be placed
  }
  for (const bool leave_out : {false, true}) {
    SurveyOptions options;
    options.leave_out_doubted = leave_out;
    const auto survey = solve_survey(sim.dossier, sim.cameras, options);
    ASSERT_TRUE(survey) << survey.error().sentence;
    ASSERT_EQ(survey->report().one_of_these.size(), 1u);
    EXPECT_THAT(
        survey->report().one_of_these[0],
        testing::UnorderedElementsAre(std::pair("photo 1", "P20"), std::pair("photo 3", "P20")));
    EXPECT_THAT(survey->report().warnings, Contains(HasSubstr("no other mark tells which")));
    for (const MarkReport& mark : survey->report().marks) {
      if (mark.point != "P20") continue;
      EXPECT_FALSE(mark.doubted) << mark.photo;
      EXPECT_TRUE(mark.in_use) << mark.photo;
    }
  }
}

TEST(SolveSurvey, DoubtsNoMoreMarksOnceTheDoubtedAreSetAside) {
  for (std::uint32_t seed = 40; seed < 52; ++seed) {
    SimulatedSurvey sim =
        make_simulated_survey({.point_count = 30, .blunder_share = 0.03, .seed = seed});
    const auto first = solve_survey(sim.dossier, sim.cameras);
    ASSERT_TRUE(first) << first.error().sentence;
    for (std::size_t m = 0; m < sim.dossier.marks.size(); ++m)
      sim.dossier.marks[m].set_aside = first->report().marks[m].doubted;
    const auto second = solve_survey(sim.dossier, sim.cameras);
    ASSERT_TRUE(second) << second.error().sentence;
    EXPECT_TRUE(std::none_of(second->report().marks.begin(), second->report().marks.end(),
                             [](const MarkReport& mark) { return mark.doubted; }))
        << seed;
  }
}

TEST(SolveSurvey, GivesRatiosOnlyWithoutAScaleBarAndSaysSo) {
  const SimulatedSurvey sim = make_simulated_survey({.bars = false, .seed = 6});
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey) << survey.error().sentence;
  EXPECT_EQ(survey->report().unit, LengthUnit::kFree);
  EXPECT_THAT(survey->report().datum, HasSubstr("scale"));
  EXPECT_THAT(survey->report().warnings, Contains(HasSubstr("no scale bar")));
  for (const DimensionResult& result : evaluate_dimensions(*survey, sim.dossier)) {
    EXPECT_NE(result.unit, DimensionUnit::kMillimetre) << result.name;
    if (result.name == "long distance") {
      const double expected = testing_support::true_value(sim, Distance{"P01", "P08"}) /
                              testing_support::true_value(sim, Distance{"P05", "P06"});
      EXPECT_EQ(result.reference, "distance");
      EXPECT_NEAR(result.value, expected, 2 * result.U);
      EXPECT_GT(result.U, 0);
    }
  }
}

TEST(SolveSurvey, SaysThatABarIsWrongWhenTwoContradict) {
  SimulatedSurvey sim = make_simulated_survey({.seed = 7});
  sim.dossier.bars[1].length_mm += 1.0;  // read off by a millimetre
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey);
  EXPECT_THAT(survey->report().warnings,
              Contains(AllOf(HasSubstr("contradicts"), HasSubstr("scale bar"))));
}

TEST(SolveSurvey, SaysThatASingleBarIsUnchecked) {
  SimulatedSurvey sim = make_simulated_survey({.seed = 7});
  sim.dossier.bars.pop_back();
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey);
  EXPECT_THAT(survey->report().warnings, Contains(HasSubstr("one scale bar only")));
  EXPECT_FALSE(survey->report().bars[0].checked);
}

TEST(SolveSurvey, ChecksTwoBarsAgainstEachOtherUnlessOneIsFarTooGood) {
  SimulatedSurvey sim = make_simulated_survey({.seed = 7});
  const auto alike = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(alike);
  for (const BarReport& bar : alike->report().bars) {
    EXPECT_TRUE(bar.checked) << bar.name;
    EXPECT_GT(bar.u_error_mm, 0) << bar.name;
  }
  // A gauge of half a micrometre beside a ruler of a millimetre: the ruler cannot judge it.
  sim.dossier.bars[0].u_own_mm = 0.0005;
  sim.dossier.bars[1].u_own_mm = 1.0;
  const auto unlike = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(unlike);
  EXPECT_FALSE(unlike->report().bars[0].checked);
  EXPECT_TRUE(unlike->report().bars[1].checked);
}

TEST(SolveSurvey, ComparesCheckLengthsAndNeverUsesThem) {
  SimulatedSurvey sim = make_simulated_survey({.seed = 9});
  const auto before = solve_survey(sim.dossier, sim.cameras);
  ScaleBar check;
  check.name = "gauge";
  check.from = "P05";
  check.to = "P06";
  check.length_mm = testing_support::true_value(sim, Distance{"P05", "P06"}) + 3.0;
  check.u_own_mm = 0.01;
  check.check_only = true;
  sim.dossier.bars.push_back(check);
  const auto after = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(before && after);
  // Sums are taken in the order in which the threads of BLAS finish.
  EXPECT_NEAR(distance(*before, "P05", "P06"), distance(*after, "P05", "P06"), 1e-8);
  const BarReport& report = after->report().bars.back();
  EXPECT_FALSE(report.used);
  EXPECT_NEAR(report.error_mm, -3.0, 5 * report.u_error_mm);
  EXPECT_TRUE(report.contradicts);
}

TEST(SolveSurvey, SeesThatTheCameraIsNotAsCalibrated) {
  SimulatedSurvey sim = make_simulated_survey({.point_count = 60, .seed = 10});
  // The file says a principal point that is eight standard uncertainties off.
  sim.cameras["body"].intrinsics.cx += 40;
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey);
  ASSERT_EQ(survey->report().cameras.size(), 1u);
  EXPECT_FALSE(survey->report().cameras[0].as_calibrated);
  EXPECT_EQ(survey->report().cameras[0].changed_parameter, "cx");
  EXPECT_THAT(survey->report().warnings, Contains(HasSubstr("not as calibrated")));
}

TEST(SolveSurvey, LeavesAGoodCameraInPeace) {
  const auto sim = make_simulated_survey({.point_count = 60, .seed = 10});
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey);
  EXPECT_TRUE(survey->report().cameras[0].as_calibrated);
}

TEST(SolveSurvey, PointsOutMarksOfOneSourceHalfAPixelOff) {
  SimulatedSurvey sim = make_simulated_survey({.photo_count = 8, .point_count = 40, .seed = 11});
  for (std::size_t m = 0; m < sim.dossier.marks.size(); ++m) {
    Mark& mark = sim.dossier.marks[m];
    if (m % 3 != 0) continue;
    mark.source = MarkSource::kImported;
    mark.position_px += Eigen::Vector2d(0.5, 0.5);
  }
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey);
  EXPECT_THAT(survey->report().warnings,
              Contains(AllOf(HasSubstr("marks imported lie"), HasSubstr("--pixel-origin corner"))));
  for (Mark& mark : sim.dossier.marks) {
    if (mark.source == MarkSource::kImported) mark.position_px -= Eigen::Vector2d(0.5, 0.5);
  }
  const auto right = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(right);
  EXPECT_THAT(right->report().warnings, Not(Contains(HasSubstr("--pixel-origin"))));
}

TEST(SolveSurvey, SaysThatTwoShapesFitTwoPhotosOfAPlane) {
  const auto sim =
      make_simulated_survey({.photo_count = 2, .point_count = 20, .planar = true, .seed = 12});
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  if (survey) {
    // Depth differences of the bars' ends may tell the shapes apart; then the right one must have
    // been taken.
    EXPECT_NEAR(distance(*survey, "P05", "P06"),
                testing_support::true_value(sim, Distance{"P05", "P06"}), 5.0);
  } else {
    EXPECT_EQ(survey.error().blame, calib::Blame::kSurvey);
    EXPECT_THAT(survey.error().sentence, HasSubstr("third photo"));
  }
}

TEST(SolveSurvey, RefusesAPhotoOfAnotherSizeThanItsCamera) {
  SimulatedSurvey sim = make_simulated_survey();
  sim.dossier.photos[2].size = {2000, 1500};
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_FALSE(survey);
  EXPECT_EQ(survey.error().blame, calib::Blame::kInput);
  EXPECT_THAT(survey.error().sentence,
              AllOf(HasSubstr("photo 3"), HasSubstr("2000 × 1500"), HasSubstr("4000 × 3000")));
}

TEST(SolveSurvey, SaysWhatAPointWithOneMarkLacks) {
  SimulatedSurvey sim = make_simulated_survey({.seed = 13});
  std::erase_if(sim.dossier.marks,
                [](const Mark& mark) { return mark.point == "P07" && mark.photo != "photo 1"; });
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey) << survey.error().sentence;
  std::string why;
  EXPECT_FALSE(survey->point("P07", &why));
  EXPECT_THAT(why, HasSubstr("P07"));
  for (const DimensionResult& result : evaluate_dimensions(*survey, sim.dossier)) {
    if (result.name == "along") {
      EXPECT_THAT(result.problem, HasSubstr("P07"));
    }
  }
}

TEST(SolveSurvey, WarnsWhenAPhotoAlsoCalibratedItsCamera) {
  SimulatedSurvey sim = make_simulated_survey({.seed = 14});
  sim.dossier.photos[0].sha256 = "abc";
  sim.cameras["body"].photos.push_back({"photo 1.jpg", "abc", true, "", 0.1});
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey);
  EXPECT_THAT(survey->report().warnings, Contains(HasSubstr("the same data count twice")));
}

TEST(SolveSurvey, RefusesToMakeASurveyOfOnePhoto) {
  SimulatedSurvey sim = make_simulated_survey();
  sim.dossier.photos.resize(1);
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_FALSE(survey);
  EXPECT_EQ(survey.error().blame, calib::Blame::kSurvey);
}

// Common practice, no source: a 32-inch original and a five-foot one of the same subject, which is
// 60/32 = 1.875 times as large. If the smaller is 1:60, the larger is 1:32.
TEST(EvaluateDimensions, MakesTheFiveFootOneOutOfThe32InchOne) {
  SimulatedSurvey sim = make_simulated_survey({.seed = 3});
  sim.dossier.model_scale = ScaleRatio{60, 0};
  sim.dossier.replica_scales = {ScaleRatio{32, 0}};
  // All of the survey as much larger as makes one distance 32 inches.
  const double factor = 812.8 / testing_support::true_value(sim, Distance{"P01", "P02"});
  for (ScaleBar& bar : sim.dossier.bars) {
    bar.length_mm *= factor;
    bar.u_own_mm *= factor;
    bar.u_common_mm *= factor;
  }
  sim.dossier.dimensions = {{"length", Distance{"P01", "P02"}}};
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey) << survey.error().sentence;
  const auto results = evaluate_dimensions(*survey, sim.dossier);
  ASSERT_EQ(results.size(), 3u);
  EXPECT_EQ(results[2].scale, "replica 1:32");
  EXPECT_NEAR(results[0].value, 812.8, 2 * results[0].U);
  EXPECT_NEAR(results[1].value, 60 * results[0].value, 1e-9 * results[1].value);
  EXPECT_NEAR(results[2].value / results[0].value, 1.875, 1e-12);
  EXPECT_NEAR(results[2].value, 1524.0, 2 * results[2].U);  // five feet
  EXPECT_NEAR(results[2].U / results[0].U, 1.875, 1e-12);
}

TEST(MonteCarlo, AgreesWithFirstOrderWhereThatHolds) {
  const SimulatedSurvey sim = make_simulated_survey({.seed = 15});
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey);
  for (const MonteCarloComparison& one : monte_carlo(*survey, sim.dossier, 200, 1)) {
    EXPECT_EQ(one.runs, 200);
    if (one.name.starts_with("near zero")) continue;
    // A standard deviation of 200 draws is known to 5 %; 3.5 of these.
    EXPECT_NEAR(one.sd / one.first_order_u, 1.0, 0.175) << one.name;
  }
}

}  // namespace
}  // namespace measure
