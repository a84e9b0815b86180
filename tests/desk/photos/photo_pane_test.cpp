#include "tools/desk/photos/photo_pane.h"

#include <QLabel>
#include <QLocale>
#include <QPushButton>
#include <QSignalSpy>
#include <QSlider>
#include <QTest>

#include <gtest/gtest.h>

#include "tests/calib/file/scratch_folder.h"
#include "tests/desk/photos/demo_survey.h"
#include "tools/desk/look/key_book.h"
#include "tools/desk/photos/photo_canvas.h"
#include "tools/desk/photos/photo_store.h"
#include "tools/desk/session/desk_session.h"

namespace desk {
namespace {

constexpr int kPatience_ms = 60'000;

class PhotoPaneTest : public testing::Test {
 protected:
  PhotoPaneTest()
      : demo_(testing_support::write_demo_survey(folder_ / "dossier")),
        store_({.cache = folder_ / "cache", .threads = 2}),
        keys_(nullptr) {
    QLocale::setDefault(QLocale::c());
    auto opened = DeskSession::open(folder_ / "dossier");
    EXPECT_TRUE(opened) << (opened ? "" : opened.error().sentence);
    session_ = std::move(*opened);
    for (const measure::Photo& photo : session_->dossier().photos) {
      store_.enter(photo.name, session_->file_of(photo));
    }
    pane_ = std::make_unique<PhotoPane>(session_.get(), &store_, &keys_);
    pane_->resize(900, 700);
    pane_->show();
    pane_->activateWindow();
    pane_->canvas()->setFocus();
  }
  bool settle() {
    return QTest::qWaitFor(
        [&] {
          return session_->live()->survey && session_->live()->tested &&
                 !session_->live_is_behind() && store_.idle();
        },
        kPatience_ms);
  }
  void click(const QPointF& px) {
    QTest::mouseClick(pane_->canvas(), Qt::LeftButton, {},
                      pane_->canvas()->view().to_view(px).toPoint());
  }
  QString text(const char* label) { return pane_->findChild<QLabel*>(label)->text(); }
  Eigen::Vector2d mark(const std::string& photo, const std::string& point) {
    const measure::Mark* found = session_->mark_at(photo, point);
    return found ? found->position_px : Eigen::Vector2d(NAN, NAN);
  }

