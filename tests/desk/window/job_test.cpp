// The whole job at the desk, with the demo's photographs: from an empty folder to a dimension whose
// ± U holds the truth.
#include <QAbstractItemView>
#include <QAction>
#include <QApplication>
#include <QComboBox>
#include <QFile>
#include <QFileDialog>
#include <QLabel>
#include <QTemporaryDir>
#include <QTest>
#include <algorithm>
#include <filesystem>
#include <fstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "measure/store/dossier_file.h"
#include "tests/desk/window/person.h"
#include "tools/desk/forms/add_photos_form.h"
#include "tools/desk/forms/bar_form.h"
#include "tools/desk/forms/calibration_form.h"
#include "tools/desk/forms/dimension_maker.h"
#include "tools/desk/forms/new_dossier_form.h"
#include "tools/desk/photos/photo_pane.h"
#include "tools/desk/sheets/sheets.h"
#include "tools/desk/sightings/sightings.h"

namespace testing_desk {
namespace {

namespace fs = std::filesystem;
using testing::HasSubstr;

const fs::path kDemo = fs::path(SCANTLING_DATASETS) / "hauler";

std::vector<fs::path> files_in(const fs::path& folder) {
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(folder)) files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  return files;
}

/// Twelve points of the original, and the marks that the maker of marks.csv set in six photos of
/// each. Only the demo's truth says where they are; the desk never sees it.
struct Plan {
  std::vector<std::string> photos, points;
  std::map<std::pair<std::string, std::string>, Eigen::Vector2d> places;
  std::map<std::string, Eigen::Vector3d> truth_mm;
};

Eigen::Vector3d vector_of(const nlohmann::json& v) {
  return {v[0].get<double>(), v[1].get<double>(), v[2].get<double>()};
}

Plan make_plan() {
  Plan plan;
  const auto json = nlohmann::json::parse(std::ifstream(kDemo / "truth.json"));
  const auto& c = json["camera"];
  const calib::Intrinsics camera{c["fx"], c["fy"], c["cx"], c["cy"], c["k1"],
                                 c["k2"], c["p1"], c["p2"], c["k3"]};
  for (const auto& [name, at] : json["points_mm"].items()) plan.truth_mm[name] = vector_of(at);
  for (const auto& [name, at] : json["targets_mm"].items()) plan.truth_mm[name] = vector_of(at);
  const auto seen_in = [&](const std::string& table) {
    std::map<std::string, std::vector<std::string>> seen;
    std::ifstream csv(kDemo / table);
    for (std::string line; std::getline(csv, line);) {
      if (!line.starts_with("hauler_")) continue;
      const auto comma = line.find(',');
      std::string point = line.substr(comma + 1);
      point = point.starts_with('"') ? point.substr(1, point.find('"', 1) - 1)
                                     : point.substr(0, point.find(','));
      seen[point].push_back(line.substr(0, comma));
    }
    return seen;
  };
  plan.photos = {"hauler_09.jpg", "hauler_10.jpg", "hauler_11.jpg",
                 "hauler_12.jpg", "hauler_13.jpg", "hauler_14.jpg"};
  for (const char* table : {"targets.csv", "marks.csv"}) {
    for (const auto& [point, photos] : seen_in(table)) {
      const bool everywhere =
          std::all_of(plan.photos.begin(), plan.photos.end(), [&](const std::string& photo) {
            return std::find(photos.begin(), photos.end(), photo) != photos.end();
          });
      if (everywhere && plan.truth_mm.contains(point) && plan.points.size() < 12) {
        plan.points.push_back(point);
      }
    }
  }
  for (const std::string& photo : plan.photos) {
    const auto& p = json["photos"][photo];
    Eigen::Matrix3d rotation;
    for (int row = 0; row < 3; ++row) rotation.row(row) = vector_of(p["rotation"][row]);
    const auto pose = calib::Pose::from_matrix(rotation, vector_of(p["translation_mm"]));
    for (const std::string& point : plan.points) {
      plan.places[{photo, point}] = calib::project(camera, pose, plan.truth_mm.at(point));
    }
  }
  return plan;
}

class Desk : public testing::Test {
 protected:
  Desk() : settings_(scratch_.filePath("settings.ini"), QSettings::IniFormat) {}

  [[nodiscard]] QString folder() const { return scratch_.filePath("original"); }
  [[nodiscard]] std::string said() const { return window_->messages()->text().toStdString(); }

  void open_window() {
    window_ = std::make_unique<desk::DeskWindow>(&settings_);
    window_->resize(1500, 950);
    window_->show();
    EXPECT_TRUE(QTest::qWaitForWindowActive(window_.get()));
    person_ = std::make_unique<Person>(*window_);
  }

