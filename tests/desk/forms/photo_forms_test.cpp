// Cameras and photographs into a dossier, with real files.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <opencv2/imgcodecs.hpp>

#include "tests/support/desk_dossier.h"
#include "tools/desk/forms/add_photos_form.h"
#include "tools/desk/forms/cameras_form.h"

namespace {

using namespace desk;
using testing::HasSubstr;
using testing_support::DeskDossier;
using testing_support::ScratchFolder;
using testing_support::wait_until;

/// A small picture that no other seed makes.
void put_picture(const std::filesystem::path& file, int width, int height, int seed) {
  cv::Mat pixels(height, width, CV_8UC1);
  cv::RNG random(static_cast<std::uint64_t>(seed) + 1);
  random.fill(pixels, cv::RNG::UNIFORM, 0, 255);
  ASSERT_TRUE(cv::imwrite(file.string(), pixels));
}

/// The simulated dossier and a second camera of small pictures.
struct PhotoFormsTest : testing::Test {
  void SetUp() override {
    calib::Camera small = desk.survey.cameras.at("body");
    small.name = "small";
    small.image_size = {160, 120};
    small.intrinsics = {150, 150, 80, 60, 0, 0, 0, 0, 0};
    ASSERT_TRUE(calib::write_camera(outside / "small.json", small));
  }
  void add_camera() {
    CamerasForm cameras(desk.session.get());
    cameras.enter_file(outside / "small.json");
    ASSERT_TRUE(wait_until([&] { return !cameras.busy(); }));
    ASSERT_NE(desk.session->dossier().find_camera("small"), nullptr);
  }

