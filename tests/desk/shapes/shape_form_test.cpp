// Shapes through points and from others are made in a form that says what is missing, and what they
// would be measured as.
#include "tools/desk/shapes/shape_form.h"

#include <QListWidget>
#include <QSignalSpy>
#include <cmath>

#include "tests/desk/shapes/shape_desk.h"

namespace testing_support {
namespace {

using desk::MadeShape;
using desk::ShapeForm;

class ShapeFormTest : public testing::Test {
 protected:
  ShapeFormTest() {
    EXPECT_TRUE(desk_.dossier.wait_for_survey());
    form_.show();
    form_.activateWindow();
    EXPECT_TRUE(QTest::qWaitForWindowActive(&form_));  // else keys are the photo's
  }
  desk::DeskSession& session() { return desk_.session(); }
  void pick(const std::vector<std::string>& points) {
    for (const std::string& point : points) session().pick_point(point);
  }
  void choose(const QString& box, const std::string& shape) {
    auto* combo = form_.findChild<QComboBox*>(box);
    const int at = combo->findData(QString::fromStdString(shape));
    ASSERT_GE(at, 0) << shape;
    combo->setCurrentIndex(at);
  }
  void type(const QString& line, const QString& text) {
    form_.findChild<QLineEdit*>(line)->setText(text);
  }
  desk::ResultView& result() { return *form_.findChild<desk::ResultView*>("shape_form.result"); }
  bool wait_for_words() {
    return wait_until(
        [this] { return result().words().size() > 1 || !result().problem().isEmpty(); });
  }
  std::string sentence() { return form_.sentence()->sentence().toStdString(); }
  bool can_be_made() { return form_.deed()->isEnabled(); }
  const measure::Shape* make() {
    const std::string name = form_.findChild<QLineEdit*>("shape_form.name")->text().toStdString();
    QTest::mouseClick(form_.deed(), Qt::LeftButton);
    return session().dossier().find_shape(name);
  }

