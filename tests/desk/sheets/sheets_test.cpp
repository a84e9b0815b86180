// The real widgets: what is chosen is made, shown, and written, byte for byte what the command
// writes.
#include "tools/desk/sheets/sheets.h"

#include <QAction>
#include <QDesktopServices>
#include <QLabel>
#include <QPdfView>
#include <QSignalSpy>
#include <QTest>
#include <QUrl>
#include <algorithm>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "measure/store/results_file.h"
#include "tests/calib/file/scratch_folder.h"
#include "tests/desk/photos/demo_survey.h"
#include "tests/support/desk_dossier.h"

namespace desk {
namespace {

using testing::AllOf;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;
using testing_support::contents_of;
using testing_support::put;
using testing_support::snapshot;
using testing_support::wait_until;

namespace fs = std::filesystem;

class SheetsTest : public testing::Test {
 protected:
  SheetsTest() : keys_(nullptr) {
    testing_support::write_demo_survey(folder_ / "original");
    open();
    change(measure::SetScales{measure::ScaleRatio{48}, {measure::ScaleRatio{72}}});
    change(measure::AddShape{{"front", measure::PlaneThrough{{"P1", "P3", "P9", "P11"}}, ""},
                             std::nullopt});
    change(measure::AddDimension{{"breadth", measure::Distance{"P1", "P3"}}, std::nullopt});
    show();
  }

  void open() {
    auto opened = DeskSession::open(folder_ / "original");
    EXPECT_TRUE(opened) << (opened ? "" : opened.error().sentence);
    session_ = std::move(*opened);
  }
  void show() {
    sheets_ = std::make_unique<Sheets>(session_.get(), &keys_, &tolerance_);
    sheets_->resize(1000, 760);
    sheets_->show();
    EXPECT_TRUE(QTest::qWaitForWindowActive(sheets_.get()));
    sheets_->setFocus();
    type("sheets.date", "2025-05-17");
  }
  void change(const measure::Edit& edit) { ASSERT_TRUE(session_->change(edit)); }

  template <typename Widget>
  Widget* find(const char* name) {
    auto* found = sheets_->findChild<Widget*>(name);
    EXPECT_NE(found, nullptr) << name;
    return found;
  }
  void type(const char* field, const QString& words) {
    auto* line = find<QLineEdit>(field);
    line->selectAll();
    QTest::keyClicks(line, words);
    if (words.isEmpty()) QTest::keyClick(line, Qt::Key_Delete);
  }
  void press(const char* button) { QTest::mouseClick(find<QPushButton>(button), Qt::LeftButton); }
  void tick(const char* box, bool on) {
    if (find<QCheckBox>(box)->isChecked() != on) find<QCheckBox>(box)->click();
  }
  bool rest() {
    return wait_until([&] { return !sheets_->maker().busy(); });
  }
  std::string sentence() {
    return find<SentenceLabel>("sheets.sentence")->sentence().toStdString();
  }
  bool is_problem() { return find<SentenceLabel>("sheets.sentence")->is_problem(); }
  std::vector<std::string> listed() {
    std::vector<std::string> names;
    auto* files = find<QTreeWidget>("sheets.files");
    for (int i = 0; i < files->topLevelItemCount(); ++i) {
      const std::string name = files->topLevelItem(i)->text(0).toStdString();
      if (name.find("remarks") == std::string::npos) names.push_back(name);
    }
    return names;
  }
  std::string bytes_of(const std::string& name) {
    const auto made = sheets_->maker().made();
    for (const measure::SheetFile& file : made ? made->files : std::vector<measure::SheetFile>()) {
      if (file.name == name) return file.bytes;
    }
    ADD_FAILURE() << "there is no " << name;
    return {};
  }