  DeskDossier desk;
  ScratchFolder outside;
};

TEST_F(PhotoFormsTest, AddsWhatCanBeAddedAndSaysWhyTheRestCannot) {
  add_camera();
  put_picture(outside / "bow.png", 160, 120, 1);
  put_picture(outside / "stern.png", 160, 120, 2);
  put_picture(outside / "large.png", 200, 120, 3);
  std::filesystem::copy_file(outside / "bow.png", outside / "twin.png");
  testing_support::put(outside / "text.jpg", "no picture");
  AddPhotosForm form(desk.session.get());
  form.show();
  form.add({outside.path(), outside / "missing.png"});  // a folder: its pictures; and a file
  ASSERT_EQ(form.files()->files().size(), 6u);
  form.findChild<QComboBox*>("add_photos.camera")->setCurrentText("small");
  QTest::keyClick(&form, Qt::Key_Return);
  EXPECT_TRUE(form.busy());
  ASSERT_TRUE(wait_until([&] { return !form.busy(); }));
  const measure::Photo* bow = desk.session->dossier().find_photo("bow.png");
  ASSERT_NE(bow, nullptr) << form.sentence()->sentence().toStdString();
  EXPECT_NE(desk.session->dossier().find_photo("stern.png"), nullptr);
  EXPECT_EQ(desk.session->dossier().photos.size(), 9u);
  EXPECT_EQ(bow->file, "photos/bow.png");
  EXPECT_EQ(bow->camera, "small");
  EXPECT_EQ(bow->sha256, *calib::sha256_of_file(desk.folder / "photos/bow.png"));
  EXPECT_EQ(form.files()->files().size(), 4u);
  const auto state = [&](const char* name) {
    return form.files()->state(outside / name).toStdString();
  };
  EXPECT_THAT(state("large.png"), HasSubstr("200 x 120"));
  EXPECT_THAT(state("twin.png"), HasSubstr("the same picture"));
  EXPECT_THAT(state("text.jpg"), HasSubstr("no JPEG"));
  EXPECT_THAT(state("missing.png"), HasSubstr("no such file"));
  EXPECT_FALSE(std::filesystem::exists(desk.folder / "photos/twin.png"));
  EXPECT_THAT(form.sentence()->sentence().toStdString(), HasSubstr("added: 2. Not added: 4"));
  testing_support::show_if_asked(form, "add_photos");
  // One edit: one step back.
  desk.session->undo();
  desk.session->finish_edits();
  EXPECT_EQ(desk.session->dossier().photos.size(), 7u);
}

TEST_F(PhotoFormsTest, LeavesPhotosWhereTheyLieWhenAsked) {
  add_camera();
  put_picture(outside / "bow.png", 160, 120, 1);
  AddPhotosForm form(desk.session.get());
  form.show();
  form.add({outside / "bow.png"});
  form.findChild<QComboBox*>("add_photos.camera")->setCurrentText("small");
  form.findChild<QRadioButton*>("add_photos.refer")->click();
  QTest::keyClick(&form, Qt::Key_Return);
  ASSERT_TRUE(wait_until([&] { return !form.busy(); }));
  ASSERT_NE(desk.session->dossier().find_photo("bow.png"), nullptr);
  EXPECT_EQ(desk.session->file_of(*desk.session->dossier().find_photo("bow.png")),
            outside / "bow.png");
  EXPECT_FALSE(std::filesystem::exists(desk.folder / "photos"));
}

TEST_F(PhotoFormsTest, CancelledNothingIsAddedAndNothingIsLeftBehind) {
  add_camera();
  for (int i = 0; i < 12; ++i) {
    put_picture(outside / ("p" + std::to_string(i) + ".png"), 160, 120, i);
  }
  const auto before = testing_support::snapshot(desk.folder.path());
  AddPhotosForm form(desk.session.get());
  form.show();
  form.add({outside.path()});
  form.findChild<QComboBox*>("add_photos.camera")->setCurrentText("small");
  QTest::keyClick(&form, Qt::Key_Return);
  QTest::keyClick(&form, Qt::Key_Escape);
  EXPECT_FALSE(form.busy());
  EXPECT_TRUE(form.isVisible());
  EXPECT_THAT(form.sentence()->sentence().toStdString(), HasSubstr("Cancelled"));
  // The thread may still be at its last file: what it copied goes when it is done.
  EXPECT_TRUE(wait_until([&] { return testing_support::snapshot(desk.folder.path()) == before; }));
  EXPECT_EQ(desk.session->dossier().photos.size(), 7u);
}

TEST_F(PhotoFormsTest, WithoutACameraItSaysWhatToDoFirst) {
  ScratchFolder folder;
  measure::Dossier dossier;
  dossier.name = "empty";
  ASSERT_TRUE(measure::create_dossier(folder.path(), dossier));
  auto session = DeskSession::open(folder.path());
  ASSERT_TRUE(session);
  AddPhotosForm form(session->get());
  form.show();
  EXPECT_THAT(form.sentence()->sentence().toStdString(), HasSubstr("no camera yet"));
  EXPECT_FALSE(form.deed()->isEnabled());
}

TEST_F(PhotoFormsTest, LensAndBodyEntersReplacesAndAssigns) {
  CamerasForm form(desk.session.get());
  form.show();
  form.enter_file(outside / "small.json");
  ASSERT_TRUE(wait_until([&] { return !form.busy(); }));
  EXPECT_EQ(form.chosen(), "small");
  EXPECT_TRUE(std::filesystem::exists(desk.folder / "cameras/small.json"));
  // Another file under the same name is not taken for the same camera.
  calib::Camera other = *calib::read_camera(outside / "small.json");
  other.intrinsics.fx += 1;
  ASSERT_TRUE(calib::write_camera(outside / "other.json", other));
  form.enter_file(outside / "other.json");
  ASSERT_TRUE(wait_until([&] { return !form.busy(); }));
  EXPECT_TRUE(form.sentence()->is_problem());
  form.replace_file(outside / "other.json");
  ASSERT_TRUE(wait_until([&] { return !form.busy(); }));
  EXPECT_DOUBLE_EQ(desk.session->cameras().at("small").intrinsics.fx, other.intrinsics.fx);
  EXPECT_TRUE(std::filesystem::exists(desk.folder / "cameras/small.json"));  // still traceable
  // A photo goes to a camera of its size only; its marks stay.
  auto* photos = form.findChild<QTreeWidget*>("cameras.photos");
  photos->topLevelItem(0)->setSelected(true);
  form.assign_selected();
  EXPECT_THAT(form.sentence()->sentence().toStdString(), HasSubstr("4000 x 3000"));
  calib::Camera twin = desk.survey.cameras.at("body");
  twin.name = "body, refocused";
  ASSERT_TRUE(calib::write_camera(outside / "twin.json", twin));
  form.enter_file(outside / "twin.json");
  ASSERT_TRUE(wait_until([&] { return !form.busy(); }));
  const auto marks = desk.session->dossier().marks;
  form.findChild<QTreeWidget*>("cameras.photos")->topLevelItem(0)->setSelected(true);
  form.findChild<QPushButton*>("cameras.assign")->click();
  EXPECT_EQ(desk.session->dossier().photos[0].camera, "body, refocused");
  EXPECT_EQ(desk.session->dossier().marks, marks);
  testing_support::show_if_asked(form, "cameras");
}

TEST_F(PhotoFormsTest, LensAndBodySetsHowTheSurveyTakesACamera) {
  ASSERT_TRUE(desk.wait_for_survey());
  CamerasForm form(desk.session.get());
  form.show();
  auto* parameters = form.findChild<QTableWidget*>("cameras.parameters");
  ASSERT_EQ(parameters->rowCount(), 9);
  EXPECT_THAT(parameters->item(0, 1)->text().toStdString(), HasSubstr("± 0.90 px"));
  EXPECT_THAT(parameters->item(0, 2)->text().toStdString(), HasSubstr("±"));
  auto* use = form.findChild<QComboBox*>("cameras.use");
  use->setFocus();
  QTest::keyClick(use, Qt::Key_Up);
  EXPECT_EQ(desk.session->dossier().cameras[0].use, measure::CameraUse::kFixed);
  desk.session->undo();
  desk.session->finish_edits();
  EXPECT_EQ(use->currentIndex(), 1);
}

}  // namespace
