#include "tools/desk/forms/bar_form.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/desk_dossier.h"

namespace {

using namespace desk;
using testing::HasSubstr;
using testing_support::DeskDossier;

struct BarFormTest : testing::Test {
  void SetUp() override {
    form.show();
    QTest::qWait(1);
  }
  void type(const char* field, const char* words) {
    auto* line = form.findChild<QLineEdit*>(QStringLiteral("bar_form.") + field);
    ASSERT_NE(line, nullptr) << field;
    line->selectAll();
    QTest::keyClick(line, Qt::Key_Delete);
    QTest::keyClicks(line, QString::fromUtf8(words));
  }
  std::string said(const char* field) {
    const auto name = QStringLiteral("bar_form.") + field + QStringLiteral(".sentence");
    return form.findChild<SentenceLabel*>(name)->sentence().toStdString();
  }
  void enter() { QTest::keyClick(&form, Qt::Key_Return); }

  DeskDossier desk;
  BarForm form{desk.session.get()};
};

TEST_F(BarFormTest, AddsABarWithPickedEndsAndInches) {
  desk.session->pick_point("P05");
  desk.session->pick_point("P06");
  type("name", "rule 7");
  type("length", "11 13/16 in");
  EXPECT_EQ(said("length"), "= 300.0375 mm");
  type("u_own", "0,02 mm");
  EXPECT_EQ(said("u_own"), "= 0.02 mm");
  type("u_common", "0.01");
  EXPECT_EQ(said("u_common"), "= 0.01 mm");  // the unit of the desk
  type("certificate", "K-12");
  type("temperature", "21,5 +- 0,5");
  type("expansion", "11.5 ± 1");
  form.findChild<QCheckBox*>("bar_form.check_only")->click();
  testing_support::show_if_asked(form, "bar_form");
  enter();
  const auto& bars = desk.session->dossier().bars;
  const auto bar =
      std::find_if(bars.begin(), bars.end(), [](const auto& b) { return b.name == "rule 7"; });
  ASSERT_NE(bar, bars.end()) << form.sentence()->sentence().toStdString();
  EXPECT_EQ(bar->from, "P05");
  EXPECT_EQ(bar->to, "P06");
  EXPECT_DOUBLE_EQ(bar->length_mm, 300.0375);
  EXPECT_DOUBLE_EQ(bar->u_own_mm, 0.02);
  EXPECT_DOUBLE_EQ(bar->u_common_mm, 0.01);
  EXPECT_EQ(bar->certificate, "K-12");
  EXPECT_DOUBLE_EQ(bar->temperature_C->value, 21.5);
  EXPECT_DOUBLE_EQ(bar->temperature_C->u, 0.5);
  EXPECT_DOUBLE_EQ(bar->expansion_per_K->value, 11.5e-6);
  EXPECT_TRUE(bar->check_only);
}

TEST_F(BarFormTest, SaysBesideTheFieldWhatIsWrong) {
  const std::size_t before = desk.session->dossier().bars.size();
  enter();
  EXPECT_THAT(said("from"), HasSubstr("Pick a point"));
  EXPECT_THAT(said("length"), HasSubstr("with its unit"));
  for (const auto& [words, says] : {std::pair("3/8 mm", "fraction"),
                                    {"12 furlong", "not known"},
                                    {"0 mm", "more than 0"},
                                    {"-3 mm", "more than 0"},
                                    {"1.000,5 mm", "two decimal signs"}}) {
    type("length", words);
    EXPECT_THAT(said("length"), HasSubstr(says)) << words;
  }
  type("temperature", "21.5");
  EXPECT_THAT(said("temperature"), HasSubstr("is a guess"));
  EXPECT_EQ(desk.session->dossier().bars.size(), before);
}

TEST_F(BarFormTest, ShowsTheSentenceOfARefusal) {
  const std::size_t before = desk.session->dossier().bars.size();
  desk.session->pick_point("P05");
  desk.session->pick_point("P05");
  type("length", "300 mm");
  type("u_own", "0.02 mm");
  enter();
  EXPECT_TRUE(form.sentence()->is_problem());
  EXPECT_EQ(desk.session->dossier().bars.size(), before);
  EXPECT_TRUE(form.isVisible());  // nothing that was typed is lost
  EXPECT_EQ(form.findChild<QLineEdit*>("bar_form.length")->text(), "300 mm");
}

}  // namespace