  testing_support::ScratchFolder folder_;
  KeyBook keys_;
  Tolerance tolerance_;
  std::unique_ptr<DeskSession> session_;
  std::unique_ptr<Sheets> sheets_;
};

/// What the command does with the dossier, by the same functions.
std::map<std::string, std::string> as_the_command_makes_them(const fs::path& folder) {
  const auto dossier = measure::read_dossier(folder);
  const auto cameras = measure::read_cameras(folder, *dossier);
  const auto survey = measure::solve_survey(*dossier, *cameras);
  EXPECT_TRUE(survey) << (survey ? "" : survey.error().sentence);
  measure::SheetFilesOptions options;
  options.paper = *calib::paper_named("A4");
  options.sheet.date = "2025-05-17";
  options.sheet.dossier = folder.filename().string();
  options.sheet.fingerprint = measure::fingerprint(*dossier);
  options.sheet.photo_file = [&](const measure::Photo& photo) {
    return measure::path_of(folder, photo.file);
  };
  const auto made = measure::sheet_files(*survey, *dossier, *cameras, options);
  EXPECT_TRUE(made) << (made ? "" : made.error().sentence);
  std::map<std::string, std::string> files;
  for (const measure::SheetFile& file : made->files) files[file.name] = file.bytes;
  return files;
}

TEST_F(SheetsTest, WritesByteForByteWhatTheCommandWrites) {
  // Edits before, so that the live adjustment has gone another way than one from the beginning.
  change(measure::RemoveMarks{{{"a2.jpg", "P5"}}});
  ASSERT_TRUE(wait_until([&] { return session_->live()->tested; }));
  press("sheets.make_button");
  ASSERT_TRUE(rest());
  EXPECT_FALSE(is_problem()) << sentence();
  EXPECT_THAT(sentence(), HasSubstr("not written yet"));
  ASSERT_THAT(listed(), AllOf(Contains("dimensions.pdf"), Contains("dimensions.html"),
                              Contains("data/dimensions.csv")));
  const fs::path out = folder_ / "out";
  EXPECT_FALSE(fs::exists(out));

  fs::create_directories(out);
  put(out / "notes.txt", "the user's own");
  put(out / "dimensions.pdf", "of last week");
  sheets_->write_to(QString::fromStdString(out.string()));
  ASSERT_TRUE(rest());
  EXPECT_FALSE(is_problem()) << sentence();
  EXPECT_THAT(sentence(), HasSubstr(out.string()));
  auto written = snapshot(out);
  EXPECT_EQ(written.at((out / "notes.txt").string()), "the user's own");
  written.erase((out / "notes.txt").string());
  std::map<std::string, std::string> expected;
  for (const auto& [name, bytes] : as_the_command_makes_them(folder_ / "original")) {
    expected[(out / name).string()] = bytes;
  }
  ASSERT_EQ(written.size(), expected.size());
  for (const auto& [name, bytes] : expected) {
    ASSERT_TRUE(written.contains(name)) << name;
    EXPECT_TRUE(written.at(name) == bytes) << name << " differs";
  }
}

TEST_F(SheetsTest, ShowsEachFileAsItWillBe) {
  press("sheets.make_button");
  ASSERT_TRUE(rest());
  FileView* view = sheets_->view();
  sheets_->choose_file("dimensions.pdf");
  EXPECT_EQ(view->sentence(), "");
  EXPECT_GE(view->pdf().pageCount(), 2);
  EXPECT_TRUE(find<QPdfView>("sheets.view.pages")->isVisible());
  const auto ink = [&](QWidget* widget) {
    const QImage image = widget->grab().toImage();
    int white = 0, dark = 0;
    for (int y = 0; y < image.height(); ++y) {
      for (int x = 0; x < image.width(); ++x) {
        const int grey = qGray(image.pixel(x, y));
        white += grey > 250;
        dark += grey < 100;
      }
    }
    return std::pair(white, dark);
  };
  auto* pages = find<QPdfView>("sheets.view.pages");
  EXPECT_TRUE(wait_until([&] {  // rendered on threads of the library's own
    const auto [white, dark] = ink(pages->viewport());
    return white > pages->width() * pages->height() / 3 && dark > 1000;
  }));
  const double whole = find<QPdfView>("sheets.view.pages")->zoomFactor();
  QTest::mouseClick(find<QToolButton>("sheets.nearer_button"), Qt::LeftButton);
  EXPECT_EQ(pages->zoomMode(), QPdfView::ZoomMode::Custom);
  const double nearer = pages->zoomFactor();
  QTest::mouseClick(find<QToolButton>("sheets.nearer_button"), Qt::LeftButton);
  EXPECT_NEAR(pages->zoomFactor(), nearer * 1.25, 1e-9);
  EXPECT_NE(nearer, whole);
  QTest::mouseClick(find<QToolButton>("sheets.whole_width_button"), Qt::LeftButton);
  EXPECT_EQ(pages->zoomMode(), QPdfView::ZoomMode::FitToWidth);

  const auto names = listed();
  const auto svg = std::find_if(names.begin(), names.end(),
                                [](const std::string& name) { return name.ends_with(".svg"); });
  ASSERT_NE(svg, names.end());
  sheets_->choose_file(QString::fromStdString(*svg));
  auto* drawing = find<QScrollArea>("sheets.view.drawing");
  EXPECT_TRUE(drawing->isVisible());
  EXPECT_GT(ink(drawing->widget()).second, 100);
  sheets_->choose_file("data/dimensions.csv");
  EXPECT_EQ(view->text().toStdString().substr(0, 20),
            bytes_of("data/dimensions.csv").substr(0, 20));
  sheets_->choose_file("dimensions.html");
  EXPECT_THAT(view->sentence().toStdString(), HasSubstr("browser"));
  testing_support::show_if_asked(*sheets_, "sheets");
}

TEST_F(SheetsTest, CanBeLeafedThroughFasterThanPagesAreDrawn) {
  press("sheets.make_button");
  ASSERT_TRUE(rest());
  auto* files = find<QTreeWidget>("sheets.files");
  files->setFocus();
  for (int turn = 0; turn < 8; ++turn) {
    for (int i = 1; i < files->topLevelItemCount(); ++i) {
      QTest::keyClick(files, turn % 2 == 0 ? Qt::Key_Down : Qt::Key_Up);
      QTest::qWait(turn);
    }
  }
  sheets_->choose_file("dimensions.pdf");
  EXPECT_EQ(sheets_->view()->sentence(), "");
  EXPECT_GE(sheets_->view()->pdf().pageCount(), 2);
}

TEST_F(SheetsTest, MakesOnlyWhatIsChosen) {
  tick("sheets.templates", false);
  auto* fold = find<QToolButton>("sheets.only.fold");
  EXPECT_EQ(fold->text(), "all dimensions");
  QTest::mouseClick(fold, Qt::LeftButton);
  auto* names = find<QListWidget>("sheets.only.list");
  QTest::keyClicks(find<QLineEdit>("sheets.only.find"), "EDG");
  EXPECT_FALSE(names->item(0)->isHidden());
  EXPECT_TRUE(names->item(1)->isHidden());
  names->setCurrentRow(0);
  QTest::keyClick(names, Qt::Key_Space);
  EXPECT_EQ(fold->text(), "1 of 2");
  type("sheets.replicas", "1:24 1:96");
  QTest::keyClicks(find<QLineEdit>("sheets.measured_by"), "R. Dijkstra");
  find<QComboBox>("sheets.paper")->setCurrentIndex(1);
  QTest::keyClick(find<QLineEdit>("sheets.measured_by"), Qt::Key_Return, Qt::ControlModifier);
  ASSERT_TRUE(rest());
  EXPECT_FALSE(is_problem()) << sentence();
  EXPECT_THAT(
      listed(),
      ElementsAre("dimensions.pdf", "dimensions.html", "data/dimensions.csv", "data/survey.json",
                  "data/points original.ply", "data/points original.obj", "data/points 1-24.ply",
                  "data/points 1-24.obj", "data/points 1-96.ply", "data/points 1-96.obj"));
  EXPECT_THAT(bytes_of("dimensions.html"),
              AllOf(HasSubstr("edge"), Not(HasSubstr("breadth")), HasSubstr("R. Dijkstra"),
                    HasSubstr("1:96"), HasSubstr("2025-05-17")));
  EXPECT_NEAR(sheets_->view()->pdf().pagePointSize(0).width(), 612, 1);  // Letter: 8.5 in
  // For these sheets only.
  EXPECT_THAT(session_->dossier().replica_scales, ElementsAre(measure::ScaleRatio{72}));
}

TEST_F(SheetsTest, LooksOntoThePlaneThatIsChosen) {
  tick("sheets.dimensions", false);
  tick("sheets.data", false);
  auto* onto = find<QComboBox>("sheets.onto");
  ASSERT_GE(onto->findData("front"), 0);
  onto->setCurrentIndex(onto->findData("front"));
  find<NameChoice>("sheets.draw")->tick({"P1", "P3"});
  press("sheets.make_button");
  ASSERT_TRUE(rest());
  EXPECT_FALSE(is_problem()) << sentence();
  EXPECT_THAT(listed(),
              ElementsAre("templates/1-72 onto front.pdf", "templates/1-72 onto front.svg",
                          "templates/1-72 onto front.dxf"));
  EXPECT_THAT(bytes_of("templates/1-72 onto front.svg"),
              AllOf(HasSubstr("P1"), HasSubstr("P3"), Not(HasSubstr("P11"))));
}

TEST_F(SheetsTest, SaysWhatIsWrongBeforeItBegins) {
  type("sheets.replicas", "1:x");
  press("sheets.make_button");
  EXPECT_FALSE(sheets_->maker().busy());
  EXPECT_THAT(find<SentenceLabel>("sheets.replicas.sentence")->sentence().toStdString(),
              HasSubstr("write it like 1:48"));
  type("sheets.replicas", "");
  type("sheets.date", "2025-02-30");
  press("sheets.make_button");
  EXPECT_FALSE(sheets_->maker().busy());
  EXPECT_THAT(find<SentenceLabel>("sheets.date.sentence")->sentence().toStdString(),
              HasSubstr("2025-05-17"));
  type("sheets.date", "");
  for (const char* box : {"sheets.dimensions", "sheets.templates", "sheets.data"}) tick(box, false);
  press("sheets.make_button");
  EXPECT_FALSE(sheets_->maker().busy());
  EXPECT_THAT(sentence(), HasSubstr("Nothing is chosen"));
  tick("sheets.data", true);
  change(measure::RemoveDimension{"edge"});
  change(measure::RemoveDimension{"breadth"});
  press("sheets.make_button");
  EXPECT_FALSE(sheets_->maker().busy());
  EXPECT_THAT(sentence(), HasSubstr("asks for no dimension"));
}

TEST_F(SheetsTest, NamesThePhotoThatIsGone) {
  for (const measure::Photo& photo : session_->dossier().photos) {
    fs::rename(folder_ / "original" / photo.file, folder_ / photo.name);
  }
  press("sheets.make_button");
  ASSERT_TRUE(rest());
  EXPECT_TRUE(is_problem());
  EXPECT_THAT(sentence(), HasSubstr("original/photos/a"));
  EXPECT_THAT(listed(), IsEmpty());
  EXPECT_FALSE(find<QPushButton>("sheets.write_button")->isEnabled());
}

TEST_F(SheetsTest, NamesTheFolderThatCannotBeWrittenAndLeavesItAlone) {
  press("sheets.make_button");
  ASSERT_TRUE(rest());
  put(folder_ / "file", "no folder");
  sheets_->write_to(QString::fromStdString((folder_ / "file").string()));
  ASSERT_TRUE(rest());
  EXPECT_TRUE(is_problem());
  EXPECT_THAT(sentence(), HasSubstr((folder_ / "file").string()));
  // A folder in the place of one of the files: the others are not written either.
  const fs::path out = folder_ / "out";
  fs::create_directories(out / "dimensions.html");
  sheets_->write_to(QString::fromStdString(out.string()));
  ASSERT_TRUE(rest());
  EXPECT_TRUE(is_problem());
  EXPECT_THAT(sentence(), HasSubstr("dimensions.html"));
  EXPECT_THAT(snapshot(out), IsEmpty());
  // And what was made is still there to be written elsewhere.
  EXPECT_TRUE(find<QPushButton>("sheets.write_button")->isEnabled());
}

TEST_F(SheetsTest, CancelsAndBeginsAnew) {
  QSignalSpy went_on(&sheets_->maker(), &SheetMaker::went_on);
  press("sheets.make_button");
  EXPECT_TRUE(find<QPushButton>("sheets.cancel")->isVisible());
  EXPECT_FALSE(find<QPushButton>("sheets.make_button")->isEnabled());
  ASSERT_TRUE(wait_until([&] { return !went_on.isEmpty(); }));
  press("sheets.cancel");
  EXPECT_FALSE(sheets_->maker().busy());
  EXPECT_THAT(sentence(), HasSubstr("Cancelled"));
  QTest::qWait(300);  // an answer that came late would be seen now
  EXPECT_THAT(listed(), IsEmpty());
  EXPECT_EQ(sheets_->maker().made(), nullptr);
  press("sheets.make_button");
  ASSERT_TRUE(rest());
  EXPECT_THAT(listed(), Contains("dimensions.pdf"));
}

TEST_F(SheetsTest, MakesThemAnewWhereTheDossierHasChanged) {
  press("sheets.make_button");
  ASSERT_TRUE(rest());
  EXPECT_TRUE(sheets_->maker().is_fresh());
  change(measure::AddDimension{{"height", measure::Distance{"P1", "P9"}}, std::nullopt});
  EXPECT_FALSE(sheets_->maker().is_fresh());
  EXPECT_THAT(sentence(), HasSubstr("dossier has changed"));
  const fs::path out = folder_ / "out";
  sheets_->write_to(QString::fromStdString(out.string()));
  ASSERT_TRUE(wait_until([&] { return !sheets_->maker().busy() && fs::exists(out); }));
  EXPECT_FALSE(is_problem()) << sentence();
  EXPECT_THAT(contents_of(out / "data/dimensions.csv"), HasSubstr("height"));
  type("sheets.date", "2025-05-18");
  EXPECT_THAT(sentence(), HasSubstr("choices have changed"));
  sheets_->write_to(QString::fromStdString(out.string()));
  ASSERT_TRUE(wait_until([&] {
    return !sheets_->maker().busy() &&
           contents_of(out / "dimensions.html").find("2025-05-18") != std::string::npos;
  }));
}

TEST_F(SheetsTest, NeverWritesTheLastSheetsForOnesThatCouldNotBeMade) {
  tick("sheets.dimensions", false);
  press("sheets.make_button");
  ASSERT_TRUE(rest());
  ASSERT_NE(sheets_->maker().made(), nullptr);
  // Other choices, which cannot be had: the photographs of a dimension sheet are gone.
  for (const measure::Photo& photo : session_->dossier().photos) {
    fs::rename(folder_ / "original" / photo.file, folder_ / photo.name);
  }
  tick("sheets.dimensions", true);
  press("sheets.make_button");
  ASSERT_TRUE(rest());
  ASSERT_TRUE(is_problem());
  sheets_->write_to(QString::fromStdString((folder_ / "out").string()));
  ASSERT_TRUE(rest());
  EXPECT_TRUE(is_problem());
  EXPECT_FALSE(fs::exists(folder_ / "out"));
}

TEST_F(SheetsTest, ATickGoesWithARenamedDimension) {
  find<NameChoice>("sheets.only")->tick({"breadth"});
  change(measure::RenameDimension{"breadth", "beam"});
  EXPECT_THAT(find<NameChoice>("sheets.only")->ticked(), ElementsAre("beam"));
  session_->undo();
  session_->finish_edits();
  EXPECT_THAT(find<NameChoice>("sheets.only")->ticked(), ElementsAre("breadth"));
  find<NameChoice>("sheets.draw")->tick({"P3", "front"});
  change(measure::RenamePoint{"P3", "Q3"});
  change(measure::RenameShape{"front", "face"});
  EXPECT_THAT(find<NameChoice>("sheets.draw")->ticked(),
              testing::UnorderedElementsAre("Q3", "face"));
}

TEST_F(SheetsTest, SaysWhatTheSurveyWarnsOf) {
  press("sheets.make_button");
  ASSERT_TRUE(rest());
  ASSERT_TRUE(wait_until([&] { return session_->live()->tested; }));
  const auto of_survey = session_->live()->survey->report().warnings;
  ASSERT_FALSE(of_survey.empty());  // a lone bar
  auto* files = find<QTreeWidget>("sheets.files");
  EXPECT_THAT(files->topLevelItem(0)->text(0).toStdString(), HasSubstr("remarks"));
  files->setCurrentItem(files->topLevelItem(0));
  for (const std::string& sentence : of_survey) {
    EXPECT_THAT(sheets_->view()->text().toStdString(), HasSubstr(sentence));
  }
}

TEST_F(SheetsTest, AChangeWhileTheyAreMadeIsSeen) {
  press("sheets.make_button");
  session_->change_soon(measure::RemoveDimension{"breadth"});
  ASSERT_TRUE(rest());
  session_->finish_edits();
  QTest::qWait(20);
  if (bytes_of("data/dimensions.csv").find("breadth") != std::string::npos) {
    EXPECT_FALSE(sheets_->maker().is_fresh());
  } else {
    EXPECT_TRUE(sheets_->maker().is_fresh());
  }
}

TEST_F(SheetsTest, CanBeClosedWhileTheyAreMade) {
  QSignalSpy went_on(&sheets_->maker(), &SheetMaker::went_on);
  press("sheets.make_button");
  ASSERT_TRUE(wait_until([&] { return !went_on.isEmpty(); }));
  sheets_.reset();
  session_.reset();
  EXPECT_FALSE(fs::exists(folder_ / "out"));
}

TEST_F(SheetsTest, KeepsWhatWasChosenButTheDate) {
  tick("sheets.data", false);
  type("sheets.replicas", "1:24");
  QTest::keyClicks(find<QLineEdit>("sheets.measured_by"), "R. Dijkstra");
  find<QComboBox>("sheets.paper")->setCurrentIndex(1);
  find<NameChoice>("sheets.only")->tick({"breadth"});
  auto* onto = find<QComboBox>("sheets.onto");
  onto->setCurrentIndex(onto->findData("front"));
  const QVariantMap kept = sheets_->kept();
  show();
  sheets_->restore(kept);
  EXPECT_EQ(sheets_->kept(), kept);
  EXPECT_FALSE(find<QCheckBox>("sheets.data")->isChecked());
  EXPECT_THAT(find<NameChoice>("sheets.only")->ticked(), ElementsAre("breadth"));
  EXPECT_EQ(find<QComboBox>("sheets.onto")->currentData(), "front");
  // What is gone from the dossier is gone from the choice.
  change(measure::RemoveDimension{"breadth"});
  change(measure::RemoveShape{"front"});
  EXPECT_THAT(find<NameChoice>("sheets.only")->ticked(), IsEmpty());
  EXPECT_EQ(find<QComboBox>("sheets.onto")->currentData(), "");
}

class FileCatcher : public QObject {
  Q_OBJECT
 public:
  QUrl opened;
 public Q_SLOTS:
  void open(const QUrl& url) { opened = url; }
};

TEST_F(SheetsTest, OpensAFileElsewhere) {
  FileCatcher catcher;
  QDesktopServices::setUrlHandler("file", &catcher, "open");
  press("sheets.make_button");
  ASSERT_TRUE(rest());
  sheets_->choose_file("dimensions.html");
  press("sheets.elsewhere_button");
  QDesktopServices::unsetUrlHandler("file");
  ASSERT_TRUE(catcher.opened.isLocalFile());
  EXPECT_EQ(contents_of(catcher.opened.toLocalFile().toStdString()), bytes_of("dimensions.html"));
}

TEST_F(SheetsTest, WorksOnADossierThatMayOnlyBeRead) {
  auto other = DeskSession::open(folder_ / "original");
  ASSERT_TRUE(other);
  ASSERT_FALSE((*other)->read_only_reason().isEmpty());
  Sheets second(other->get(), &keys_, &tolerance_);
  second.make();
  ASSERT_TRUE(wait_until([&] { return !second.maker().busy(); }));
  ASSERT_NE(second.maker().made(), nullptr);
  second.write_to(QString::fromStdString((folder_ / "out").string()));
  ASSERT_TRUE(wait_until([&] { return !second.maker().busy(); }));
  EXPECT_TRUE(fs::exists(folder_ / "out/dimensions.pdf"));
}

}  // namespace
}  // namespace desk

#include "sheets_test.moc"
