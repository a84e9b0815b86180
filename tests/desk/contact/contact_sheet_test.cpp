#include "tools/desk/contact/contact_sheet.h"

#include <QComboBox>
#include <QDropEvent>
#include <QLabel>
#include <QListView>
#include <QMimeData>
#include <QSignalSpy>
#include <QTest>
#include <QUrl>

#include <gtest/gtest.h>

#include "tests/calib/file/scratch_folder.h"
#include "tests/desk/photos/demo_survey.h"
#include "tools/desk/contact/photo_model.h"
#include "tools/desk/look/key_book.h"
#include "tools/desk/photos/photo_store.h"
#include "tools/desk/session/desk_session.h"

namespace desk {
namespace {

using Names = std::vector<std::string>;
constexpr int kPatience_ms = 60'000;

class ContactSheetTest : public testing::Test {
 protected:
  ContactSheetTest() : store_({.cache = folder_ / "cache", .threads = 2}), keys_(nullptr) {
    testing_support::write_demo_survey(folder_ / "dossier");
    auto opened = DeskSession::open(folder_ / "dossier");
    EXPECT_TRUE(opened) << (opened ? "" : opened.error().sentence);
    session_ = std::move(*opened);
    sheet_ = std::make_unique<ContactSheet>(session_.get(), &store_, &keys_);
    sheet_->resize(800, 600);
    sheet_->show();
    sheet_->activateWindow();
    sheet_->list()->setFocus();
  }
  bool settle() {
    return QTest::qWaitFor(
        [&] {
          return session_->live()->survey && session_->live()->tested &&
                 !session_->live_is_behind() && store_.idle();
        },
        kPatience_ms);
  }
  void choose(const char* box, int which) {
    sheet_->findChild<QComboBox*>(box)->setCurrentIndex(which);
  }
  QVariant of(const std::string& photo, int role) {
    for (int row = 0; row < sheet_->sorter()->rowCount(); ++row) {
      const QModelIndex at = sheet_->sorter()->index(row, 0);
      if (at.data(PhotoModel::kNameRole).toString().toStdString() == photo) return at.data(role);
    }
    return {};
  }