  void make_dossier() {
    person_->trigger("dossier.new");
    person_->type("new_dossier.folder", folder());
    person_->type("new_dossier.name", "Ore hauler");
    person_->press("new_dossier.deed");
    ASSERT_TRUE(wait_until([&] { return window_->session() != nullptr; }));
  }

  void calibrate() {
    person_->trigger("dossier.calibrate");
    auto* form = window_->findChild<desk::CalibrationForm*>();
    ASSERT_NE(form, nullptr);
    form->files()->add(files_in(kDemo / "board"));
    person_->type("calibration.inner", "11x8");
    person_->type("calibration.square", "20 mm");
    person_->type("calibration.name", "body");
    ASSERT_TRUE(form->deed()->isEnabled());
    person_->press("calibration.deed");
    ASSERT_TRUE(form->busy()) << person_->problems();
    ASSERT_TRUE(wait_until([&] { return !form->busy(); }, 120000));
    ASSERT_NE(form->result(), nullptr) << form->sentence()->text().toStdString();
    person_->press("calibration.save");
    ASSERT_TRUE(wait_until([&] { return !form->busy(); }));
    ASSERT_EQ(window_->session()->cameras().size(), 1u) << form->sentence()->text().toStdString();
    form->close();
  }

  void add_photos(const std::vector<std::string>& names) {
    person_->trigger("dossier.photos");
    auto* form = window_->findChild<desk::AddPhotosForm*>();
    ASSERT_NE(form, nullptr);
    std::vector<fs::path> files;
    for (const std::string& name : names) files.push_back(kDemo / "photos" / name);
    form->add(files);
    person_->press("add_photos.deed");
    ASSERT_TRUE(wait_until(
        [&] { return window_->session()->dossier().photos.size() == names.size(); }, 60000))
        << form->sentence()->text().toStdString();
    form->close();
  }

  void add_bar(const std::string& from, const std::string& to, const QString& length) {
    person_->trigger("dossier.bar");
    person_->type("bar_form.from", QString::fromStdString(from));
    person_->type("bar_form.to", QString::fromStdString(to));
    person_->type("bar_form.length", length);
    person_->type("bar_form.u_own", "0.02 mm");
    person_->press("bar_form.deed");
    auto* form = window_->findChild<desk::BarForm*>();
    ASSERT_NE(form, nullptr);
    EXPECT_EQ(window_->session()->dossier().bars.size(), 1u)
        << form->sentence()->text().toStdString();
    form->close();
  }

