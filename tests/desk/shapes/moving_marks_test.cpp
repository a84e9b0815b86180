// Marks along shapes are moved like those of points: dragged, or with the arrow keys and Enter.
#include <QLabel>
#include <QPushButton>

#include "tests/desk/shapes/shape_desk.h"

namespace testing_support {
namespace {

/// An edge with three marks in the first photo.
class MovingMarks : public testing::Test {
 protected:
  MovingMarks() {
    desk_.start("shapes_panel.edge");
    edge_ = desk_.session().chosen_shape();
    const auto places = desk_.places_along("edge 1");
    for (int i = 0; i < 3; ++i) desk_.click(places[i].photo, places[i].position_px);
    EXPECT_EQ(marks().size(), 3u);
  }
  std::vector<measure::ShapeMark> marks() { return desk_.marks_of(edge_); }
  /// How far the mark nearest to a place is from it.
  double distance_from(const Eigen::Vector2d& at) {
    double least = 1e9;
    for (const auto& mark : marks()) least = std::min(least, (mark.position_px - at).norm());
    return least;
  }
  void leave_canvas() {
    QEvent leave(QEvent::Leave);
    QApplication::sendEvent(desk_.canvas(), &leave);
  }
  QString sentence() { return desk_.pane->findChild<QLabel*>("photo_sentence")->text(); }