  testing_support::ScratchFolder folder_;
  PhotoStore store_;
  KeyBook keys_;
  std::unique_ptr<DeskSession> session_;
  std::unique_ptr<ContactSheet> sheet_;
};

TEST_F(ContactSheetTest, ShowsOfEachPhotoItsMarksAndHowItIsOriented) {
  ASSERT_TRUE(settle());
  EXPECT_EQ(sheet_->shown(), (Names{"a1.jpg", "a2.jpg", "a3.jpg", "a4.jpg", "a5.jpg", "a6.jpg"}));
  EXPECT_EQ(of("a1.jpg", PhotoModel::kMarksRole), 12);
  EXPECT_EQ(of("a6.jpg", PhotoModel::kMarksRole), 11);
  EXPECT_EQ(of("a1.jpg", PhotoModel::kOrientedRole), true);
  EXPECT_LT(of("a1.jpg", PhotoModel::kRmsRole).toDouble(), 1.0);
  EXPECT_TRUE(QTest::qWaitFor(
      [&] {
        (void)sheet_->grab();
        return !of("a6.jpg", Qt::DecorationRole).value<QImage>().isNull();
      },
      kPatience_ms));
}

TEST_F(ContactSheetTest, APhotoWithTooFewMarksStandsFirstAndSaysWhatItLacks) {
  ASSERT_TRUE(settle());
  measure::RemoveMarks all_but_two;
  for (int p = 3; p <= 12; ++p)
    all_but_two.marks.push_back({"a4.jpg", std::string("P").append(std::to_string(p))});
  ASSERT_TRUE(session_->change(all_but_two));
  ASSERT_TRUE(settle());
  EXPECT_EQ(of("a4.jpg", PhotoModel::kOrientedRole), false);
  EXPECT_FALSE(of("a4.jpg", PhotoModel::kLacksRole).toString().isEmpty());
  choose("contact_order", static_cast<int>(PhotoOrder::kLacksFirst));
  EXPECT_EQ(sheet_->shown().front(), "a4.jpg");
  choose("contact_order", static_cast<int>(PhotoOrder::kFewestMarks));
  EXPECT_EQ(sheet_->shown().front(), "a4.jpg");
  choose("contact_filter", static_cast<int>(PhotoFilter::kNotOriented));
  EXPECT_EQ(sheet_->shown(), Names{"a4.jpg"});
  session_->undo();
  ASSERT_TRUE(settle());
  EXPECT_TRUE(sheet_->shown().empty());  // the filter follows the survey
}

TEST_F(ContactSheetTest, SortsByResidualsLargestFirst) {
  ASSERT_TRUE(settle());
  measure::Mark wrong = *session_->mark_at("a5.jpg", "P3");
  wrong.position_px.x() += 20;
  ASSERT_TRUE(session_->change(measure::set_mark(wrong)));
  ASSERT_TRUE(settle());
  choose("contact_order", static_cast<int>(PhotoOrder::kLargestRms));
  EXPECT_EQ(sheet_->shown().front(), "a5.jpg");
  EXPECT_EQ(of("a5.jpg", PhotoModel::kDoubtedRole), 1);
}

TEST_F(ContactSheetTest, FiltersPhotosInWhichTheChosenPointCouldBeMarked) {
  ASSERT_TRUE(settle());
  choose("contact_filter", static_cast<int>(PhotoFilter::kChosenUnmarked));
  EXPECT_TRUE(sheet_->shown().empty());  // no point is chosen
  session_->choose_point("P12");
  EXPECT_EQ(sheet_->shown(), Names{"a6.jpg"});
  session_->choose_point("P1");
  EXPECT_TRUE(sheet_->shown().empty());
  session_->choose_point("P12");
  sheet_->set_could_see([](const std::string&) { return false; });
  EXPECT_TRUE(sheet_->shown().empty());
}

TEST_F(ContactSheetTest, KeysChooseAndOpenPhotos) {
  ASSERT_TRUE(settle());
  QSignalSpy opened(sheet_.get(), &ContactSheet::photo_opened);
  session_->choose_photo("a1.jpg");
  QTest::keyClick(sheet_->list(), Qt::Key_Right);
  EXPECT_EQ(session_->chosen_photo(), "a2.jpg");
  QTest::keyClick(sheet_->list(), Qt::Key_Return);
  ASSERT_EQ(opened.count(), 1);
  EXPECT_EQ(opened[0][0].value<std::string>(), "a2.jpg");
}

TEST_F(ContactSheetTest, ADoubleClickOpensAPhoto) {
  ASSERT_TRUE(settle());
  QSignalSpy opened(sheet_.get(), &ContactSheet::photo_opened);
  const QPoint at = sheet_->list()->visualRect(sheet_->sorter()->index(2, 0)).center();
  QTest::mouseClick(sheet_->list()->viewport(), Qt::LeftButton, {}, at);
  EXPECT_EQ(session_->chosen_photo(), "a3.jpg");
  QTest::mouseDClick(sheet_->list()->viewport(), Qt::LeftButton, {}, at);
  ASSERT_EQ(opened.count(), 1);
}

TEST_F(ContactSheetTest, DroppedFilesAndFoldersAreHandedOn) {
  QSignalSpy dropped(sheet_.get(), &ContactSheet::files_dropped);
  QMimeData data;
  data.setUrls({QUrl::fromLocalFile("/tmp/one.jpg"), QUrl::fromLocalFile("/tmp/folder"),
                QUrl("https://example.org/three.jpg")});
  QDragEnterEvent enter(QPoint(50, 50), Qt::CopyAction | Qt::MoveAction, &data, Qt::LeftButton,
                        Qt::NoModifier);
  QCoreApplication::sendEvent(sheet_->list()->viewport(), &enter);
  EXPECT_TRUE(enter.isAccepted());
  QDropEvent drop(QPointF(50, 50), Qt::CopyAction | Qt::MoveAction, &data, Qt::LeftButton,
                  Qt::NoModifier);
  QCoreApplication::sendEvent(sheet_->list()->viewport(), &drop);
  ASSERT_EQ(dropped.count(), 1);
  EXPECT_TRUE(drop.isAccepted());
  EXPECT_EQ(drop.dropAction(), Qt::CopyAction);  // never moved away from where they lie
  const auto files = dropped[0][0].value<std::vector<std::filesystem::path>>();
  EXPECT_EQ(files, (std::vector<std::filesystem::path>{"/tmp/one.jpg", "/tmp/folder"}));
}

TEST_F(ContactSheetTest, APhotoRemovedLeavesAndOneUnreadableSaysSo) {
  ASSERT_TRUE(settle());
  ASSERT_TRUE(session_->change(measure::RemovePhoto{"a2.jpg"}));
  EXPECT_EQ(sheet_->shown().size(), 5u);
  testing_support::put(folder_ / "dossier" / "photos" / "bad.jpg", "nothing");
  ASSERT_TRUE(session_->change(measure::AddPhoto{
      {"bad.jpg", "photos/bad.jpg", std::string(64, '0'), {1200, 900}, "body", 1, ""}}));
  ASSERT_TRUE(QTest::qWaitFor(
      [&] {
        (void)sheet_->grab();
        return of("bad.jpg", PhotoModel::kUnreadableRole).toBool();
      },
      kPatience_ms));
  EXPECT_TRUE(of("bad.jpg", PhotoModel::kLacksRole).toString().contains("bad.jpg"));
}

}  // namespace
}  // namespace desk
