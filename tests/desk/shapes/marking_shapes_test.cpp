// Edges, rims and outlines are marked by clicks, and what is adjusted from the clicks is true.
#include <QLabel>
#include <QPushButton>

#include "measure/store/open_dossier.h"
#include "tests/desk/shapes/shape_desk.h"

namespace testing_support {
namespace {

using desk::ShapesModel;

/// Marks the shape in several surveys and compares the diameter ± U in the panel with the truth.
///
/// U holds at 95.45 %: a single survey may miss it. With 10 draws fewer than 7 inside have a
/// probability of 0.07 %, and the sum of squares of the errors in units of u one of 0.1 % to lie
/// above the limit.
void expect_true_diameters(const QString& action, const std::string& shape, double truth_mm) {
  constexpr std::uint32_t kDraws = 10;
  constexpr double kChiSquare10 = 29.59;  // at 99.9 %, from memory
  int inside = 0;
  double sum = 0.0;
  for (std::uint32_t seed = 1; seed <= kDraws; ++seed) {
    ShapeDesk desk(false, seed);
    const std::string name = desk.mark(action, shape);
    ASSERT_TRUE(desk.dossier.wait_for_survey());
    const QString size = desk.text(name, ShapesModel::kSize);
    ASSERT_TRUE(size.startsWith("diameter ") && size.endsWith(" mm")) << size.toStdString();
    const auto [diameter, U] = value_and_u(size);
    ASSERT_GT(U, 0.0) << size.toStdString();
    // Half a pixel a click, a quarter of a millimetre a pixel, forty clicks and more.
    EXPECT_LT(U, 0.5) << size.toStdString();
    inside += std::abs(diameter - truth_mm) <= U;
    sum += std::pow((diameter - truth_mm) / (U / 2), 2);
  }
  EXPECT_GE(inside, 7);
  EXPECT_LE(sum, kChiSquare10);
}

TEST(MarkingShapes, ADiameterFromClicksAlongTheRimIsTrueWithinU) {
  expect_true_diameters("shapes_panel.circle", "rim", 54.0);
}

TEST(MarkingShapes, ADiameterFromClicksAlongAnOutlineIsTrueWithinU) {
  expect_true_diameters("shapes_panel.cylinder", "pipe", 17.0);
}

TEST(MarkingShapes, ARimMarkedByClicksIsShownWithItsMarks) {
  ShapeDesk desk;
  const std::string rim = desk.mark("shapes_panel.circle", "rim");
  const auto places = desk.places_along("rim");
  ASSERT_EQ(desk.marks_of(rim).size(), places.size());
  ASSERT_TRUE(desk.dossier.wait_for_survey());
  EXPECT_TRUE(desk.text(rim, ShapesModel::kMarks).startsWith("56 in 7 photos"));
  EXPECT_EQ(desk.text(rim, ShapesModel::kLacks).toStdString(), "");
  // Drawn into the photo as well, with its marks.
  const auto& trace = desk.canvas()->trace();
  EXPECT_EQ(std::count_if(trace.marks.begin(), trace.marks.end(),
                          [&](const auto& mark) { return mark.shape == rim && mark.chosen; }),
            8);
  EXPECT_TRUE(std::any_of(trace.curves.begin(), trace.curves.end(), [&](const auto& curve) {
    return curve.chosen && curve.label.toStdString() == rim;
  }));
}

TEST(MarkingShapes, TheSidesOfACylinderAreMarkedOneAfterTheOther) {
  ShapeDesk desk;
  const std::string pipe = desk.mark("shapes_panel.cylinder", "pipe");
  const auto places = desk.places_along("pipe");
  const auto marks = desk.marks_of(pipe);
  ASSERT_EQ(marks.size(), places.size());
  for (const measure::ShapeMark& place : places) {
    // The mark nearest to each place is on its side.
    const auto nearest =
        std::min_element(marks.begin(), marks.end(), [&](const auto& a, const auto& b) {
          const auto far = [&](const measure::ShapeMark& mark) {
            return mark.photo == place.photo ? (mark.position_px - place.position_px).norm() : 1e9;
          };
          return far(a) < far(b);
        });
    EXPECT_EQ(nearest->side, place.side);
  }
  ASSERT_TRUE(desk.dossier.wait_for_survey());
  EXPECT_TRUE(desk.text(pipe, ShapesModel::kSize).startsWith("diameter "));

  auto* side = desk.pane->findChild<QPushButton*>("photo_side");
  ASSERT_TRUE(side->isVisible());
  const int before = desk.pane->side();
  QTest::mouseClick(side, Qt::LeftButton);
  EXPECT_EQ(desk.pane->side(), 3 - before);
  EXPECT_TRUE(side->text().contains(QString::number(3 - before)));
  QTest::keyClick(desk.canvas(), Qt::Key_C);
  EXPECT_EQ(desk.pane->side(), before);
}

TEST(MarkingShapes, TwoEdgesAnswerTheQuestionForTheirGap) {
  ShapeDesk desk;
  const std::string first = desk.mark("shapes_panel.edge", "edge 1");
  const std::string second = desk.mark("shapes_panel.edge", "edge 2");
  ASSERT_NE(first, second);
  EXPECT_FALSE(desk.pane->findChild<QPushButton*>("photo_side")->isVisible());
  desk.select({first, second});
  desk.start("shapes_panel.gap");
  ASSERT_EQ(desk.session().dossier().dimensions.size(), 1u);
  ASSERT_TRUE(desk.dossier.wait_for_survey());
  ASSERT_FALSE(desk.session().live()->dimensions.empty());
  const measure::DimensionResult& gap = desk.session().live()->dimensions.front();
  ASSERT_TRUE(gap.problem.empty()) << gap.problem;
  EXPECT_LE(std::abs(gap.value - desk.simulated.true_values.at("gap of edges")), gap.U);
}

TEST(MarkingShapes, EveryClickIsOneStepThatIsOnTheDiskAndCanBeUndone) {
  ShapeDesk desk;
  desk.start("shapes_panel.edge");
  const std::string edge = desk.session().chosen_shape();
  const auto places = desk.places_along("edge 1");
  for (int i = 0; i < 3; ++i) desk.click(places[i].photo, places[i].position_px);
  ASSERT_EQ(desk.marks_of(edge).size(), 3u);
  {
    // What another process would find after a crash now: the journal holds all.
    ScratchFolder copy;
    std::filesystem::copy(desk.dossier.folder.path(), copy / "dossier",
                          std::filesystem::copy_options::recursive);
    auto opened = measure::OpenDossier::open(copy / "dossier");
    ASSERT_TRUE(opened) << (opened ? "" : opened.error().sentence);
    EXPECT_EQ(opened->dossier().shape_marks, desk.session().dossier().shape_marks);
  }
  EXPECT_TRUE(desk.session().undo_text().contains("mark on"));
  desk.session().undo();
  desk.session().undo();
  desk.session().finish_edits();
  EXPECT_EQ(desk.marks_of(edge).size(), 1u);
  desk.session().redo();
  desk.session().finish_edits();
  EXPECT_EQ(desk.marks_of(edge).size(), 2u);
  for (int i = 0; i < 3; ++i) desk.session().undo();
  desk.session().finish_edits();
  EXPECT_TRUE(desk.session().dossier().shapes.empty());
  EXPECT_TRUE(desk.session().chosen_shape().empty());
}

TEST(MarkingShapes, AMarkIsSetAsideTakenBackAndRemovedUnderTheCursor) {
  ShapeDesk desk;
  const std::string rim = desk.mark("shapes_panel.circle", "rim");
  ASSERT_TRUE(desk.dossier.wait_for_survey());
  const measure::ShapeMark at = desk.marks_of(rim).front();
  desk.session().choose_photo(at.photo);
  desk.canvas()->centre_on({at.position_px.x(), at.position_px.y()}, 4.0);
  QTest::mouseMove(desk.canvas(), desk.seen_at(at.position_px));
  QTest::keyClick(desk.canvas(), Qt::Key_S);
  desk.session().finish_edits();
  EXPECT_TRUE(desk.marks_of(rim).front().set_aside);
  EXPECT_TRUE(desk.text(rim, ShapesModel::kMarks).startsWith("55 in 7 photos (+1 set aside)"))
      << desk.text(rim, ShapesModel::kMarks).toStdString();
  QTest::keyClick(desk.canvas(), Qt::Key_S);
  desk.session().finish_edits();
  EXPECT_FALSE(desk.marks_of(rim).front().set_aside);
  QTest::keyClick(desk.canvas(), Qt::Key_Backspace);
  desk.session().finish_edits();
  EXPECT_EQ(desk.marks_of(rim).size(), 55u);
  EXPECT_NE(desk.marks_of(rim).front(), at);
}

TEST(MarkingShapes, AMarkBesideItsRimIsDoubtedAndSaysByHowMuch) {
  ShapeDesk desk;
  const std::string rim = desk.mark("shapes_panel.circle", "rim");
  const auto places = desk.places_along("rim");
  Eigen::Vector2d middle = Eigen::Vector2d::Zero();
  for (int i = 0; i < 8; ++i) middle += places[i].position_px / 8;
  const Eigen::Vector2d outwards = (places[0].position_px - middle).normalized();
  desk.click(places[0].photo, places[0].position_px + 15 * outwards);
  ASSERT_TRUE(desk.dossier.wait_for_survey());
  EXPECT_EQ(desk.text(rim, ShapesModel::kDoubted).toStdString(), "▲ 1");
  const auto& marks = desk.canvas()->trace().marks;
  const auto doubted = std::find_if(marks.begin(), marks.end(), [](const auto& mark) {
    return mark.state == desk::MarkState::kDoubted;
  });
  ASSERT_NE(doubted, marks.end());
  EXPECT_TRUE(doubted->tip.contains("px beside where the other marks see the shape"))
      << doubted->tip.toStdString();
}

TEST(MarkingShapes, WhatCannotBeSolvedSaysWhatToDo) {
  ShapeDesk desk;
  desk.start("shapes_panel.circle");
  const std::string rim = desk.session().chosen_shape();
  ASSERT_TRUE(desk.dossier.wait_for_survey());
  EXPECT_TRUE(desk.text(rim, ShapesModel::kLacks).contains("click along it"))
      << desk.text(rim, ShapesModel::kLacks).toStdString();
  const auto places = desk.places_along("rim");
  for (int i = 0; i < 2; ++i) desk.click(places[i].photo, places[i].position_px);
  ASSERT_TRUE(desk.dossier.wait_for_survey());
  const QString lacks = desk.text(rim, ShapesModel::kLacks);
  EXPECT_TRUE(lacks.contains(QString::fromStdString(rim))) << lacks.toStdString();
  EXPECT_TRUE(lacks.contains("mark it", Qt::CaseInsensitive)) << lacks.toStdString();
  EXPECT_EQ(desk.text(rim, ShapesModel::kSize).toStdString(), "—");
}

}  // namespace
}  // namespace testing_support
