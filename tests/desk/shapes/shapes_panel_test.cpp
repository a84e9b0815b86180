// The panel of edges and rounds: named, removed, asked about; and where nothing may be changed.
#include <QAbstractItemView>
#include <QLabel>
#include <QPushButton>

#include "tests/desk/shapes/shape_desk.h"

namespace testing_support {
namespace {

using desk::ShapesModel;

TEST(ShapesPanel, SaysWhatToDoWhereThereIsNothing) {
  ShapeDesk desk;
  const auto* empty = desk.panel->findChild<QLabel*>("shapes_panel.empty");
  ASSERT_TRUE(empty->isVisible());
  EXPECT_TRUE(empty->text().contains("click along it"));
}

TEST(ShapesPanel, ANameIsTypedIntoTheTableAndTheMarksFollow) {
  ShapeDesk desk;
  desk.start("shapes_panel.edge");
  const std::string old = desk.session().chosen_shape();
  const auto place = desk.places_along("edge 1").front();
  desk.click(place.photo, place.position_px);
  QAbstractItemModel* model = desk.panel->view()->model();
  ASSERT_TRUE(model->setData(model->index(0, ShapesModel::kName), "hatch sill, front"));
  QTest::qWait(0);
  desk.session().finish_edits();
  EXPECT_TRUE(desk.session().dossier().find_shape("hatch sill, front"));
  EXPECT_FALSE(desk.session().dossier().find_shape(old));
  EXPECT_EQ(desk.marks_of("hatch sill, front").size(), 1u);
  EXPECT_EQ(desk.session().chosen_shape(), "hatch sill, front") << "still being marked";
  // A name that is taken is refused.
  QStringList refused;
  QObject::connect(&desk.session(), &desk::DeskSession::refused, desk.panel,
                   [&](const QString& sentence) { refused << sentence; });
  ASSERT_TRUE(model->setData(model->index(0, ShapesModel::kName), "P01"));
  QTest::qWait(0);
  desk.session().finish_edits();
  EXPECT_EQ(refused.size(), 1);
  EXPECT_TRUE(desk.session().dossier().find_shape("hatch sill, front"));
}

TEST(ShapesPanel, RemovingTakesTheMarksAlongAndUndoBringsThemBack) {
  ShapeDesk desk;
  const std::string edge = desk.mark("shapes_panel.edge", "edge 1");
  const auto marks = desk.marks_of(edge);
  desk.select({edge});
  desk.start("shapes_panel.remove");
  EXPECT_TRUE(desk.session().dossier().shapes.empty());
  EXPECT_TRUE(desk.session().dossier().shape_marks.empty());
  desk.session().undo();
  desk.session().finish_edits();
  EXPECT_EQ(desk.marks_of(edge), marks);
}

TEST(ShapesPanel, WhatOthersAreMadeOfIsRefusedToGoWithTheReason) {
  ShapeDesk desk(true);
  QStringList refused;
  QObject::connect(&desk.session(), &desk::DeskSession::refused, desk.panel,
                   [&](const QString& sentence) { refused << sentence; });
  const auto before = desk.session().dossier();
  desk.select({"edge 1"});
  desk.start("shapes_panel.remove");
  ASSERT_EQ(refused.size(), 1);
  EXPECT_TRUE(refused.front().contains("remove the dimension first"))
      << refused.front().toStdString();
  EXPECT_EQ(desk.session().dossier(), before);
}

TEST(ShapesPanel, ThroughNeedsPointsAndSaysSo) {
  ShapeDesk desk;
  desk.start("shapes_panel.plane_through");
  ASSERT_EQ(desk.said.size(), 1);
  EXPECT_TRUE(desk.said.front().contains("Select its points"));
  EXPECT_TRUE(desk.session().dossier().shapes.empty());
  desk.chosen_points = {"P01", "P02", "P03", "P04"};
  desk.start("shapes_panel.plane_through");
  ASSERT_EQ(desk.session().dossier().shapes.size(), 1u);
  ASSERT_TRUE(desk.dossier.wait_for_survey());
  // They lie on the table, by construction of the simulation.
  EXPECT_TRUE(desk.text("plane 1", ShapesModel::kForm).startsWith("flat within the error bars"))
      << desk.text("plane 1", ShapesModel::kForm).toStdString();
}

TEST(ShapesPanel, ADossierOpenElsewhereIsShownAndNotChanged) {
  ShapeDesk writer(true);
  auto opened = desk::DeskSession::open(writer.dossier.folder.path());
  ASSERT_TRUE(opened) << (opened ? "" : opened.error().sentence);
  desk::DeskSession& session = **opened;
  ASSERT_FALSE(session.read_only_reason().isEmpty());
  QStringList refused;
  QObject::connect(&session, &desk::DeskSession::refused, writer.panel,
                   [&](const QString& sentence) { refused << sentence; });
  desk::KeyBook keys(nullptr);
  desk::ShapesPanel panel(&session, &keys, [] { return QStringList(); });
  desk::PhotoPane pane(&session, &writer.store, &keys);
  pane.resize(900, 700);
  pane.show();
  const auto before = session.dossier();
  QAbstractItemModel* model = panel.view()->model();
  EXPECT_EQ(model->rowCount(), static_cast<int>(before.shapes.size()));
  EXPECT_FALSE(model->flags(model->index(0, ShapesModel::kName)) & Qt::ItemIsEditable);
  session.choose_shape("rim");
  const auto mark = writer.places_along("rim").front();
  session.choose_photo(mark.photo);
  pane.canvas()->centre_on({mark.position_px.x(), mark.position_px.y()}, 4.0);
  const QPoint at =
      pane.canvas()->view().to_view({mark.position_px.x(), mark.position_px.y()}).toPoint();
  EXPECT_EQ(pane.findChild<QLabel*>("photo_sentence")->text(), session.read_only_reason());
  // A drag moves the photo, a click is refused, arrows do nothing.
  QTest::mousePress(pane.canvas(), Qt::LeftButton, {}, at);
  for (int step = 1; step <= 3; ++step) {
    QTest::mouseMove(pane.canvas(), at + QPoint(15 * step, 0));
  }
  QTest::mouseRelease(pane.canvas(), Qt::LeftButton, {}, at + QPoint(45, 0));
  session.finish_edits();
  EXPECT_TRUE(refused.isEmpty());
  QTest::keyClick(pane.canvas(), Qt::Key_Right);
  EXPECT_FALSE(pane.pending());
  QTest::mouseClick(pane.canvas(), Qt::LeftButton, {}, at + QPoint(100, 60));
  session.finish_edits();
  EXPECT_EQ(refused.size(), 1);
  EXPECT_EQ(session.dossier(), before);
  EXPECT_EQ(writer.session().dossier(), before);
}

TEST(ShapesPanel, AQuestionForADiameterGoesIntoTheTableOfDimensions) {
  ShapeDesk desk;
  desk.start("shapes_panel.diameter");
  ASSERT_EQ(desk.said.size(), 1);
  EXPECT_TRUE(desk.said.front().contains("Select an edge or round first"));
  const std::string rim = desk.mark("shapes_panel.circle", "rim");
  desk.select({rim});
  desk.start("shapes_panel.diameter");
  ASSERT_EQ(desk.session().dossier().dimensions.size(), 1u);
  ASSERT_TRUE(desk.dossier.wait_for_survey());
  const measure::DimensionResult& diameter = desk.session().live()->dimensions.front();
  ASSERT_TRUE(diameter.problem.empty()) << diameter.problem;
  const auto [value, U] = value_and_u(desk.text(rim, ShapesModel::kSize));
  EXPECT_NEAR(diameter.value, value, 0.051 * U);  // two digits of U are shown
  EXPECT_NEAR(diameter.U, U, 0.051 * U);
}

}  // namespace
}  // namespace testing_support
