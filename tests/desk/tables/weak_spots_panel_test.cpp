#include "tools/desk/tables/weak_spots_panel.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/desk_dossier.h"

namespace {

using namespace desk;
using testing::HasSubstr;
using testing_support::DeskDossier;
using testing_support::wait_until;

struct WeakSpotsTest : testing::Test {
  /// P08 stands in two neighbouring photos only: what it ends is weak.
  WeakSpotsTest()
      : desk(testing_support::SimulatedSurveySpec{}, [](measure::Dossier& dossier) {
          std::erase_if(dossier.marks, [](const measure::Mark& mark) {
            return mark.point == "P08" && mark.photo != "photo 1" && mark.photo != "photo 2";
          });
        }) {}

  DeskDossier desk;
  KeyBook keys{nullptr};
  Tolerance tolerance;
};

std::string text(const WeakSpotsPanel& panel, int row) {
  return panel.view()->model()->index(row, 0).data().toString().toStdString();
}

void type(TypedField* field, const char* words) {
  field->edit()->selectAll();
  QTest::keyClicks(field->edit(), words);
}

TEST_F(WeakSpotsTest, ListsWhatExceedsTheToleranceThatIsTyped) {
  ASSERT_TRUE(desk.wait_for_survey());
  WeakSpotsPanel panel(desk.session.get(), &keys, &tolerance);
  panel.resize(560, 420);
  panel.show();
  ASSERT_TRUE(wait_until([&] { return !panel.busy(); }));
  const auto spots_at = [&](const char* words) {
    type(panel.tolerance_field(), words);
    EXPECT_TRUE(wait_until([&] { return !panel.busy(); }));
    return static_cast<WeakSpotRows*>(panel.view()->model())->spot_count();
  };
  std::size_t expected = 0;
  for (const auto& result : desk.session->live()->dimensions) {
    if (result.scale == "model" && result.unit == measure::DimensionUnit::kMillimetre &&
        result.U > 0.25) {
      ++expected;
    }
  }
  ASSERT_GT(expected, 0u);
  std::size_t angles = 0;
  for (const auto& result : desk.session->live()->dimensions) {
    if (result.scale == "model" && result.unit == measure::DimensionUnit::kRadian &&
        result.U > measure::WeakSpotOptions().tolerance_rad) {
      ++angles;
    }
  }
  EXPECT_EQ(spots_at("0,25 mm"), expected + angles);
  EXPECT_NEAR(*tolerance.mm(), 0.25, 1e-12);
  testing_support::show_if_asked(panel, "weak_spots");
  EXPECT_EQ(spots_at("50 mm"), angles);
  // What is no length leaves the tolerance as it was, and says why.
  type(panel.tolerance_field(), "soon");
  EXPECT_NEAR(*tolerance.mm(), 50, 1e-12);
  EXPECT_FALSE(panel.tolerance_field()->check());
}

TEST_F(WeakSpotsTest, SentencesAndNumbersFollowTheUnit) {
  ASSERT_TRUE(desk.wait_for_survey());
  WeakSpotsPanel panel(desk.session.get(), &keys, &tolerance);
  panel.resize(560, 420);
  panel.show();
  type(panel.tolerance_field(), "0.25 mm");
  ASSERT_TRUE(wait_until([&] { return !panel.busy(); }));
  const auto* rows = static_cast<WeakSpotRows*>(panel.view()->model());
  const auto with_unit = [&](const std::string& unit) {
    int lengths = 0;
    for (int row = 0; row < rows->rowCount(); ++row) {
      const auto number = rows->index(row).data(WeakSpotRows::kNumberRole).toString();
      if (!number.endsWith(QString(" ") + unit.c_str())) continue;
      ++lengths;
      EXPECT_THAT(text(panel, row), HasSubstr(" " + unit));
    }
    return lengths;
  };
  const int lengths = with_unit("mm");
  EXPECT_GT(lengths, 2);
  desk.session->set_unit(measure::TextUnit::kInch);
  ASSERT_TRUE(wait_until([&] { return !panel.busy(); }));
  EXPECT_EQ(with_unit("in"), lengths);
  for (int row = 0; row < rows->rowCount(); ++row) {
    EXPECT_EQ(text(panel, row).find(" mm"), std::string::npos) << text(panel, row);
  }
}

TEST_F(WeakSpotsTest, ARowLeadsToThePhotoAndThePoint) {
  ASSERT_TRUE(desk.wait_for_survey());
  WeakSpotsPanel panel(desk.session.get(), &keys, &tolerance);
  panel.resize(560, 420);
  panel.show();
  type(panel.tolerance_field(), "0.25 mm");
  ASSERT_TRUE(wait_until([&] { return !panel.busy(); }));
  auto* rows = static_cast<WeakSpotRows*>(panel.view()->model());
  int row = -1;
  for (int r = 0; r < rows->rowCount() && row < 0; ++r) {
    if (rows->help(r) && rows->help(r)->kind == measure::Help::Kind::kMark) row = r;
  }
  ASSERT_GE(row, 0);
  const measure::Help help = *rows->help(row);
  EXPECT_THAT(text(panel, row), HasSubstr(help.photo));
  EXPECT_THAT(rows->index(row).data(WeakSpotRows::kNumberRole).toString().toStdString(),
              HasSubstr("then ±"));
  panel.view()->setCurrentIndex(rows->index(row));
  QTest::keyClick(panel.view(), Qt::Key_Return);
  EXPECT_EQ(desk.session->chosen_photo(), help.photo);
  EXPECT_EQ(desk.session->chosen_point(), help.point);
  EXPECT_EQ(desk.session->chosen_dimension(), rows->spot(row).dimension);
}

}  // namespace
