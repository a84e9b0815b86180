#include "tools/desk/photos/photo_canvas.h"

#include <QSignalSpy>
#include <QTest>
#include <QWheelEvent>

#include <gtest/gtest.h>

#include "tests/calib/file/scratch_folder.h"
#include "tests/desk/photos/painted_photo.h"
#include "tools/desk/look/key_book.h"

namespace desk {
namespace {

using testing_support::ScratchFolder;

constexpr int kPatience_ms = 60'000;

class PhotoCanvasTest : public testing::Test {
 protected:
  PhotoCanvasTest()
      : store_({.cache = folder_ / "cache", .threads = 2}),
        keys_(nullptr),
        canvas_(&store_, &keys_, "Photo", "photo") {
    canvas_.resize(600, 400);
    canvas_.show();
  }
  void open(const cv::Mat& photo) {
    cv::imwrite((folder_ / "a.png").string(), photo);
    store_.enter("a", folder_ / "a.png");
    canvas_.show_photo("a", {photo.cols, photo.rows});
    ASSERT_TRUE(QTest::qWaitFor(
        [&] {
          const auto now = store_.photo("a", PhotoStore::Want::kNow);
          return now && now->complete() && store_.idle();
        },
        kPatience_ms));
    QTest::qWait(1);  // photo_ready
  }
  void wheel(const QPointF& at, int notches) {
    QWheelEvent event(at, canvas_.mapToGlobal(at), {}, {0, 120 * notches}, Qt::NoButton,
                      Qt::NoModifier, Qt::NoScrollPhase, false);
    QCoreApplication::sendEvent(&canvas_, &event);
  }
  ScratchFolder folder_;
  PhotoStore store_;
  KeyBook keys_;
  PhotoCanvas canvas_;
};

TEST_F(PhotoCanvasTest, BeginsWithTheWholePhoto) {
  open(testing_support::painted_photo(1200, 400));
  EXPECT_DOUBLE_EQ(canvas_.view().zoom, 0.5);
  EXPECT_EQ(canvas_.view().to_photo({0, 100}), QPointF(-0.5, -0.5));
  EXPECT_EQ(canvas_.view().to_photo({600, 300}), QPointF(1199.5, 399.5));
}

TEST_F(PhotoCanvasTest, ZoomsAboutTheCursor) {
  open(testing_support::painted_photo(1200, 800));
  const QPointF at(450, 120);
  const QPointF before = canvas_.view().to_photo(at);
  wheel(at, 4);
  EXPECT_NEAR(canvas_.view().zoom, 0.5 * std::pow(1.25, 4), 1e-12);
  const QPointF after = canvas_.view().to_photo(at);
  EXPECT_NEAR(after.x(), before.x(), 1e-9);
  EXPECT_NEAR(after.y(), before.y(), 1e-9);
}

TEST_F(PhotoCanvasTest, APixelIsDrawnAboutItsCentre) {
  cv::Mat black(400, 600, CV_8UC3, cv::Scalar::all(0));
  black.at<cv::Vec3b>(210, 333) = {255, 255, 255};
  open(black);
  for (const double turn : {0.0, 90.0, -30.0}) {
    canvas_.set_turn(turn);
    canvas_.centre_on({330.25, 208.5}, 10.0);
    QTest::qWait(200);  // until the view rests: all of the screen's pixels again
    const QImage seen = canvas_.grab().toImage();
    double sum = 0, x = 0, y = 0;
    for (int v = 60; v < 340; ++v) {  // without the read-out in the corner
      for (int u = 0; u < 600; ++u) {
        const double light = std::max(0, qGray(seen.pixel(u, v)) - 40);
        sum += light;
        x += light * (u + 0.5);
        y += light * (v + 0.5);
      }
    }
    ASSERT_GT(sum, 0) << turn;
    const QPointF expected = canvas_.view().to_view({333, 210});
    EXPECT_NEAR(x / sum, expected.x(), 0.4) << turn;  // 1/32 px of interpolation, ten times larger
    EXPECT_NEAR(y / sum, expected.y(), 0.4) << turn;
  }
}

TEST_F(PhotoCanvasTest, AClickNamesThePlaceUnderIt) {
  open(testing_support::painted_photo(600, 400));
  canvas_.centre_on({200, 100}, 8.0);
  QSignalSpy placed(&canvas_, &PhotoCanvas::place_clicked);
  QTest::mouseClick(&canvas_, Qt::LeftButton, {}, {310, 196});
  ASSERT_EQ(placed.count(), 1);
  // Qt's synthetic mouse stands on the corner of a widget pixel.
  const QPointF px = placed.front().front().toPointF();
  EXPECT_NEAR(px.x(), 200 + 10 / 8.0, 1e-9);
  EXPECT_NEAR(px.y(), 100 - 4 / 8.0, 1e-9);
}

TEST_F(PhotoCanvasTest, AClickMeansTheNearestPointWithinReach) {
  open(testing_support::painted_photo(600, 400));
  PhotoTrace trace;
  trace.marks = {{.point = "far", .at = {120, 100}}, {.point = "near", .at = {104, 100}}};
  trace.places = {{.point = "expected", .at = {300, 300}}};
  canvas_.set_trace(trace);
  QSignalSpy clicked(&canvas_, &PhotoCanvas::point_clicked);
  QSignalSpy placed(&canvas_, &PhotoCanvas::place_clicked);
  const auto click = [&](const QPointF& px, Qt::KeyboardModifiers with = {}) {
    QTest::mouseClick(&canvas_, Qt::LeftButton, with, canvas_.view().to_view(px).toPoint());
  };
  click({107, 102});
  ASSERT_EQ(clicked.count(), 1);
  EXPECT_EQ(clicked[0][0].value<std::string>(), "near");
  click({302, 303});
  ASSERT_EQ(clicked.count(), 2);
  EXPECT_EQ(clicked[1][0].value<std::string>(), "expected");
  EXPECT_EQ(placed.count(), 0);
  click({107, 102}, Qt::ShiftModifier);  // a place, beside another point's mark
  EXPECT_EQ(placed.count(), 1);
  click({200, 200});
  EXPECT_EQ(placed.count(), 2);
}

TEST_F(PhotoCanvasTest, DraggingAMarkMovesItAndDraggingElsewhereMovesThePhoto) {
  open(testing_support::painted_photo(600, 400));
  canvas_.centre_on({300, 200}, 2.0);
  PhotoTrace trace;
  trace.marks = {{.point = "A", .at = {310, 210}}};
  canvas_.set_trace(trace);
  QSignalSpy dragged(&canvas_, &PhotoCanvas::mark_dragged);
  const QPoint from = canvas_.view().to_view({310, 210}).toPoint();
  QTest::mousePress(&canvas_, Qt::LeftButton, {}, from);
  QTest::mouseMove(&canvas_, from + QPoint(20, 0));
  QTest::mouseMove(&canvas_, from + QPoint(30, -14));
  QTest::mouseRelease(&canvas_, Qt::LeftButton, {}, from + QPoint(30, -14));
  ASSERT_EQ(dragged.count(), 1);
  EXPECT_NEAR(dragged[0][1].toPointF().x(), 325, 1e-9);
  EXPECT_NEAR(dragged[0][1].toPointF().y(), 203, 1e-9);

  const QPointF centre = canvas_.view().centre_px;
  QTest::mousePress(&canvas_, Qt::LeftButton, {}, {100, 100});
  QTest::mouseMove(&canvas_, QPoint(130, 100));
  QTest::mouseRelease(&canvas_, Qt::LeftButton, {}, {130, 100});
  EXPECT_EQ(dragged.count(), 1);
  EXPECT_NEAR(canvas_.view().centre_px.x(), centre.x() - 15, 1e-9);
}

TEST_F(PhotoCanvasTest, KeysZoomPanAndTurn) {
  open(testing_support::painted_photo(1200, 800));
  canvas_.activateWindow();
  canvas_.setFocus();
  ASSERT_TRUE(QTest::qWaitFor([&] { return canvas_.hasFocus(); }));
  QTest::keyClick(&canvas_, Qt::Key_1);
  EXPECT_DOUBLE_EQ(canvas_.view().zoom, 1.0);
  const double x = canvas_.view().centre_px.x();
  QTest::keyClick(&canvas_, Qt::Key_Right, Qt::ControlModifier);
  EXPECT_NEAR(canvas_.view().centre_px.x(), x + 90, 1e-9);
  QTest::keyClick(&canvas_, Qt::Key_T);
  EXPECT_DOUBLE_EQ(canvas_.view().turn_deg, 90);
  QTest::keyClick(&canvas_, Qt::Key_0);
  EXPECT_DOUBLE_EQ(canvas_.view().zoom, 400.0 / 1200);  // turned: the long side stands
}

TEST_F(PhotoCanvasTest, AnUnreadablePhotoShowsItsSentence) {
  testing_support::put(folder_ / "bad.jpg", "nothing");
  store_.enter("bad", folder_ / "bad.jpg");
  canvas_.show_photo("bad", {100, 100});
  ASSERT_TRUE(QTest::qWaitFor([&] { return !store_.problem("bad").isEmpty(); }, kPatience_ms));
  const QImage seen = canvas_.grab().toImage();
  int bright = 0;
  for (int v = 100; v < 300; ++v) {
    for (int u = 0; u < 600; ++u) bright += qGray(seen.pixel(u, v)) > 180;
  }
  EXPECT_GT(bright, 100);  // letters
}

TEST_F(PhotoCanvasTest, AMovedViewIsAsSharpAsBeforeOnceItRests) {
  open(testing_support::painted_photo(2400, 1600));
  canvas_.set_tone({0.3, 0.2, 0.8});
  canvas_.centre_on({1200, 800}, 1.0);
  QTest::qWait(300);
  const QImage before = canvas_.grab().toImage();
  canvas_.pan_by({33, 20});
  (void)canvas_.grab();
  canvas_.pan_by({-33, -20});
  QTest::qWait(300);
  EXPECT_EQ(canvas_.grab().toImage(), before);
}

}  // namespace
}  // namespace desk