  ShapeDesk desk_;
  std::string edge_;
};

TEST_F(MovingMarks, ADraggedMarkMovesInOneStepOfUndo) {
  const Eigen::Vector2d before = marks()[1].position_px;
  desk_.canvas()->centre_on({before.x(), before.y()}, 4.0);
  const QPoint from = desk_.seen_at(before);
  QTest::mousePress(desk_.canvas(), Qt::LeftButton, {}, from);
  for (int step = 1; step <= 4; ++step) {
    QTest::mouseMove(desk_.canvas(), from + QPoint(12 * step, 0));
  }
  QTest::mouseRelease(desk_.canvas(), Qt::LeftButton, {}, from + QPoint(48, 0));
  desk_.session().finish_edits();
  ASSERT_EQ(marks().size(), 3u);
  EXPECT_LT(distance_from(before + Eigen::Vector2d(12, 0)), 1e-9);
  EXPECT_GT(distance_from(before), 5);
  EXPECT_TRUE(desk_.session().undo_text().contains("move mark on"))
      << desk_.session().undo_text().toStdString();
  desk_.session().undo();
  desk_.session().finish_edits();
  ASSERT_EQ(marks().size(), 3u);
  EXPECT_LT(distance_from(before), 1e-12);
}

TEST_F(MovingMarks, ArrowsAndEnterMoveTheMarkSetLastWithoutTheMouse) {
  leave_canvas();
  const Eigen::Vector2d before = marks()[2].position_px;
  QTest::keyClick(desk_.canvas(), Qt::Key_Right);
  QTest::keyClick(desk_.canvas(), Qt::Key_Right, Qt::ShiftModifier);
  QTest::keyClick(desk_.canvas(), Qt::Key_Up);
  ASSERT_TRUE(desk_.pane->pending());
  EXPECT_LT(distance_from(before), 1e-12) << "until Enter";
  EXPECT_TRUE(sentence().contains("Enter sets it there")) << sentence().toStdString();
  QTest::keyClick(desk_.canvas(), Qt::Key_Return);
  desk_.session().finish_edits();
  EXPECT_FALSE(desk_.pane->pending());
  ASSERT_EQ(marks().size(), 3u);
  EXPECT_LT(distance_from(before + Eigen::Vector2d(1.1, -0.1)), 1e-9);
  EXPECT_GT(distance_from(before), 1.0);
  // The same mark is still in hand.
  QTest::keyClick(desk_.canvas(), Qt::Key_Down);
  QTest::keyClick(desk_.canvas(), Qt::Key_Return);
  desk_.session().finish_edits();
  EXPECT_LT(distance_from(before + Eigen::Vector2d(1.1, 0)), 1e-9);
}

TEST_F(MovingMarks, ArrowsMeanTheMarkUnderTheCursorAndEscapeLeavesIt) {
  const Eigen::Vector2d first = marks()[0].position_px, last = marks()[2].position_px;
  desk_.canvas()->centre_on({first.x(), first.y()}, 4.0);
  QTest::mouseMove(desk_.canvas(), desk_.seen_at(first));
  QTest::keyClick(desk_.canvas(), Qt::Key_Left);
  ASSERT_TRUE(desk_.pane->pending());
  EXPECT_NEAR(desk_.pane->pending()->x(), first.x() - 0.1, 1e-9);
  QTest::keyClick(desk_.canvas(), Qt::Key_Escape);
  EXPECT_FALSE(desk_.pane->pending());
  EXPECT_EQ(desk_.session().chosen_shape(), edge_) << "a second Escape ends the marking";
  EXPECT_LT(distance_from(first), 1e-12);
  EXPECT_LT(distance_from(last), 1e-12);
  QTest::keyClick(desk_.canvas(), Qt::Key_Escape);
  EXPECT_TRUE(desk_.session().chosen_shape().empty());
}

TEST_F(MovingMarks, TheButtonsMeanTheMarkSetLast) {
  leave_canvas();
  auto* aside = desk_.pane->findChild<QPushButton*>("photo_aside");
  ASSERT_TRUE(aside->isEnabled());
  QTest::mouseClick(aside, Qt::LeftButton);
  desk_.session().finish_edits();
  EXPECT_TRUE(marks()[2].set_aside);
  EXPECT_EQ(aside->text().toStdString(), "Take back");
  QTest::mouseClick(aside, Qt::LeftButton);
  desk_.session().finish_edits();
  EXPECT_FALSE(marks()[2].set_aside);
  QTest::mouseClick(desk_.pane->findChild<QPushButton*>("photo_remove"), Qt::LeftButton);
  desk_.session().finish_edits();
  EXPECT_EQ(marks().size(), 2u);
  EXPECT_FALSE(aside->isEnabled()) << "no mark is in hand";
}

TEST_F(MovingMarks, AMarkDraggedBeyondThePhotoIsRefusedAndGoesBack) {
  QStringList refused;
  QObject::connect(&desk_.session(), &desk::DeskSession::refused, desk_.pane,
                   [&](const QString& sentence) { refused << sentence; });
  const Eigen::Vector2d before = marks()[0].position_px;
  Q_EMIT desk_.canvas()->shape_mark_dragged(edge_, {before.x(), before.y()}, {-400, 10});
  desk_.session().finish_edits();
  ASSERT_EQ(refused.size(), 1);
  EXPECT_TRUE(refused.front().contains("outside the photo")) << refused.front().toStdString();
  ASSERT_EQ(marks().size(), 3u);
  EXPECT_LT(distance_from(before), 1e-12);
}

TEST_F(MovingMarks, PointsStayWhereTheyAreWhileAShapeIsMarked) {
  const auto& all = desk_.session().dossier().marks;
  const auto point = std::find_if(all.begin(), all.end(), [&](const measure::Mark& mark) {
    return mark.photo == desk_.canvas()->photo();
  });
  ASSERT_NE(point, all.end());
  const Eigen::Vector2d at = point->position_px;
  desk_.canvas()->centre_on({at.x(), at.y()}, 4.0);
  const QPoint from = desk_.seen_at(at);
  const QPointF centre = desk_.canvas()->view().centre_px;
  QTest::mousePress(desk_.canvas(), Qt::LeftButton, {}, from);
  for (int step = 1; step <= 3; ++step) {
    QTest::mouseMove(desk_.canvas(), from + QPoint(15 * step, 0));
  }
  QTest::mouseRelease(desk_.canvas(), Qt::LeftButton, {}, from + QPoint(45, 0));
  desk_.session().finish_edits();
  EXPECT_NE(desk_.canvas()->view().centre_px, centre) << "the photo moves instead";
  const auto& now = desk_.session().dossier().marks;
  EXPECT_TRUE(std::any_of(now.begin(), now.end(), [&](const measure::Mark& mark) {
    return mark.photo == desk_.canvas()->photo() && mark.position_px == at;
  }));
}

}  // namespace
}  // namespace testing_support
