// Edits that are not waited for: in their order, on the disk before they are seen, and never seen
// where the disk refused them.
#include "tools/desk/session/desk_session.h"

#include <QTest>
#include <filesystem>

#include <gtest/gtest.h>

#include "measure/store/dossier_file.h"
#include "tests/calib/file/scratch_folder.h"

namespace desk {
namespace {

class DeskSessionTest : public testing::Test {
 protected:
  void SetUp() override {
    measure::Dossier dossier;
    dossier.name = "original";
    dossier.points = {{"A", ""}, {"B", ""}, {"C", ""}};
    ASSERT_TRUE(measure::create_dossier(folder_ / "original", dossier));
    open();
  }
  void open() {
    session_.reset();
    auto session = DeskSession::open(folder_ / "original");
    ASSERT_TRUE(session) << session.error().sentence;
    session_ = std::move(*session);
    QObject::connect(session_.get(), &DeskSession::refused,
                     [this](const QString& sentence) { refused_ << sentence; });
    QObject::connect(session_.get(), &DeskSession::dossier_changed, [this](const auto&) {
      ++seen_;
      const auto on_disk = measure::read_dossier(folder_ / "original");
      ASSERT_TRUE(on_disk) << on_disk.error().sentence;
      EXPECT_TRUE(*on_disk == session_->dossier()) << "edit " << seen_;
    });
  }
  [[nodiscard]] const std::string& name() const { return session_->dossier().name; }
  void rename(const std::string& to) { session_->change_soon(measure::SetDossierName{to}); }

  testing_support::ScratchFolder folder_;
  std::unique_ptr<DeskSession> session_;
  QStringList refused_;
  int seen_ = 0;
};

TEST_F(DeskSessionTest, ShowsAnEditOnlyOnceItIsOnTheDisk) {
  rename("one");
  EXPECT_EQ(name(), "original");
  EXPECT_TRUE(session_->is_writing());
  EXPECT_TRUE(session_->live_is_behind());
  ASSERT_TRUE(QTest::qWaitFor([&] { return !session_->is_writing(); }));
  EXPECT_EQ(name(), "one");
  EXPECT_EQ(session_->unsaved(), 1u);
  EXPECT_EQ(seen_, 1);
}

TEST_F(DeskSessionTest, MakesEditsAndStepsInTheOrderInWhichTheyWereAsked) {
  rename("one");
  rename("two");
  session_->undo();
  rename("three");
  session_->undo();
  session_->undo();
  session_->redo();
  session_->change_soon(measure::RenamePoint{"A", "Z"});
  std::string found;
  session_->in_turn(nullptr, [&] { found = session_->dossier().points.back().name; });
  EXPECT_TRUE(found.empty());
  session_->finish_edits();
  EXPECT_EQ(found, "Z") << "what is done in turn sees all that was asked before";
  EXPECT_EQ(name(), "one");
  EXPECT_EQ(seen_, 8);
  EXPECT_TRUE(refused_.isEmpty()) << refused_.join(' ').toStdString();
  // An edit that is waited for comes after those that are not.
  rename("four");
  EXPECT_TRUE(session_->change(measure::RemovePoint{"Z"}));
  EXPECT_EQ(name(), "four");
  EXPECT_EQ(session_->undo_text(), "remove point \"Z\"");
}

TEST_F(DeskSessionTest, HasAllThatWasBegunAfterItWasClosedAtOnce) {
  rename("one");
  session_.reset();
  open();
  EXPECT_EQ(name(), "one");
}

TEST_F(DeskSessionTest, NeverShowsAnEditThatTheDiskRefused) {
  rename("one");
  session_->finish_edits();
  ASSERT_TRUE(std::filesystem::remove(folder_ / "original/journal.ndjson"));
  bool told = true;
  session_->change_soon(measure::SetDossierName{"two"}, session_.get(),
                        [&](bool done) { told = done; });
  session_->undo();
  session_->finish_edits();
  EXPECT_FALSE(told);
  EXPECT_EQ(name(), "one");
  ASSERT_EQ(refused_.size(), 2);
  EXPECT_TRUE(refused_.first().contains("journal.ndjson")) << refused_.first().toStdString();
  EXPECT_EQ(seen_, 1);
  // As the sentence says, saving writes all of it anew, and the work goes on.
  EXPECT_TRUE(session_->save());
  rename("three");
  session_->undo();
  session_->undo();
  session_->finish_edits();
  EXPECT_EQ(name(), "original");
}

TEST_F(DeskSessionTest, DoesNotCallBackWhoHasGoneMeanwhile) {
  auto gone = std::make_unique<QObject>();
  bool called = false;
  session_->change_soon(measure::SetDossierName{"one"}, gone.get(), [&](bool) { called = true; });
  session_->change_soon(measure::SetDossierName{"two"}, gone.get(), [&](bool) { called = true; });
  session_->in_turn(gone.get(), [&] { called = true; });
  gone.reset();
  session_->finish_edits();
  EXPECT_FALSE(called);
  EXPECT_EQ(name(), "two") << "an edit once asked for is made";
}

}  // namespace
}  // namespace desk