  testing_support::ScratchFolder folder_;
  testing_support::DemoSurvey demo_;
  PhotoStore store_;
  KeyBook keys_;
  std::unique_ptr<DeskSession> session_;
  std::unique_ptr<PhotoPane> pane_;
};

TEST_F(PhotoPaneTest, SaysWhatToDoWhereNothingIsChosen) {
  EXPECT_TRUE(pane_->canvas()->photo().empty());
  session_->choose_photo("a1.jpg");
  ASSERT_TRUE(settle());
  EXPECT_TRUE(text("photo_caption").contains("1200 × 900 px"));
  EXPECT_TRUE(text("photo_caption").contains("marks: 12"));
  EXPECT_TRUE(text("photo_caption").contains("rms"));
  EXPECT_TRUE(text("photo_sentence").startsWith("Choose a point"));
}

TEST_F(PhotoPaneTest, AClickOnAMarkChoosesItsPoint) {
  session_->choose_photo("a2.jpg");
  ASSERT_TRUE(settle());
  QSignalSpy picked(session_.get(), &DeskSession::point_picked);
  const Eigen::Vector2d at = mark("a2.jpg", "P5");
  click({at.x(), at.y()});
  EXPECT_EQ(session_->chosen_point(), "P5");
  EXPECT_EQ(picked.count(), 1);
}

TEST_F(PhotoPaneTest, ClickAndEnterSetAMarkThatCanBeUndone) {
  session_->choose_photo("a6.jpg");
  session_->choose_point("P12");
  ASSERT_TRUE(settle());
  // Where it is expected: the survey knows the point from the other photos.
  const auto& places = pane_->canvas()->trace().places;
  ASSERT_EQ(places.size(), 1u);
  const Eigen::Vector2d truth = demo_.place(5, 11);
  EXPECT_NEAR(places[0].at.x(), truth.x(), 1.0);  // marks of 0.2 px, five photos
  EXPECT_NEAR(places[0].at.y(), truth.y(), 1.0);
  ASSERT_TRUE(places[0].half_axes_px);

  pane_->look_at("P12");
  QTest::mouseClick(pane_->canvas(), Qt::LeftButton, Qt::ShiftModifier,
                    pane_->canvas()->view().to_view({truth.x(), truth.y()}).toPoint());
  ASSERT_TRUE(pane_->pending());
  const QPointF clicked = *pane_->pending();
  EXPECT_TRUE(std::isnan(mark("a6.jpg", "P12").x()));
  QTest::keyClick(pane_->canvas(), Qt::Key_Right);
  QTest::keyClick(pane_->canvas(), Qt::Key_Right);
  QTest::keyClick(pane_->canvas(), Qt::Key_Up);
  QTest::keyClick(pane_->canvas(), Qt::Key_Return);
  EXPECT_TRUE(pane_->pending()) << "until it is on the disk";
  EXPECT_TRUE(std::isnan(mark("a6.jpg", "P12").x()));
  session_->finish_edits();
  EXPECT_FALSE(pane_->pending());
  EXPECT_NEAR(mark("a6.jpg", "P12").x(), clicked.x() + 0.2, 1e-9);
  EXPECT_NEAR(mark("a6.jpg", "P12").y(), clicked.y() - 0.1, 1e-9);
  session_->undo();
  session_->finish_edits();
  EXPECT_TRUE(std::isnan(mark("a6.jpg", "P12").x()));
  session_->redo();
  session_->finish_edits();
  EXPECT_FALSE(std::isnan(mark("a6.jpg", "P12").x()));
}

TEST_F(PhotoPaneTest, AClickOnTheExpectedPlaceOfTheChosenPointMarksThere) {
  session_->choose_photo("a6.jpg");
  session_->choose_point("P12");
  ASSERT_TRUE(settle());
  pane_->look_at("P12");
  const Eigen::Vector2d truth = demo_.place(5, 11);
  click({truth.x(), truth.y()});
  ASSERT_TRUE(pane_->pending());  // its own sign does not stand in the way
}

TEST_F(PhotoPaneTest, EscapeForgetsAPlace) {
  session_->choose_photo("a6.jpg");
  session_->choose_point("P12");
  ASSERT_TRUE(settle());
  click({60, 60});
  ASSERT_TRUE(pane_->pending());
  QTest::keyClick(pane_->canvas(), Qt::Key_Escape);
  EXPECT_FALSE(pane_->pending());
  QTest::keyClick(pane_->canvas(), Qt::Key_Return);
  EXPECT_TRUE(std::isnan(mark("a6.jpg", "P12").x()));
}

TEST_F(PhotoPaneTest, ArrowsNudgeAlongTheScreenInATurnedView) {
  session_->choose_photo("a3.jpg");
  session_->choose_point("P6");
  ASSERT_TRUE(settle());
  const Eigen::Vector2d before = mark("a3.jpg", "P6");
  pane_->canvas()->set_turn(90);  // the photo's right is the screen's down
  QTest::keyClick(pane_->canvas(), Qt::Key_Down, Qt::ShiftModifier);
  QTest::keyClick(pane_->canvas(), Qt::Key_Return);
  session_->finish_edits();
  EXPECT_NEAR(mark("a3.jpg", "P6").x(), before.x() + 1.0, 1e-9);
  EXPECT_NEAR(mark("a3.jpg", "P6").y(), before.y(), 1e-9);
}

TEST_F(PhotoPaneTest, AMarkDraggedIsMovedInOneStepOfUndo) {
  session_->choose_photo("a1.jpg");
  ASSERT_TRUE(settle());
  const Eigen::Vector2d before = mark("a1.jpg", "P7");
  pane_->canvas()->centre_on({before.x(), before.y()}, 4.0);
  const QPoint from = pane_->canvas()->view().to_view({before.x(), before.y()}).toPoint();
  QTest::mousePress(pane_->canvas(), Qt::LeftButton, {}, from);
  for (int step = 1; step <= 4; ++step) {
    QTest::mouseMove(pane_->canvas(), from + QPoint(12 * step, 0));
  }
  QTest::mouseRelease(pane_->canvas(), Qt::LeftButton, {}, from + QPoint(48, 0));
  session_->finish_edits();
  EXPECT_NEAR(mark("a1.jpg", "P7").x(), before.x() + 12, 1e-9);
  EXPECT_EQ(session_->chosen_point(), "P7");
  session_->undo();
  session_->finish_edits();
  EXPECT_NEAR(mark("a1.jpg", "P7").x(), before.x(), 1e-12);
}

TEST_F(PhotoPaneTest, ADoubtedMarkSaysByHowMuchAndAgainstWhichPhotos) {
  session_->choose_photo("a3.jpg");
  session_->choose_point("P6");
  measure::Mark wrong = *session_->mark_at("a3.jpg", "P6");
  wrong.position_px += Eigen::Vector2d(8, 6);  // 10 px
  ASSERT_TRUE(session_->change(measure::set_mark(wrong)));
  ASSERT_TRUE(settle());
  ASSERT_TRUE(session_->is_doubted("a3.jpg", "P6"));
  EXPECT_EQ(state_of(*session_, "a3.jpg", "P6"), MarkState::kDoubted);
  const QString sentence = text("photo_sentence");
  EXPECT_TRUE(sentence.contains("P6 is doubted in a3.jpg")) << sentence.toStdString();
  for (const char* other : {"a1.jpg", "a2.jpg", "px"}) EXPECT_TRUE(sentence.contains(other));
  const auto away = distance_from_others_px(*session_, "a3.jpg", "P6");
  ASSERT_TRUE(away);
  // Marks of 0.2 px here and in the other five photos: five standard deviations of the difference.
  EXPECT_NEAR(away->x(), -8, 1.2);
  EXPECT_NEAR(away->y(), -6, 1.2);

  QPushButton* aside = pane_->findChild<QPushButton*>("photo_aside");
  QTest::mouseClick(aside, Qt::LeftButton);
  session_->finish_edits();
  EXPECT_TRUE(session_->mark_at("a3.jpg", "P6")->set_aside);
  EXPECT_TRUE(text("photo_sentence").contains("set aside"));
  QTest::keyClick(pane_->canvas(), Qt::Key_S);
  session_->finish_edits();
  EXPECT_FALSE(session_->mark_at("a3.jpg", "P6")->set_aside);
}

TEST_F(PhotoPaneTest, DeleteRemovesTheChosenMarkOnly) {
  session_->choose_photo("a3.jpg");
  session_->choose_point("P6");
  ASSERT_TRUE(settle());
  const std::size_t before = session_->dossier().marks.size();
  QTest::keyClick(pane_->canvas(), Qt::Key_Delete);
  session_->finish_edits();
  EXPECT_FALSE(session_->mark_at("a3.jpg", "P6"));
  EXPECT_EQ(session_->dossier().marks.size(), before - 1);
  QTest::keyClick(pane_->canvas(), Qt::Key_Delete);  // nothing left to remove
  session_->finish_edits();
  EXPECT_EQ(session_->dossier().marks.size(), before - 1);
}

TEST_F(PhotoPaneTest, ADimensionIsDrawnAlongTheLineThatTheLensBends) {
  session_->choose_photo("a1.jpg");
  session_->choose_dimension("edge");
  ASSERT_TRUE(settle());
  const auto& curves = pane_->canvas()->trace().curves;
  const auto edge = std::find_if(curves.begin(), curves.end(), [](const TracedCurve& curve) {
    return curve.dimension == "edge";
  });
  ASSERT_NE(edge, curves.end());
  EXPECT_TRUE(edge->label.contains("±"));
  EXPECT_TRUE(edge->label.contains("mm"));
  // Its middle is the picture of a place between its ends, not the middle of the picture's ends.
  const Eigen::Vector3d from = demo_.points[0].second, to = demo_.points[3].second;
  double nearest = 1e9;
  const Eigen::Vector2d half =
      calib::project(demo_.intrinsics, demo_.poses[0], Eigen::Vector3d((from + to) / 2));
  for (qsizetype i = 0; i + 1 < edge->course.size(); ++i) {
    const QPointF a = edge->course[i], step = edge->course[i + 1] - a;
    const double t = std::clamp(((half.x() - a.x()) * step.x() + (half.y() - a.y()) * step.y()) /
                                    (step.x() * step.x() + step.y() * step.y()),
                                0.0, 1.0);
    nearest = std::min(
        nearest, std::hypot(a.x() + t * step.x() - half.x(), a.y() + t * step.y() - half.y()));
  }
  EXPECT_LT(nearest, 0.5);
  const QPointF chord_step = edge->course.last() - edge->course.first();
  const QPointF away = QPointF(half.x(), half.y()) - edge->course.first();
  const double bend = std::abs(chord_step.x() * away.y() - chord_step.y() * away.x()) /
                      std::hypot(chord_step.x(), chord_step.y());
  EXPECT_GT(bend, 1.0);  // the case would show nothing with a straight line
}

TEST_F(PhotoPaneTest, ToneChangesTheViewAndNotTheFile) {
  const auto file = folder_ / "dossier" / "photos" / "a1.jpg";
  const std::string before = testing_support::contents_of(file);
  session_->choose_photo("a1.jpg");
  ASSERT_TRUE(settle());
  const QImage plain = pane_->canvas()->grab().toImage();
  pane_->findChild<QSlider*>("tone_brightness")->setValue(60);
  EXPECT_NEAR(pane_->tone().brightness, 0.6, 1e-12);
  EXPECT_NE(pane_->canvas()->grab().toImage(), plain);
  QTest::mouseClick(pane_->findChild<QPushButton*>("tone_plain"), Qt::LeftButton);
  EXPECT_TRUE(pane_->tone().is_neutral());
  EXPECT_EQ(testing_support::contents_of(file), before);
}

TEST_F(PhotoPaneTest, AMarkBeyondThePhotoIsRefusedAndStaysWhereItWas) {
  session_->choose_photo("a1.jpg");
  ASSERT_TRUE(settle());
  QSignalSpy refused(session_.get(), &DeskSession::refused);
  const Eigen::Vector2d before = mark("a1.jpg", "P1");
  Q_EMIT pane_->canvas()->mark_dragged("P1", QPointF(-500, 20));
  session_->finish_edits();
  EXPECT_EQ(refused.count(), 1);
  EXPECT_EQ(mark("a1.jpg", "P1"), before);
  for (const TracedMark& traced : pane_->canvas()->trace().marks) {
    if (traced.point != "P1") continue;
    EXPECT_NEAR(traced.at.x(), before.x(), 1e-9);
  }
}

}  // namespace
}  // namespace desk
