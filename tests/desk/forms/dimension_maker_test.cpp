#include "tools/desk/forms/dimension_maker.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/desk_dossier.h"

namespace {

using namespace desk;
using testing::HasSubstr;
using testing_support::DeskDossier;
using testing_support::wait_until;

struct DimensionMakerTest : testing::Test {
  void SetUp() override {
    ASSERT_TRUE(desk.wait_for_survey());
    maker.resize(900, 120);
    before = desk.session->dossier().dimensions.size();
  }
  std::string said() const {
    return maker.findChild<SentenceLabel*>("dimension_maker.sentence")->sentence().toStdString();
  }
  std::string role() const { return maker.role_text().toStdString(); }
  QLineEdit* point(int at) const {
    return maker.findChild<QLineEdit*>(QStringLiteral("dimension_maker.point%1").arg(at));
  }
  const measure::AskedDimension& last() const { return desk.session->dossier().dimensions.back(); }

  DeskDossier desk;
  DimensionMaker maker{desk.session.get()};
  std::size_t before = 0;
};

TEST_F(DimensionMakerTest, MakesADistanceFromTwoPicksAndEnter) {
  maker.begin(MadeKind::kDistance);
  QTest::qWait(1);
  EXPECT_EQ(role(), "Pick the point at one end");
  desk.session->pick_point("P05");
  EXPECT_EQ(role(), "Pick the point at the other end");
  EXPECT_EQ(maker.value_text(), "");
  desk.session->pick_point("P06");
  EXPECT_THAT(role(), HasSubstr("Enter"));
  EXPECT_EQ(maker.name_line()->text(), "P05 to P06");
  // The value before it is made is the one that the dossier's own dimension of these points has.
  std::string expected;
  for (const auto& result : desk.session->live()->dimensions) {
    if (result.name == "distance" && result.scale == "model") {
      expected = measure::result_text(result, measure::TextUnit::kMm);
    }
  }
  ASSERT_TRUE(wait_until([&] { return !maker.value_text().isEmpty(); }));
  EXPECT_EQ(maker.value_text().toStdString(), expected);
  testing_support::show_if_asked(maker, "dimension_maker");
  desk.session->set_unit(measure::TextUnit::kInch);
  ASSERT_TRUE(wait_until([&] { return maker.value_text().contains("in"); }));
  QTest::keyClick(maker.name_line(), Qt::Key_Return);
  ASSERT_EQ(desk.session->dossier().dimensions.size(), before + 1);
  EXPECT_EQ(last().kind, measure::DimensionKind(measure::Distance{"P05", "P06"}));
  EXPECT_EQ(last().name, "P05 to P06");
  EXPECT_EQ(desk.session->chosen_dimension(), "P05 to P06");
  EXPECT_THAT(said(), HasSubstr("asks the same as"));  // "distance" did already
  // It is ready for the next one.
  EXPECT_TRUE(maker.isVisible());
  EXPECT_EQ(role(), "Pick the point at one end");
}

TEST_F(DimensionMakerTest, NamesTheRoleOfEveryPickOfEveryKind) {
  const std::vector<std::pair<MadeKind, std::vector<const char*>>> kinds = {
      {MadeKind::kAlong, {"begins at", "ends at", "direction begins", "direction ends"}},
      {MadeKind::kAngle, {"one leg", "corner", "other leg"}},
      {MadeKind::kOffsetLine, {"offset is asked", "one point of the line", "another point"}},
      {MadeKind::kOffsetPlane, {"offset is asked", "one point", "a second", "a third"}}};
  for (const auto& [kind, roles] : kinds) {
    maker.begin(kind);
    int number = 5;
    for (const char* words : roles) {
      EXPECT_THAT(role(), HasSubstr(words));
      EXPECT_FALSE(maker.kind().has_value());
      desk.session->pick_point("P0" + std::to_string(number++));
    }
    EXPECT_TRUE(maker.kind().has_value());
  }
}

TEST_F(DimensionMakerTest, APlaneTakesFurtherPoints) {
  maker.begin(MadeKind::kOffsetPlane);
  for (const char* name : {"P07", "P01", "P02", "P03", "P04"}) desk.session->pick_point(name);
  auto* tolerance = maker.findChild<QLineEdit*>("dimension_maker.tolerance");
  QTest::keyClicks(tolerance, "soon");
  QTest::keyClick(tolerance, Qt::Key_Return);
  EXPECT_EQ(desk.session->dossier().dimensions.size(), before);
  tolerance->selectAll();
  QTest::keyClicks(tolerance, "0,25 mm");
  QTest::keyClick(maker.name_line(), Qt::Key_Return);
  EXPECT_EQ(last().kind,
            measure::DimensionKind(measure::OffsetFromPlane{"P07", {"P01", "P02", "P03", "P04"}}));
}

TEST_F(DimensionMakerTest, TakesTypedNamesAndKeysAlone) {
  maker.begin(MadeKind::kAngle);
  QTest::qWait(1);
  QTest::keyClicks(point(0), "P06");
  QTest::keyClick(point(0), Qt::Key_Return);
  QTest::keyClicks(point(1), "nowhere");
  QTest::keyClick(point(1), Qt::Key_Return);
  EXPECT_THAT(
      maker.findChild<SentenceLabel*>("dimension_maker.point1.sentence")->sentence().toStdString(),
      HasSubstr("no point \"nowhere\""));
  point(1)->selectAll();
  QTest::keyClicks(point(1), "P05");
  QTest::keyClick(point(1), Qt::Key_Return);
  QTest::keyClicks(point(2), "P07");
  maker.name_line()->selectAll();
  QTest::keyClicks(maker.name_line(), "rake of the stern");
  EXPECT_FALSE(maker.findChild<QLineEdit*>("dimension_maker.tolerance")->isEnabled());  // an angle
  QTest::keyClick(maker.name_line(), Qt::Key_Return);
  ASSERT_EQ(desk.session->dossier().dimensions.size(), before + 1);
  EXPECT_EQ(last().name, "rake of the stern");
  EXPECT_EQ(last().kind, measure::DimensionKind(measure::Angle{"P06", "P05", "P07"}));
}

TEST_F(DimensionMakerTest, SaysWhyItCannotBeMade) {
  maker.begin(MadeKind::kDistance);
  desk.session->pick_point("P05");
  desk.session->pick_point("P05");
  EXPECT_NE(said(), "");
  QTest::keyClick(maker.name_line(), Qt::Key_Return);
  EXPECT_EQ(desk.session->dossier().dimensions.size(), before);
  point(1)->setText("P06");
  maker.name_line()->selectAll();
  QTest::keyClicks(maker.name_line(), "angle");
  EXPECT_THAT(said(), HasSubstr("asked already"));
  EXPECT_FALSE(maker.findChild<QPushButton*>("dimension_maker.make")->isEnabled());
}

TEST_F(DimensionMakerTest, EscapeCancelsAndPicksAreNoLongerTaken) {
  maker.begin(MadeKind::kDistance);
  QTest::qWait(1);
  desk.session->pick_point("P05");
  QTest::keyClick(point(1), Qt::Key_Escape);
  EXPECT_FALSE(maker.isVisible());
  desk.session->pick_point("P06");
  EXPECT_FALSE(maker.kind().has_value());
  EXPECT_EQ(desk.session->dossier().dimensions.size(), before);
}

}  // namespace