  ShapeDesk desk_{true};
  ShapeForm form_{&desk_.session()};
};

TEST_F(ShapeFormTest, ThroughPickedPointsSaysHowManyAreMissingAndShowsTheFlatness) {
  form_.begin(MadeShape::kPlane);
  EXPECT_FALSE(can_be_made());
  EXPECT_EQ(sentence(), "Pick its points in any view: it needs 3 or more, 0 taken.");
  pick({"a 1", "a 2"});
  EXPECT_EQ(sentence(), "Pick its points in any view: it needs 3 or more, 2 taken.");
  pick({"a 3", "a 3", "a 4", "o 1"});  // a second time: not taken; the last is to be taken out
  auto* list = form_.findChild<QListWidget*>("shape_form.points.list");
  ASSERT_EQ(list->count(), 5);
  list->setCurrentRow(4);
  QTest::keyClick(list, Qt::Key_Delete);
  EXPECT_EQ(list->count(), 4);
  ASSERT_TRUE(can_be_made()) << sentence();
  ASSERT_TRUE(wait_for_words());
  EXPECT_TRUE(result().words().startsWith("flat within the error bars, range "))
      << result().words().toStdString();
  EXPECT_TRUE(result().words().contains("±") && result().words().contains("mm"));
  ASSERT_EQ(result().departures()->rowCount(), 4);
  EXPECT_TRUE(result().departures()->item(0, 1)->text().contains("±"));
  QSignalSpy made(&form_, &ShapeForm::made);
  const measure::Shape* shape = make();
  ASSERT_TRUE(shape) << sentence();
  EXPECT_EQ(shape->origin,
            measure::ShapeOrigin(measure::PlaneThrough{{"a 1", "a 2", "a 3", "a 4"}}));
  EXPECT_EQ(made.count(), 1);
  EXPECT_EQ(list->count(), 0) << "ready for the next";
  EXPECT_NE(sentence().find("Made \"plane 1\"."), std::string::npos) << sentence();
}

TEST_F(ShapeFormTest, PointsThatAreNotOnAPlaneAreSaidNotToBeFlat) {
  form_.begin(MadeShape::kPlane, {"a 1", "a 2", "a 3", "a 4", "o 1"});  // o 1: 30 mm above
  ASSERT_TRUE(wait_for_words());
  EXPECT_TRUE(result().words().startsWith("not flat: more than the error bars explain"))
      << result().words().toStdString();
}

TEST_F(ShapeFormTest, PointsAllOverThePlaceGetTheSentenceWhatToLookAt) {
  form_.begin(MadeShape::kPlane, {"a 1", "a 2", "a 3", "b 1", "k 1"});
  ASSERT_TRUE(wait_for_words());
  EXPECT_TRUE(result().problem().contains("look at which points are named"))
      << result().problem().toStdString();
  EXPECT_FALSE(result().departures()->isVisible());
}

TEST_F(ShapeFormTest, EveryRoundThroughItsPointsHasItsTrueSize) {
  const struct {
    MadeShape kind;
    const char* like;
    double truth_mm;
  } cases[] = {{MadeShape::kCircle, "round", 68.0},
               {MadeShape::kSphere, "ball", 50.0},
               {MadeShape::kCylinder, "barrel", 28.0}};
  for (const auto& one : cases) {
    form_.begin(one.kind, measure::names_of(session().dossier().find_shape(one.like)->origin));
    ASSERT_TRUE(can_be_made()) << one.like << ": " << sentence();
    ASSERT_TRUE(wait_until([&] { return result().words().startsWith("diameter "); }))
        << result().words().toStdString();
    const auto [diameter, U] = value_and_u(result().words());
    // U holds at 95.45 %; three times u at 99.7 %, for each of the three.
    EXPECT_LE(std::abs(diameter - one.truth_mm), 1.5 * U) << one.like;
    const measure::Shape* shape = make();
    ASSERT_TRUE(shape) << one.like << ": " << sentence();
    EXPECT_EQ(shape->origin.index(), session().dossier().find_shape(one.like)->origin.index());
  }
  form_.begin(MadeShape::kCone,
              measure::names_of(session().dossier().find_shape("funnel")->origin));
  ASSERT_TRUE(wait_until([&] { return result().words().startsWith("full angle "); }));
  ASSERT_TRUE(make());
  form_.begin(MadeShape::kLine, {"l 1", "l 2", "l 3"});
  ASSERT_TRUE(wait_until([&] { return result().words().startsWith("straight "); }));
  ASSERT_TRUE(make());
}

TEST_F(ShapeFormTest, AMirrorPlaneTakesPairsAndShowsEachDeparture) {
  form_.begin(MadeShape::kMirrorPlane);
  pick({"m 1"});
  EXPECT_EQ(sentence(), "Pick the point that mirrors \"m 1\".");
  pick({"m 2"});
  EXPECT_FALSE(can_be_made());
  pick({"m 3", "m 4", "m 5", "m 6", "m 7", "m 8"});
  auto* list = form_.findChild<QListWidget*>("shape_form.points.list");
  ASSERT_EQ(list->count(), 4);
  EXPECT_EQ(list->item(0)->text().toStdString(), "m 1 / m 2");
  ASSERT_TRUE(can_be_made()) << sentence();
  ASSERT_TRUE(wait_for_words());
  ASSERT_EQ(result().departures()->rowCount(), 4);
  for (int row = 0; row < 4; ++row) {
    const QString text = result().departures()->item(row, 1)->text();
    EXPECT_TRUE(text.contains("mm") && (text.contains("±") || text.contains("95.45 %")))
        << text.toStdString();
  }
  // The last one was built askew by a millimetre.
  EXPECT_TRUE(result().words().startsWith("not symmetric")) << result().words().toStdString();
  list->setCurrentRow(3);
  QTest::mouseClick(form_.findChild<QPushButton*>("shape_form.points.take_out"), Qt::LeftButton);
  ASSERT_EQ(list->count(), 3);
  ASSERT_TRUE(wait_until([&] { return result().words().startsWith("symmetric within"); }))
      << result().words().toStdString();
  for (int row = 0; row < 3; ++row) {
    EXPECT_EQ(result().departures()->item(row, 2)->text().toStdString(), "symmetric");
  }
  const measure::Shape* shape = make();
  ASSERT_TRUE(shape) << sentence();
  EXPECT_EQ(shape->origin, session().dossier().find_shape("middle")->origin);
}

TEST_F(ShapeFormTest, AParallelPlaneGoesThroughAPointOrIsOffset) {
  form_.begin(MadeShape::kParallelPlane);
  EXPECT_EQ(sentence(), "Choose the plane that it is parallel to.");
  choose("shape_form.plane", "plane a");
  EXPECT_FALSE(can_be_made());
  type("shape_form.offset", "twelve");
  EXPECT_EQ(sentence(), "The offset is to be a length like 12 mm.");
  type("shape_form.offset", "1,2 cm");
  ASSERT_TRUE(can_be_made()) << sentence();
  pick({"o 1"});
  EXPECT_EQ(sentence(), "Either a point or an offset says where it is: empty one of the two.");
  EXPECT_FALSE(can_be_made());
  type("shape_form.through", "");
  const measure::Shape* lifted = make();
  ASSERT_TRUE(lifted) << sentence();
  EXPECT_EQ(lifted->origin, session().dossier().find_shape("lifted")->origin);  // 12 mm
  form_.begin(MadeShape::kParallelPlane, {}, {"plane a"});
  pick({"o 1"});
  const measure::Shape* through = make();
  ASSERT_TRUE(through) << sentence();
  EXPECT_EQ(through->origin,
            measure::ShapeOrigin(measure::ParallelPlane{"plane a", "o 1", std::nullopt}));
}

TEST_F(ShapeFormTest, AMidPlaneAndACrossingAreMadeOfTwoThatSuit) {
  form_.begin(MadeShape::kMidPlane);
  EXPECT_EQ(sentence(), "Choose the two planes that it lies halfway between.");
  EXPECT_EQ(form_.findChild<QComboBox*>("shape_form.first")->findData("line"), -1);
  choose("shape_form.first", "plane a");
  choose("shape_form.second", "plane a");
  EXPECT_FALSE(can_be_made());
  EXPECT_NE(sentence().find("twice"), std::string::npos) << sentence();
  choose("shape_form.second", "plane b");
  ASSERT_TRUE(make()) << sentence();
  form_.begin(MadeShape::kCrossing, {}, {"line", "edge 1"});
  ASSERT_TRUE(can_be_made()) << sentence();
  ASSERT_TRUE(wait_for_words());
  EXPECT_TRUE(result().words().startsWith("the lines pass at ") && result().words().contains("mm"))
      << result().words().toStdString();
  const auto [gap, U] = value_and_u(result().words());
  EXPECT_LE(std::abs(gap - desk_.simulated.true_values.at("distance of lines")), 1.5 * U);
  const measure::Shape* crossing = make();
  ASSERT_TRUE(crossing) << sentence();
  EXPECT_EQ(crossing->origin, measure::ShapeOrigin(measure::Crossing{"line", "edge 1"}));
}

TEST_F(ShapeFormTest, PlanesThatAreParallelDoNotCrossAndTheFormSaysSo) {
  form_.begin(MadeShape::kCrossing, {}, {"plane a", "lifted"});
  ASSERT_TRUE(wait_for_words());
  EXPECT_TRUE(result().problem().contains("parallel")) << result().problem().toStdString();
}

TEST_F(ShapeFormTest, ATakenNameIsSaidBeforeItIsMade) {
  form_.begin(MadeShape::kLine, {"l 1", "l 2"});
  type("shape_form.name", "rim");
  EXPECT_FALSE(can_be_made());
  EXPECT_TRUE(form_.sentence()->is_problem());
  EXPECT_NE(sentence().find("rim"), std::string::npos) << sentence();
  type("shape_form.name", "keel line");
  EXPECT_TRUE(can_be_made());
}

TEST_F(ShapeFormTest, TypedNamesAreTakenWithEnter) {
  form_.begin(MadeShape::kLine);
  auto* next = form_.findChild<QLineEdit*>("shape_form.points.next");
  next->setText("l 1");
  QTest::keyClick(next, Qt::Key_Return);
  next->setText("nowhere");
  QTest::keyClick(next, Qt::Key_Return);
  EXPECT_EQ(form_.findChild<QListWidget*>("shape_form.points.list")->count(), 1);
  next->setText("rim");  // by its centre
  QTest::keyClick(next, Qt::Key_Return);
  EXPECT_EQ(form_.findChild<QListWidget*>("shape_form.points.list")->count(), 2);
  EXPECT_TRUE(can_be_made()) << sentence();
}

TEST_F(ShapeFormTest, WhereNothingMayBeChangedTheFormSaysWhyAndMakesNothing) {
  auto opened = desk::DeskSession::open(desk_.dossier.folder.path());
  ASSERT_TRUE(opened) << (opened ? "" : opened.error().sentence);
  ASSERT_FALSE((*opened)->read_only_reason().isEmpty());
  ShapeForm form(opened->get());
  form.show();
  form.begin(MadeShape::kLine, {"l 1", "l 2"});
  EXPECT_FALSE(form.deed()->isEnabled());
  EXPECT_EQ(form.sentence()->sentence(), (*opened)->read_only_reason());
}

TEST_F(ShapeFormTest, ThePanelOpensTheFormWithWhatIsSelected) {
  desk_.chosen_points = {"a 1", "a 2", "a 3"};
  desk_.start("shapes_panel.picked");
  auto* form = desk_.panel->findChild<ShapeForm*>("shape_form");
  ASSERT_TRUE(form && form->isVisible());
  EXPECT_EQ(form->findChild<QListWidget*>("shape_form.points.list")->count(), 3);
  desk_.select({"plane a"});
  desk_.start("shapes_panel.parallel_plane");
  EXPECT_EQ(form->chosen(), MadeShape::kParallelPlane);
  EXPECT_EQ(form->findChild<QComboBox*>("shape_form.plane")->currentData().toString(), "plane a");
  desk_.start("shapes_panel.mirror_plane");
  EXPECT_EQ(form->chosen(), MadeShape::kMirrorPlane);
  EXPECT_TRUE(session().chosen_shape().empty()) << "clicks mean points now";
}

TEST_F(ShapeFormTest, ThePanelShowsTheDeparturesOfTheChosenRow) {
  desk_.select({"middle"});
  auto* result = desk_.panel->findChild<desk::ResultView*>("shapes_panel.result");
  ASSERT_TRUE(result->isVisible());
  EXPECT_TRUE(result->words().startsWith("symmetric within"));
  ASSERT_EQ(result->departures()->rowCount(), 3);
  desk_.select({"plane a"});
  EXPECT_EQ(result->departures()->rowCount(), 6);
  desk_.select({"edge 1"});
  EXPECT_FALSE(result->isVisible());
}

}  // namespace
}  // namespace testing_support
