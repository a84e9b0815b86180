#include "measure/live/predict.h"

#include <numbers>

#include <Eigen/Geometry>
#include <Eigen/LU>
#include <gtest/gtest.h>

#include "tests/support/simulated_survey.h"

namespace measure {
namespace {

using testing_support::make_simulated_survey;
using testing_support::SimulatedSurvey;

/// Distance of a place from a polyline, px.
double distance_from(const std::vector<Eigen::Vector2d>& curve, const Eigen::Vector2d& place) {
  double least = 1e9;
  for (std::size_t i = 1; i < curve.size(); ++i) {
    const Eigen::Vector2d along = curve[i] - curve[i - 1];
    const double t = std::clamp((place - curve[i - 1]).dot(along) / along.squaredNorm(), 0.0, 1.0);
    least = std::min(least, (curve[i - 1] + t * along - place).norm());
  }
  return least;
}

// The mark that is to be predicted is left out of the survey. Its distance from the prediction, in
// units of the predicted covariance and its own σ, must follow χ²(2): over 40 surveys the mean is 2
// ± 3·2/√n.
TEST(Predictor, SaysHowFarOffItsPlacesAre) {
  double sum = 0;
  int count = 0, held = 0;
  for (std::uint32_t seed = 1; seed <= 40; ++seed) {
    SimulatedSurvey sim = make_simulated_survey({.seed = seed});
    const auto left_out = std::find_if(sim.dossier.marks.begin(), sim.dossier.marks.end(),
                                       [&](const Mark& m) { return m.point == "P11"; });
    const Mark mark = *left_out;
    sim.dossier.marks.erase(left_out);
    SurveyOptions options;
    options.look_for_blunders = false;
    const auto survey = solve_survey(sim.dossier, sim.cameras, options);
    ASSERT_TRUE(survey) << survey.error().sentence;
    const PredictedPlace place = Predictor(*survey, sim.dossier).predict(mark.photo, mark.point);
    ASSERT_TRUE(place.position_px);
    const Eigen::Vector2d off = mark.position_px - *place.position_px;
    const Eigen::Matrix2d covariance = place.covariance_px2 + 0.25 * Eigen::Matrix2d::Identity();
    const double d2 = off.dot(covariance.inverse() * off);
    sum += d2;
    held += d2 < 5.991 ? 1 : 0;
    ++count;
    EXPECT_NE(place.sight, Sight::kHidden) << place.reason;
    EXPECT_NE(place.sight, Sight::kOutside) << place.reason;
  }
  EXPECT_NEAR(sum / count, 2.0, 3 * 2.0 / std::sqrt(count));
  EXPECT_GE(held, 34);  // binomial(40, 0.95): fewer in one of 10,000 draws
}

TEST(Predictor, DrawsTheLineOfSightThroughTheTruePlaceBentByTheLens) {
  SimulatedSurvey sim = make_simulated_survey({.true_sigma_px = 0.02, .seed = 2});
  sim.dossier.points.push_back({"new", ""});
  const Eigen::Vector3d true_point(12, -20, 15);
  const auto at = [&](std::size_t photo) {
    return calib::project(sim.true_camera, sim.true_poses[photo], true_point);
  };
  sim.dossier.marks.push_back({sim.dossier.photos[0].name, "new", at(0)});
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey);
  const Predictor predictor(*survey, sim.dossier);
  for (std::size_t photo = 1; photo < sim.dossier.photos.size(); ++photo) {
    const PredictedPlace place = predictor.predict(sim.dossier.photos[photo].name, "new");
    EXPECT_FALSE(place.position_px);
    ASSERT_GT(place.epipolar.curve_px.size(), 20u);
    EXPECT_LT(distance_from(place.epipolar.curve_px, at(photo)), 0.5);
    const std::vector<Eigen::Vector2d> likely(
        place.epipolar.curve_px.begin() + static_cast<std::ptrdiff_t>(place.epipolar.likely_from),
        place.epipolar.curve_px.begin() + static_cast<std::ptrdiff_t>(place.epipolar.likely_to));
    EXPECT_LT(distance_from(likely, at(photo)), 0.5);
  }
}

TEST(Predictor, SaysWhatItCannotTell) {
  SimulatedSurvey sim = make_simulated_survey({.seed = 3});
  sim.dossier.points.push_back({"bare", ""});
  std::erase_if(sim.dossier.marks, [](const Mark& mark) { return mark.photo == "photo 2"; });
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey);
  const Predictor predictor(*survey, sim.dossier);
  EXPECT_EQ(predictor.predict("photo 2", "P05").sight, Sight::kUnknown);
  EXPECT_EQ(predictor.predict("photo 3", "bare").sight, Sight::kUnclear);
  EXPECT_FALSE(predictor.predict("photo 3", "bare").position_px);
}

// χ²(2) at 95 % is 5.991 (any table of the chi-square distribution).
TEST(ConfidenceEllipse, HasTheAxesOfTheCovariance) {
  Eigen::Matrix2d covariance;
  covariance << 4, 0, 0, 1;
  const ErrorEllipse ellipse = confidence_ellipse(covariance);
  EXPECT_NEAR(ellipse.semi_major, 2 * std::sqrt(5.991), 1e-3);
  EXPECT_NEAR(ellipse.semi_minor, std::sqrt(5.991), 1e-3);
  EXPECT_NEAR(std::abs(std::cos(ellipse.angle_rad)), 1, 1e-9);
}

TEST(Trace, KnowsWhichWayIsUp) {
  const SimulatedSurvey sim = make_simulated_survey({.seed = 4});
  const auto survey = solve_survey(sim.dossier, sim.cameras);
  ASSERT_TRUE(survey);
  const Eigen::Vector3d up = upward(*survey);
  for (const Photo& photo : sim.dossier.photos) {
    const auto oriented = oriented_photo(*survey, photo.name);
    ASSERT_TRUE(oriented);
    const Eigen::Vector3d point = survey->report().points.front().position;
    const double turn = upright_turn(*oriented, point, up);
    const Eigen::Vector2d a = *project(*oriented, point), b = *project(*oriented, point + 2 * up);
    // Turned by that angle about a, b stands straight above it (image y runs down).
    const Eigen::Vector2d turned = Eigen::Rotation2Dd(turn) * (b - a);
    EXPECT_LT(std::abs(turned.x()), 0.05 * turned.norm()) << photo.name;
    EXPECT_LT(turned.y(), 0) << photo.name;
  }
}

}  // namespace
}  // namespace measure
