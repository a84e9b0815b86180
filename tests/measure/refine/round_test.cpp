#include "measure/refine/round.h"

#include <Eigen/Dense>
#include <gtest/gtest.h>
#include <opencv2/core.hpp>

#include "measure/refine/circle_view.h"
#include "tests/measure/refine/error_sums.h"
#include "tests/measure/refine/marked_by_hand.h"
#include "tests/support/analytic_marks.h"

namespace measure {
namespace {

using testing_support::Disc;
using testing_support::DiscSpec;
using testing_support::make_disc;

DiscSpec random_disc(cv::RNG& random, std::uint32_t seed) {
  DiscSpec spec;
  spec.centre_px += Eigen::Vector2d(random.uniform(-1.0, 1.0), random.uniform(-1.0, 1.0));
  spec.radius_px = random.uniform(6.0, 28.0);
  spec.tilt_deg = random.uniform(0.0, 60.0);
  spec.tilt_towards_deg = random.uniform(0.0, 360.0);
  const double step = random.uniform(40.0, 120.0);
  spec.outside = random.uniform(30.0, 220.0 - step);
  spec.inside = spec.outside + step;
  if (random.uniform(0, 2) == 0) {
    std::swap(spec.inside, spec.outside);
  }
  spec.shading = random.uniform(-0.3, 0.3);
  spec.development.blur_px = random.uniform(0.6, 2.0);
  spec.development.noise_grey = random.uniform(1.5, 4.0);
  spec.development.grain_px = random.uniform(0, 2) == 0 ? 0.0 : 0.6;
  spec.development.seed = seed;
  return spec;
}

TEST(RefineRound, IsWithinAFiftiethOfAPixelAndKnowsHowWell) {
  cv::RNG random(8);
  ErrorSums errors, ordinary;
  int refused = 0;
  constexpr int kCases = 400;
  for (int i = 0; i < kCases; ++i) {
    const DiscSpec spec = random_disc(random, static_cast<std::uint32_t>(i + 1));
    const Disc disc = make_disc(spec);
    RefineOptions options;
    options.camera = spec.camera;
    options.face_normal = disc.normal;
    const auto mark =
        refine_round({disc.pixels}, marked_by_hand(random, spec.centre_px, 3.0), options);
    if (!mark) {
      ++refused;
      std::printf("%d: %s step %.0f blur %.2f noise %.1f radius %.1f tilt %.0f\n", i,
                  std::string(short_reason(mark.error())).c_str(), spec.inside - spec.outside,
                  spec.development.blur_px, spec.development.noise_grey, spec.radius_px,
                  spec.tilt_deg);
      continue;
    }
    EXPECT_EQ(mark->eccentricity, Eccentricity::kCorrected);
    errors.add(*mark, spec.centre_px);
    if (is_ordinary(spec.inside - spec.outside, spec.development)) {
      ordinary.add(*mark, spec.centre_px);
    }
  }
  ordinary.print("ordinary contrast");
  errors.print("rounds");
  EXPECT_LE(refused, kCases / 50);
  EXPECT_LE(ordinary.rms_px(), 0.05);
  EXPECT_GT(errors.true_over_claimed(), 0.8);
  EXPECT_LT(errors.true_over_claimed(), 1.25);
}

// A large disc seen from near: the ellipse's centre is 0.4 px from the picture of the disc's. The
// picture is cut out of a photo of 1400 × 1000 px.
const Eigen::Vector2i kCutFrom_px(900, 500);

DiscSpec eccentric_disc() {
  DiscSpec spec;
  spec.camera = {.fx = 1400.0, .fy = 1400.0, .cx = -200.0, .cy = 0.0};
  spec.radius_px = 34.0;
  spec.tilt_deg = 50.0;
  spec.size = {180, 180};
  spec.centre_px = {90.3, 88.6};
  spec.development.noise_grey = 0.5;
  spec.development.jpeg_quality = 0;
  return spec;
}

PhotoWindow cut_out(const Disc& disc) { return {disc.pixels, kCutFrom_px}; }
Eigen::Vector2d true_centre_px(const DiscSpec& spec) {
  return spec.centre_px + kCutFrom_px.cast<double>();
}
calib::Intrinsics camera_of_photo(const DiscSpec& spec) {
  calib::Intrinsics camera = spec.camera;
  camera.cx += kCutFrom_px.x();
  camera.cy += kCutFrom_px.y();
  return camera;
}

TEST(RefineRound, PutsTheCirclesCentreForTheEllipses) {
  for (const double towards_deg : {0.0, 70.0, 140.0, 210.0, 280.0}) {
    DiscSpec spec = eccentric_disc();
    spec.tilt_towards_deg = towards_deg;
    const Disc disc = make_disc(spec);
    RefineOptions options;
    options.half_window_px = 50.0;
    options.camera = camera_of_photo(spec);
    options.face_normal = disc.normal;
    const auto mark = refine_round(cut_out(disc), true_centre_px(spec), options);
    ASSERT_TRUE(mark) << short_reason(mark.error());
    EXPECT_EQ(mark->eccentricity, Eccentricity::kCorrected);
    const auto ellipse = std::get<DrawnEllipse>(mark->drawing);
    EXPECT_GT((ellipse.centre_px - true_centre_px(spec)).norm(), 0.3);  // what is being corrected
    EXPECT_LT((mark->position_px - true_centre_px(spec)).norm(), 0.02);
  }
}

TEST(RefineRound, SaysThatTheCentreMayLieOnEitherSideWhereTheNormalIsNotKnown) {
  ErrorSums errors;
  for (int i = 0; i < 24; ++i) {
    DiscSpec spec = eccentric_disc();
    spec.tilt_towards_deg = 15.0 * i;
    const Disc disc = make_disc(spec);
    RefineOptions options;
    options.half_window_px = 50.0;
    options.camera = camera_of_photo(spec);
    const auto mark = refine_round(cut_out(disc), true_centre_px(spec), options);
    ASSERT_TRUE(mark) << short_reason(mark.error());
    EXPECT_EQ(mark->eccentricity, Eccentricity::kEitherSide);
    errors.add(*mark, true_centre_px(spec));
  }
  errors.print("either side");
  // The error is one of two places with certainty, the noise far below: e²/σ² is 1 along one axis,
  // so the root of the mean over both is 0.71; the noise across adds up to as much.
  EXPECT_GT(errors.true_over_claimed(), 0.6);
  EXPECT_LT(errors.true_over_claimed(), 1.1);
}

TEST(RefineRound, WidensItsSigmaWithoutACamera) {
  DiscSpec spec = eccentric_disc();
  spec.tilt_deg = 20.0;
  const Disc disc = make_disc(spec);
  RefineOptions options;
  options.half_window_px = 50.0;
  const auto plain = refine_round(cut_out(disc), true_centre_px(spec), options);
  ASSERT_TRUE(plain) << short_reason(plain.error());
  EXPECT_EQ(plain->eccentricity, Eccentricity::kNoCamera);
  EXPECT_GT(2.0 * plain->sigma_px(), (plain->position_px - true_centre_px(spec)).norm());
}

TEST(CircleViews, HoldTheTrueNormalAndCentre) {
  const calib::Intrinsics camera{
      .fx = 900.0, .fy = 905.0, .cx = 640.0, .cy = 470.0, .k1 = -0.1, .k2 = 0.03};
  cv::RNG random(2);
  for (int run = 0; run < 20; ++run) {
    const Eigen::Vector3d centre(random.uniform(-0.3, 0.3), random.uniform(-0.2, 0.2), 1.0);
    const Eigen::Vector3d normal =
        Eigen::Vector3d(random.uniform(-0.8, 0.8), random.uniform(-0.8, 0.8), -1.0).normalized();
    const Eigen::Vector3d u = normal.unitOrthogonal(), v = normal.cross(u);
    // The ellipse through pictures of the rim, by algebra that knows nothing of circle_view.cpp.
    Eigen::Matrix<double, 60, 5> design;
    const Eigen::Vector2d about = calib::project(camera, centre);
    for (int i = 0; i < 60; ++i) {
      const double t = 0.1047 * i;
      const Eigen::Vector2d q =
          calib::project(camera,
                         Eigen::Vector3d(centre + 0.02 * (std::cos(t) * u + std::sin(t) * v))) -
          about;
      design.row(i) << q.x() * q.x(), 2.0 * q.x() * q.y(), q.y() * q.y(), q.x(), q.y();
    }
    const Eigen::Matrix<double, 5, 1> c =
        design.colPivHouseholderQr().solve(Eigen::Matrix<double, 60, 1>::Ones());
    Eigen::Matrix2d m;
    m << c[0], c[1], c[1], c[2];
    const Eigen::Vector2d offset = -0.5 * m.inverse() * c.tail<2>();
    const Ellipse ellipse{about + offset, m / (1.0 + offset.dot(m * offset))};
    const auto views = circle_views(camera, ellipse);
    ASSERT_TRUE(views);
    const double facing = normal.dot(centre) < 0.0 ? 1.0 : -1.0;
    const std::size_t right =
        (views->normal[0] - facing * normal).norm() < (views->normal[1] - facing * normal).norm()
            ? 0
            : 1;
    // Distortion makes the outline a little less than an ellipse.
    EXPECT_LT((views->normal[right] - facing * normal).norm(), 2e-3);
    EXPECT_LT((views->centre_px[right] - about).norm(), 2e-3);
    EXPECT_LT((*circle_centre_px(camera, ellipse, normal) - about).norm(), 2e-3);
  }
}

TEST(RefineRound, LeavesOutAShineOnTheRim) {
  DiscSpec spec;
  spec.shine_turn = 0.12;
  const Disc disc = make_disc(spec);
  RefineOptions options;
  options.camera = spec.camera;
  options.face_normal = disc.normal;
  const auto mark = refine_round({disc.pixels}, spec.centre_px, options);
  ASSERT_TRUE(mark) << short_reason(mark.error());
  EXPECT_LT((mark->position_px - spec.centre_px).norm(), 0.08);
}

TEST(RefineRound, RefusesWithItsReason) {
  const auto reason = [](const cv::Mat& pixels, const Eigen::Vector2d& at, double radius_px = 6.0) {
    RefineOptions options;
    options.radius_px = radius_px;
    options.camera = DiscSpec().camera;
    const auto mark = refine_round({pixels}, at, options);
    return mark ? "none" : std::string(short_reason(mark.error()));
  };
  const DiscSpec plain;
  const cv::Mat disc = make_disc(plain).pixels;
  EXPECT_EQ(reason(disc, {2.0, 70.0}), short_reason(MarkRefusal::kLeavesPhoto));
  EXPECT_EQ(reason(disc, {std::nan(""), 70.0}), short_reason(MarkRefusal::kLeavesPhoto));
  EXPECT_EQ(reason(cv::Mat(), {70.0, 70.0}), short_reason(MarkRefusal::kLeavesPhoto));
  EXPECT_EQ(reason(cv::Mat(140, 140, CV_8UC1, cv::Scalar(90)), {70.0, 70.0}),
            short_reason(MarkRefusal::kLowContrast));
  EXPECT_EQ(reason(disc, plain.centre_px + Eigen::Vector2d(3.0, 0.0), 1.5),
            short_reason(MarkRefusal::kWouldJump));
  DiscSpec bright;
  bright.inside = 255.0;
  bright.development.noise_grey = 0.5;
  EXPECT_EQ(reason(make_disc(bright).pixels, bright.centre_px),
            short_reason(MarkRefusal::kSaturated));
  DiscSpec tiny;
  tiny.radius_px = 1.2;
  EXPECT_EQ(reason(make_disc(tiny).pixels, tiny.centre_px), short_reason(MarkRefusal::kTooSmall));
  DiscSpec hidden;
  hidden.shine_turn = 0.3;
  hidden.shine = hidden.outside;
  EXPECT_EQ(reason(make_disc(hidden).pixels, hidden.centre_px), short_reason(MarkRefusal::kHidden));
}

}  // namespace
}  // namespace measure