  QTemporaryDir scratch_;
  QSettings settings_;
  std::unique_ptr<desk::DeskWindow> window_;
  std::unique_ptr<Person> person_;
};

TEST_F(Desk, DoesTheWholeJobFromAnEmptyFolderToADimensionThatHoldsTheTruth) {
  const Plan plan = make_plan();
  ASSERT_EQ(plan.points.size(), 12u);
  open_window();
  ASSERT_NO_FATAL_FAILURE(make_dossier());
  ASSERT_NO_FATAL_FAILURE(calibrate());
  ASSERT_NO_FATAL_FAILURE(add_photos(plan.photos));

  // Twelve points, each in six photos. The two that are to be the scale bar come first.
  window_->show_bench(desk::DeskWindow::Bench::kSightings);
  int marks = 0;
  for (const std::string& point : plan.points) {
    person_->new_point(QString::fromStdString(point));
    for (const std::string& photo : plan.photos) {
      if (!window_->session()->mark_at(photo, point)) {
        person_->click_sighting(photo, plan.places.at({photo, point}));
      }
      const measure::Mark* mark = window_->session()->mark_at(photo, point);
      ASSERT_NE(mark, nullptr) << point << " in " << photo;
      EXPECT_LT((mark->position_px - plan.places.at({photo, point})).norm(), 1.5)
          << point << " in " << photo;
      ++marks;
    }
  }
  EXPECT_EQ(marks, 72);

  // The length of the bar as a rule would give it: truth, rounded to its own uncertainty.
  const std::string &a = plan.points[0], &b = plan.points[1];
  const double length = (plan.truth_mm.at(a) - plan.truth_mm.at(b)).norm();
  add_bar(a, b, QString::number(length, 'f', 2).replace('.', ',') + " mm");

  // A dimension by picking its points.
  const std::string &c = plan.points[2], &d = plan.points[3];
  person_->trigger("dimension.distance");
  window_->session()->pick_point(c);
  window_->session()->pick_point(d);
  auto* maker = window_->findChild<desk::DimensionMaker*>();
  ASSERT_NE(maker, nullptr);
  EXPECT_TRUE(maker->isVisible());
  EXPECT_TRUE(maker->kind()) << maker->role_text().toStdString();
  maker->name_line()->setText("the way across");
  QTest::keyClick(maker->name_line(), Qt::Key_Return);
  ASSERT_EQ(window_->session()->dossier().dimensions.size(), 1u) << person_->problems();
  person_->settle();
  ASSERT_TRUE(wait_until([&] { return window_->session()->live()->tested; }));
  const auto live = window_->session()->live();
  ASSERT_TRUE(live->survey) << live->problem->sentence;
  ASSERT_FALSE(live->dimensions.empty());
  const measure::DimensionResult& result = live->dimensions.front();
  ASSERT_TRUE(result.problem.empty()) << result.problem;
  const double truth = (plan.truth_mm.at(c) - plan.truth_mm.at(d)).norm();
  EXPECT_NEAR(result.value, truth, result.U);
  EXPECT_GT(result.U, 0.0);
  EXPECT_LT(result.U, 1.0);

  // What stands in the table is what was found.
  auto* tables = person_->find<QTabWidget>("side");
  tables->setCurrentIndex(0);
  const auto* table = tables->currentWidget()->findChild<QAbstractItemView*>();
  ASSERT_NE(table, nullptr);
  bool shown = false;
  for (int column = 0; column < table->model()->columnCount(); ++column) {
    shown = shown || table->model()->index(0, column).data().toString().toStdString() ==
                         measure::result_text(result, measure::TextUnit::kMm);
  }
  EXPECT_TRUE(shown);

  // The sheets: made, looked at, written into the folder that is named.
  person_->trigger("dossier.sheets");
  EXPECT_EQ(window_->bench(), desk::DeskWindow::Bench::kSheets);
  desk::Sheets* sheets = window_->sheets();
  person_->press("sheets.make_button");
  ASSERT_TRUE(wait_until([&] { return !sheets->maker().busy(); })) << person_->problems();
  ASSERT_NE(sheets->maker().made(), nullptr) << person_->problems();
  EXPECT_GE(sheets->view()->pdf().pageCount(), 2);
  person_->press("sheets.write_button");
  auto* where = person_->find<QFileDialog>("sheets.folder");
  ASSERT_NE(where, nullptr);
  const fs::path out = folder().toStdString() + "/sheets";
  fs::create_directories(out);
  where->selectFile(QString::fromStdString(out.string()));
  static_cast<QDialog*>(where)->accept();
  ASSERT_TRUE(wait_until([&] { return fs::exists(out / "dimensions.html"); }))
      << person_->problems();
  ASSERT_TRUE(wait_until([&] { return !sheets->maker().busy(); }));
  std::ifstream page(out / "dimensions.html");
  const std::string html((std::istreambuf_iterator<char>(page)), {});
  EXPECT_THAT(html, HasSubstr(measure::result_text(result, measure::TextUnit::kMm)));
  window_->show_bench(desk::DeskWindow::Bench::kSightings);

  // Undo and redo, by their keys; in a line they would be the line's own.
  QTest::keyClick(maker->name_line(), Qt::Key_Escape);
  EXPECT_FALSE(maker->isVisible());
  const measure::Dossier before = window_->session()->dossier();
  person_->trigger("edit.undo");
  window_->session()->finish_edits();
  EXPECT_TRUE(window_->session()->dossier().dimensions.empty());
  person_->trigger("edit.undo");
  window_->session()->finish_edits();
  EXPECT_TRUE(window_->session()->dossier().bars.empty());
  person_->trigger("edit.redo");
  person_->trigger("edit.redo");
  window_->session()->finish_edits();
  EXPECT_EQ(window_->session()->dossier(), before);

  // A second desk on the same dossier looks on, and says so.
  QSettings other_settings(scratch_.filePath("other.ini"), QSettings::IniFormat);
  desk::DeskWindow other(&other_settings);
  other.show();
  ASSERT_TRUE(other.open_dossier(folder()));
  EXPECT_THAT(other.messages()->text().toStdString(), HasSubstr("open"));
  EXPECT_FALSE(other.session()->change(measure::SetDossierName{"Mine"}));
  EXPECT_EQ(other.session()->dossier(), before);
  other.close();

  // Closed and opened again: the same dossier, at the same place.
  window_->session()->choose_point(plan.points[5]);
  window_->sightings()->set_refine_as(desk::RefineAs::kCorner);
  window_->sightings()->marker().set_pattern_photo(plan.photos[3]);
  window_->session()->choose_photo(plan.photos[4]);
  window_->show_bench(desk::DeskWindow::Bench::kPhoto);
  window_->close();
  window_.reset();
  open_window();
  ASSERT_TRUE(window_->open_dossier(folder()));
  EXPECT_EQ(window_->session()->dossier(), before);
  EXPECT_EQ(window_->session()->chosen_point(), plan.points[5]);
  EXPECT_EQ(window_->session()->chosen_photo(), plan.photos[4]);
  EXPECT_EQ(window_->bench(), desk::DeskWindow::Bench::kPhoto);
  EXPECT_EQ(window_->sightings()->marker().refine_as(), desk::RefineAs::kCorner);
  EXPECT_EQ(person_->find<QComboBox>("sightings.refine_as")->currentIndex(),
            static_cast<int>(desk::RefineAs::kCorner));
  EXPECT_EQ(window_->sightings()->marker().pattern_photo(), plan.photos[3]);
}

TEST_F(Desk, SaysWhyWhatIsNoDossierCannotBeOpened) {
  open_window();
  EXPECT_FALSE(window_->open_dossier(scratch_.path()));
  EXPECT_THAT(said(), HasSubstr("dossier.json"));
  EXPECT_EQ(window_->session(), nullptr);

  ASSERT_TRUE(fs::create_directory(folder().toStdString()));
  QFile file(folder() + "/dossier.json");
  ASSERT_TRUE(file.open(QIODevice::WriteOnly));
  file.write("{\"scantling\": ");
  file.close();
  EXPECT_FALSE(window_->open_dossier(folder()));
  EXPECT_THAT(said(), HasSubstr("dossier.json"));
  EXPECT_EQ(window_->session(), nullptr);
}

TEST_F(Desk, RefusesWrongInputWithASentenceAndChangesNothing) {
  open_window();
  make_dossier();
  // A photograph that is none.
  QFile file(scratch_.filePath("notes.jpg"));
  ASSERT_TRUE(file.open(QIODevice::WriteOnly));
  file.write("no picture");
  file.close();
  person_->trigger("dossier.calibrate");
  auto* form = window_->findChild<desk::CalibrationForm*>();
  ASSERT_NE(form, nullptr);
  form->files()->add({scratch_.filePath("notes.jpg").toStdString()});
  person_->type("calibration.inner", "9x6");
  person_->type("calibration.name", "body");
  person_->type("calibration.square", "twenty");
  person_->press("calibration.deed");
  EXPECT_EQ(form->result(), nullptr);
  person_->type("calibration.square", "25 mm");
  person_->press("calibration.deed");
  ASSERT_TRUE(wait_until([&] { return !form->busy(); }));
  EXPECT_EQ(form->result(), nullptr);
  EXPECT_FALSE(form->sentence()->text().isEmpty());
  EXPECT_TRUE(window_->session()->cameras().empty());
  form->close();

  // A bar between points that are not there.
  const measure::Dossier before = window_->session()->dossier();
  person_->trigger("dossier.bar");
  person_->type("bar_form.from", "here");
  person_->type("bar_form.to", "there");
  person_->type("bar_form.length", "300");
  person_->press("bar_form.deed");
  EXPECT_EQ(window_->session()->dossier(), before);

  // Edits that contradict the dossier.
  EXPECT_FALSE(window_->session()->change(measure::RemovePoint{"nobody"}));
  EXPECT_THAT(said(), HasSubstr("nobody"));
  EXPECT_EQ(window_->session()->dossier(), before);
}

TEST_F(Desk, WorksWithoutADossierOpen) {
  open_window();
  for (QAction* action : window_->findChildren<QAction*>()) {
    if (action->objectName().startsWith("dossier.") || action->objectName().startsWith("edit.") ||
        action->objectName().startsWith("dimension.") || action->objectName().startsWith("show.")) {
      const bool opens =
          action->objectName() == "dossier.new" || action->objectName() == "dossier.open";
      if (!opens && action->isEnabled()) action->trigger();
    }
  }
  EXPECT_EQ(window_->session(), nullptr);
}

TEST_F(Desk, FitsASmallScreen) {
  open_window();
  make_dossier();
  for (const auto bench :
       {desk::DeskWindow::Bench::kSightings, desk::DeskWindow::Bench::kContactSheet,
        desk::DeskWindow::Bench::kPhoto, desk::DeskWindow::Bench::kStand}) {
    window_->show_bench(bench);
    QTest::qWait(20);
    // A common laptop: 1366 x 768, less the frame and a panel.
    EXPECT_LE(window_->minimumSizeHint().width(), 1200);
    EXPECT_LE(window_->minimumSizeHint().height(), 680);
  }
}

TEST_F(Desk, HasAKeyForEveryActionAndNoKeyTwiceInOnePlace) {
  open_window();
  make_dossier();
  for (const desk::KeyEntry& entry : window_->keys()->entries()) {
    ASSERT_TRUE(entry.action) << entry.id.toStdString();
    EXPECT_FALSE(entry.action->text().isEmpty()) << entry.id.toStdString();
    EXPECT_EQ(window_->keys()->taken_by(entry.id, entry.action->shortcut()).toStdString(), "")
        << entry.id.toStdString() << " "
        << entry.action->shortcut().toString(QKeySequence::PortableText).toStdString();
  }
}

}  // namespace
}  // namespace testing_desk
