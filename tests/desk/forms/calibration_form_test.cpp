// The calibration inside the desk, with the photographs of a checkerboard that come with OpenCV's
// documentation (Debian package opencv-doc; 9 x 6 inner corners, 640 x 480 pixels).
#include "tools/desk/forms/calibration_form.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/desk_dossier.h"

namespace {

using namespace desk;
using testing::HasSubstr;
using testing_support::DeskDossier;
using testing_support::ScratchFolder;
using testing_support::wait_until;

struct CalibrationFormTest : testing::Test {
  void SetUp() override {
    for (const int i : {1, 2, 3, 4, 5, 6, 7, 8}) {
      char name[32];
      std::snprintf(name, sizeof name, "left%02d.jpg", i);
      const auto file = std::filesystem::path(SCANTLING_OPENCV_DATA) / name;
      if (!std::filesystem::exists(file)) GTEST_SKIP() << file << " is not installed";
      photos.push_back(file);
    }
    form.show();
    form.files()->add(photos);
  }
  void type(const char* field, const char* words) {
    auto* line = form.findChild<QLineEdit*>(QStringLiteral("calibration.") + field);
    line->selectAll();
    QTest::keyClick(line, Qt::Key_Delete);
    QTest::keyClicks(line, words);
  }

  DeskDossier desk;
  ScratchFolder outside;
  std::vector<std::filesystem::path> photos;
  CalibrationForm form{desk.session.get()};
};

TEST_F(CalibrationFormTest, MakesACameraShowsItAndEntersIt) {
  testing_support::put(outside / "blank.jpg", "no picture");
  form.files()->add({outside / "blank.jpg"});
  type("inner", "9 x 6");
  type("square", "25");
  type("name", "bench camera");
  QTest::keyClick(&form, Qt::Key_Return);
  ASSERT_TRUE(form.busy());
  ASSERT_TRUE(wait_until([&] { return !form.busy(); }));
  ASSERT_NE(form.result(), nullptr) << form.sentence()->sentence().toStdString();
  // The form shows what calib::calibrate says, for the same photographs.
  calib::CalibrateOptions options;
  options.camera_name = "bench camera";
  const auto expected =
      calib::calibrate(form.files()->files(), calib::BoardSpec{9, 6, 25}, options);
  ASSERT_TRUE(expected) << expected.error().sentence;
  EXPECT_NEAR(form.result()->camera.intrinsics.fx, expected->camera.intrinsics.fx, 1e-6);
  auto* parameters = form.findChild<QTableWidget*>("calibration.parameters");
  ASSERT_EQ(parameters->rowCount(), 9);
  EXPECT_THAT(parameters->item(0, 1)->text().toStdString(), HasSubstr("±"));
  EXPECT_THAT(form.files()->state(photos[0]).toStdString(), HasSubstr("used, rms"));
  EXPECT_THAT(form.files()->state(outside / "blank.jpg").toStdString(), HasSubstr("▲"));
  EXPECT_TRUE(form.findChild<SvgPicture*>("calibration.coverage")->has_picture());
  EXPECT_TRUE(form.findChild<SvgPicture*>("calibration.residuals")->has_picture());
  EXPECT_EQ(form.findChild<QLabel*>("calibration.warnings")->text().contains("▲"),
            !form.result()->camera.warnings.empty());
  for (int tab = 0; tab < 4; ++tab) {
    form.findChild<QTabWidget*>("calibration.tabs")->setCurrentIndex(tab);
    testing_support::show_if_asked(form, "calibration" + std::to_string(tab));
  }
  form.findChild<QPushButton*>("calibration.save")->click();
  ASSERT_TRUE(wait_until([&] { return !form.busy(); }));
  const measure::CameraEntry* entry = desk.session->dossier().find_camera("bench camera");
  ASSERT_NE(entry, nullptr) << form.sentence()->sentence().toStdString();
  EXPECT_EQ(entry->file, "cameras/bench camera.json");
  EXPECT_EQ(desk.session->cameras().at("bench camera").photos.size(), 9u);
  // Saved again it is the same camera with a new file, and the old file stays to be traced.
  form.findChild<QPushButton*>("calibration.save")->click();
  ASSERT_TRUE(wait_until([&] { return !form.busy(); }));
  EXPECT_EQ(desk.session->dossier().cameras.size(), 2u);
  EXPECT_TRUE(std::filesystem::exists(desk.folder / "cameras/bench camera.json"));
}

TEST_F(CalibrationFormTest, SaysWhatIsWrongBeforeAndAfter) {
  type("inner", "nine");
  type("square", "25 mm");
  type("name", "bench camera");
  QTest::keyClick(&form, Qt::Key_Return);
  EXPECT_FALSE(form.busy());
  EXPECT_THAT(
      form.findChild<SentenceLabel*>("calibration.inner.sentence")->sentence().toStdString(),
      HasSubstr("like 9 x 6"));
  type("inner", "11 x 4");  // no such board
  QTest::keyClick(&form, Qt::Key_Return);
  ASSERT_TRUE(wait_until([&] { return !form.busy(); }));
  EXPECT_EQ(form.result(), nullptr);
  EXPECT_THAT(form.sentence()->sentence().toStdString(), HasSubstr("photos can be used"));
  EXPECT_FALSE(form.findChild<QPushButton*>("calibration.save")->isEnabled());
}

TEST_F(CalibrationFormTest, CancelsWithoutMakingAnything) {
  const auto before = testing_support::snapshot(desk.folder.path());
  type("inner", "9x6");
  type("square", "25 mm");
  type("name", "bench camera");
  QTest::keyClick(&form, Qt::Key_Return);
  QTest::keyClick(&form, Qt::Key_Escape);
  EXPECT_FALSE(form.busy());
  EXPECT_THAT(form.sentence()->sentence().toStdString(), HasSubstr("Cancelled"));
  QTest::qWait(50);
  EXPECT_EQ(form.result(), nullptr);
  EXPECT_EQ(testing_support::snapshot(desk.folder.path()), before);
}

}  // namespace
