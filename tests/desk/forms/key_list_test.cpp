#include "tools/desk/forms/key_list.h"

#include <QPushButton>
#include <QSettings>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/desk_dossier.h"

namespace {

using namespace desk;
using testing::HasSubstr;
using testing_support::ScratchFolder;

struct KeyListTest : testing::Test {
  void SetUp() override {
    const auto nothing = [] {};
    keys.add(&view, "Sightings", "sightings.accept", "Accept", "Takes the place", Qt::Key_Space,
             nothing);
    keys.add(&view, "Sightings", "sightings.next", "Next point", "Goes on", Qt::Key_N, nothing);
    keys.add(&other, "Photo", "photo.next", "Next photo", "Goes on", Qt::Key_N, nothing);
    list = std::make_unique<KeyList>(&keys);
    list->resize(420, 360);
    list->show();
    QTest::qWait(1);
  }
  QTreeWidgetItem* item(const char* text) {
    return list->view()->findItems(text, Qt::MatchExactly | Qt::MatchRecursive, 0).front();
  }
  std::string said() {
    return list->findChild<SentenceLabel*>("key_list.sentence")->sentence().toStdString();
  }
  QKeySequence key_of(const QString& id) {
    for (const KeyEntry& entry : keys.entries()) {
      if (entry.id == id) return entry.action->shortcut();
    }
    return {};
  }
  void begin(const char* text) {
    list->view()->setFocus();
    list->view()->setCurrentItem(item(text));
    QTest::keyClick(list->view(), Qt::Key_Return);
  }

  ScratchFolder folder;
  QSettings settings{QString::fromStdString((folder / "keys.ini").string()), QSettings::IniFormat};
  KeyBook keys{&settings};
  QWidget view, other;
  std::unique_ptr<KeyList> list;
};

TEST_F(KeyListTest, ChangesAKeyByPressingTheNewOneAndRemembersIt) {
  begin("Accept");
  EXPECT_THAT(said(), HasSubstr("Press the new key"));
  QTest::keyClick(list->view(), Qt::Key_A, Qt::ControlModifier);
  EXPECT_EQ(key_of("sightings.accept"), QKeySequence(Qt::CTRL | Qt::Key_A));
  EXPECT_EQ(settings.value("keys/sightings.accept").toString(), "Ctrl+A");
  EXPECT_THAT(item("Accept")->text(1).toStdString(), HasSubstr("changed"));
  testing_support::show_if_asked(*list, "key_list");
  list->findChild<QPushButton*>("key_list.restore")->click();
  EXPECT_EQ(key_of("sightings.accept"), QKeySequence(Qt::Key_Space));
  EXPECT_FALSE(settings.contains("keys/sightings.accept"));
}

TEST_F(KeyListTest, RefusesAKeyThatIsTakenWhereTheTwoCouldMeet) {
  begin("Accept");
  QTest::keyClick(list->view(), Qt::Key_N);
  EXPECT_THAT(said(), HasSubstr("\"Next point\""));
  EXPECT_EQ(key_of("sightings.accept"), QKeySequence(Qt::Key_Space));
  QTest::keyClick(list->view(), Qt::Key_G);  // it still waits
  EXPECT_EQ(key_of("sightings.accept"), QKeySequence(Qt::Key_G));
}

TEST_F(KeyListTest, EscapeLeavesAndBackspaceTakesTheKeyAway) {
  begin("Next point");
  QTest::keyClick(list->view(), Qt::Key_Escape);
  EXPECT_EQ(key_of("sightings.next"), QKeySequence(Qt::Key_N));
  begin("Next point");
  QTest::keyClick(list->view(), Qt::Key_Backspace);
  EXPECT_TRUE(key_of("sightings.next").isEmpty());
  EXPECT_EQ(item("Next point")->text(1), "none");
}

TEST_F(KeyListTest, ShowsTheRowsThatHoldTheWords) {
  QTest::keyClicks(list->findChild<QLineEdit*>("key_list.filter"), "photo");
  EXPECT_TRUE(item("Accept")->isHidden());
  EXPECT_FALSE(item("Next photo")->isHidden());
}

}  // namespace
