#include "tools/desk/tables/weakness.h"

#include <cmath>
#include <numbers>

#include <gtest/gtest.h>

#include "tests/support/simulated_survey.h"

namespace {

TEST(Weakness, IsTheLargestUOfAllDirections) {
  const auto simulated = testing_support::make_simulated_survey();
  const auto survey = measure::solve_survey(simulated.dossier, simulated.cameras);
  ASSERT_TRUE(survey) << survey.error().sentence;
  const auto weaknesses = desk::weaknesses_of(*survey, simulated.dossier);
  ASSERT_EQ(weaknesses.size(), simulated.dossier.points.size());
  for (const measure::PointReport& point : survey->report().points) {
    // Directions on a net over the half sphere, 2° apart: off by at most 1.4°, so short of the
    // largest by less than 1 − cos² 1.4° of the variance, 0.03 % of U.
    double largest = 0;
    for (int a = 0; a <= 45; ++a) {
      for (int b = 0; b < 180; ++b) {
        const double polar = a * std::numbers::pi / 90, turn = b * std::numbers::pi / 90;
        const Eigen::Vector3d d(std::sin(polar) * std::cos(turn), std::sin(polar) * std::sin(turn),
                                std::cos(polar));
        largest = std::max(largest, std::sqrt(d.dot(point.covariance * d)));
      }
    }
    const desk::Weakness& weakness = weaknesses.at(point.name);
    EXPECT_GE(weakness.U_mm, weakness.k * largest * (1 - 1e-9)) << point.name;
    EXPECT_LE(weakness.U_mm, weakness.k * largest * 1.0006) << point.name;
    EXPECT_GT(weakness.k, 2.0);  // finite redundancy: never below the limit
  }
}

TEST(Weakness, HoldsTheDefinitionOfItsKind) {
  auto simulated = testing_support::make_simulated_survey();
  const auto survey = measure::solve_survey(simulated.dossier, simulated.cameras);
  ASSERT_TRUE(survey);
  const auto bare = desk::weaknesses_of(*survey, simulated.dossier);
  simulated.dossier.point_kinds.push_back({"moulded edge", 0.3});
  simulated.dossier.points[4].kind = "moulded edge";
  const auto defined = desk::weaknesses_of(*survey, simulated.dossier);
  const std::string name = simulated.dossier.points[4].name;
  EXPECT_NEAR(defined.at(name).U_mm, std::hypot(bare.at(name).U_mm, bare.at(name).k * 0.3), 1e-9);
}

TEST(Weakness, HasNoMillimetresWithoutAScaleBar) {
  const auto simulated = testing_support::make_simulated_survey({.bars = false});
  const auto survey = measure::solve_survey(simulated.dossier, simulated.cameras);
  ASSERT_TRUE(survey);
  EXPECT_TRUE(desk::weaknesses_of(*survey, simulated.dossier).empty());
}

TEST(Weakness, OfAPointInTwoPhotosLiesBetweenTheirViews) {
  // Two photos that look from nearly the same side: depth is worst, so that the weakest direction
  // lies within their lines of sight.
  auto simulated = testing_support::make_simulated_survey();
  const std::string point = simulated.dossier.points[6].name;
  std::erase_if(simulated.dossier.marks, [&](const measure::Mark& mark) {
    return mark.point == point && mark.photo != "photo 1" && mark.photo != "photo 2";
  });
  const auto survey = measure::solve_survey(simulated.dossier, simulated.cameras);
  ASSERT_TRUE(survey);
  const desk::Weakness weakness = desk::weaknesses_of(*survey, simulated.dossier).at(point);
  EXPECT_TRUE(weakness.photo == "photo 1" || weakness.photo == "photo 2") << weakness.photo;
  const auto& a = simulated.true_poses[0].centre();
  const auto& b = simulated.true_poses[1].centre();
  const Eigen::Vector3d at = simulated.true_points.at(point);
  const double between = std::acos((a - at).normalized().dot((b - at).normalized()));
  EXPECT_LT(weakness.off_rad, between);
}

}  // namespace
