#include "calib/intrinsics/calibrate.h"

#include <atomic>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <set>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "calib/intrinsics/quality_pictures.h"
#include "tests/support/published_boards.h"

namespace calib {
namespace {

using testing::HasSubstr;
using testing_support::opencv_data;

std::vector<std::filesystem::path> left_photos() {
  std::vector<std::filesystem::path> photos;
  for (const std::string& file : testing_support::published_board_files("left"))
    photos.emplace_back(opencv_data(file));
  return photos;
}

TEST(Calibrate, MakesACompleteCameraFromPhotographs) {
  auto photos = left_photos();
  photos.insert(photos.begin() + 2, opencv_data("baboon.jpg"));  // no board
  photos.push_back(opencv_data("left03.jpg"));                   // the same view again
  std::set<std::string> reported;
  int last_done = 0;
  const auto calibration =
      calibrate(photos, {9, 6, 30.0}, {.camera_name = "left", .date = "2026-01-31"},
                [&](const CalibrateProgress& step) {
                  reported.insert(step.file);
                  EXPECT_EQ(step.done, last_done + 1);
                  last_done = step.done;
                  EXPECT_EQ(step.total, 15);
                  EXPECT_EQ(step.found, step.reason.empty());
                });
  ASSERT_TRUE(calibration) << calibration.error().sentence;
  EXPECT_EQ(last_done, 15);
  EXPECT_EQ(reported.size(), 14U);
  const Camera& camera = calibration->camera;
  EXPECT_EQ(camera.name, "left");
  EXPECT_EQ(camera.date, "2026-01-31");
  EXPECT_EQ(camera.image_size, (ImageSize{640, 480}));
  ASSERT_EQ(camera.photos.size(), 15U);
  EXPECT_EQ(camera.photos[2].file, "baboon.jpg");
  EXPECT_FALSE(camera.photos[2].used);
  EXPECT_THAT(camera.photos[2].reason, HasSubstr("baboon.jpg"));
  EXPECT_FALSE(camera.photos[2].rms_px);
  EXPECT_FALSE(camera.photos[14].used);
  EXPECT_THAT(camera.photos[14].reason, HasSubstr("just as left03.jpg"));
  for (const CalibrationPhoto& photo : camera.photos) EXPECT_EQ(photo.sha256.size(), 64U);
  ASSERT_TRUE(camera.board);
  EXPECT_TRUE(camera.board->shape_estimated);
  // CHECKS 1.7: the board is bent by some tenths of a millimetre.
  EXPECT_NEAR(*camera.board->flatness_mm, 0.5, 0.15);
  EXPECT_LT(*camera.board->flatness_u_mm, 0.05);
  EXPECT_LT(camera.rms_px, 0.08);
  EXPECT_TRUE(camera.covariance.allFinite());
  EXPECT_THAT(camera.warnings, testing::Contains(HasSubstr("upper left")));
  EXPECT_THAT(camera.warnings, testing::Not(testing::Contains(HasSubstr("focal length differs"))));

  for (const std::string& picture :
       {residual_picture(calibration->solution), coverage_picture(calibration->solution)}) {
    EXPECT_THAT(picture, testing::StartsWith("<svg"));
    EXPECT_THAT(picture, testing::EndsWith("</svg>\n"));
    EXPECT_EQ(picture.find("nan"), std::string::npos);
  }
}

TEST(Calibrate, GivesTheSameCameraWhateverTheOrderOfThePhotos) {
  auto photos = left_photos();
  const auto first = calibrate(photos, {9, 6, 30.0});
  std::reverse(photos.begin(), photos.end());
  const auto second = calibrate(photos, {9, 6, 30.0}, {.threads = 1});
  ASSERT_TRUE(first && second);
  for (int k = 0; k < kIntrinsicCount; ++k) {
    const double u = std::sqrt(first->camera.covariance(k, k));
    EXPECT_LT(
        std::abs(first->camera.intrinsics.vector()[k] - second->camera.intrinsics.vector()[k]),
        0.01 * u);
  }
}

TEST(Calibrate, ListsWhyTooFewPhotosAreLeft) {
  const std::vector<std::filesystem::path> photos = {opencv_data("left01.jpg"),
                                                     opencv_data("left02.jpg"),
                                                     opencv_data("baboon.jpg"), "nowhere.jpg"};
  const auto calibration = calibrate(photos, {9, 6, 30.0});
  ASSERT_FALSE(calibration);
  EXPECT_EQ(calibration.error().blame, Blame::kSurvey);
  EXPECT_THAT(calibration.error().sentence, HasSubstr("only 2 of 4 photos"));
  EXPECT_THAT(calibration.error().sentence, HasSubstr("baboon.jpg"));
  EXPECT_THAT(calibration.error().sentence, HasSubstr("nowhere.jpg"));
}

TEST(Calibrate, RefusesWithASentenceWhatMakesNoSense) {
  EXPECT_THAT(calibrate({}, {9, 6, 30.0}).error().sentence, HasSubstr("no photo given"));
  const auto photos = left_photos();
  EXPECT_FALSE(calibrate(photos, {1, 6, 30.0}));
  EXPECT_FALSE(calibrate(photos, {9, 6, -1.0}));
  EXPECT_FALSE(calibrate(photos, {9, 6, 30.0}, {.threads = 0}));
}

TEST(Calibrate, StopsWhenItIsAskedTo) {
  std::atomic<int> asked = 0;
  const auto calibration =
      calibrate(left_photos(), {9, 6, 30.0}, {}, {}, [&] { return ++asked > 5; });
  ASSERT_FALSE(calibration);
  EXPECT_THAT(calibration.error().sentence, HasSubstr("cancelled"));
}

TEST(Calibrate, LetsAnExceptionOfTheCallbackThroughInsteadOfEndingTheProgram) {
  EXPECT_THROW(
      (void)calibrate(left_photos(), {9, 6, 30.0}, {},
                      [](const CalibrateProgress&) { throw std::runtime_error("full disk"); }),
      std::runtime_error);
}

}  // namespace
}  // namespace calib
