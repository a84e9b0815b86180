#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/desk_dossier.h"
#include "tools/desk/forms/new_dossier_form.h"
#include "tools/desk/forms/original_form.h"

namespace {

using namespace desk;
using testing::HasSubstr;
using testing_support::DeskDossier;
using testing_support::ScratchFolder;

void type(QWidget& form, const char* field, const QString& words) {
  auto* line = form.findChild<QLineEdit*>(QString::fromLatin1(field));
  ASSERT_NE(line, nullptr) << field;
  line->selectAll();
  QTest::keyClick(line, Qt::Key_Delete);
  QTest::keyClicks(line, words);
}
std::string said(QWidget& form, const char* field) {
  const auto name = QString::fromLatin1(field) + QStringLiteral(".sentence");
  return form.findChild<SentenceLabel*>(name)->sentence().toStdString();
}
QString q(const std::filesystem::path& path) { return QString::fromStdString(path.string()); }

TEST(NewDossierForm, MakesADossierThatOpens) {
  ScratchFolder folder;
  NewDossierForm form;
  form.show();
  std::filesystem::path made;
  QObject::connect(&form, &NewDossierForm::made,
                   [&](const std::filesystem::path& at) { made = at; });
  type(form, "new_dossier.folder", q(folder / "tug"));
  type(form, "new_dossier.ratio", "1:48");
  EXPECT_THAT(said(form, "new_dossier.ratio"), HasSubstr("48 mm"));
  type(form, "new_dossier.replicas", "1:72 1:24,5");
  testing_support::show_if_asked(form, "new_dossier");
  QTest::keyClick(&form, Qt::Key_Return);
  ASSERT_EQ(made, folder / "tug") << form.sentence()->sentence().toStdString();
  EXPECT_FALSE(form.isVisible());
  const auto dossier = measure::read_dossier(made);
  ASSERT_TRUE(dossier) << dossier.error().sentence;
  EXPECT_EQ(dossier->name, "tug");
  EXPECT_DOUBLE_EQ(dossier->model_scale->denominator, 48);
  ASSERT_EQ(dossier->replica_scales.size(), 2u);
  EXPECT_DOUBLE_EQ(dossier->replica_scales[1].denominator, 24.5);
}

TEST(NewDossierForm, RefusesAFolderThatHoldsOneAndLeavesItAlone) {
  DeskDossier desk;
  const auto before = testing_support::snapshot(desk.folder.path());
  NewDossierForm form;
  form.show();
  type(form, "new_dossier.folder", q(desk.folder.path()));
  EXPECT_THAT(said(form, "new_dossier.folder"), HasSubstr("already"));
  QTest::keyClick(&form, Qt::Key_Return);
  EXPECT_TRUE(form.isVisible());
  EXPECT_EQ(testing_support::snapshot(desk.folder.path()), before);
}

TEST(NewDossierForm, AsksForTheRatioThatReplicasNeed) {
  ScratchFolder folder;
  NewDossierForm form;
  form.show();
  type(form, "new_dossier.folder", q(folder / "tug"));
  type(form, "new_dossier.replicas", "1:72");
  EXPECT_THAT(said(form, "new_dossier.replicas"), HasSubstr("give its ratio"));
  QTest::keyClick(&form, Qt::Key_Return);
  EXPECT_FALSE(std::filesystem::exists(folder / "tug"));
  type(form, "new_dossier.ratio", "soon");
  EXPECT_THAT(said(form, "new_dossier.ratio"), HasSubstr("no ratio"));
}

TEST(NewDossierForm, SaysWhyAFolderCannotBeMade) {
  ScratchFolder folder;
  testing_support::put(folder / "a file", "x");
  NewDossierForm form;
  form.show();
  type(form, "new_dossier.folder", q(folder / "a file"));
  EXPECT_THAT(said(form, "new_dossier.folder"), HasSubstr("This is a file"));
  type(form, "new_dossier.folder", q(folder / "a file/below"));
  QTest::keyClick(&form, Qt::Key_Return);
  EXPECT_TRUE(form.sentence()->is_problem());
}

TEST(OriginalForm, SetsWhatDiffersAsOneEditAndTakesItBack) {
  DeskDossier desk;
  OriginalForm form(desk.session.get());
  form.show();
  const measure::Dossier before = desk.session->dossier();
  EXPECT_EQ(form.findChild<QLineEdit*>("original.ratio")->text(), "1:48");
  QTest::keyClick(&form, Qt::Key_Return);
  EXPECT_EQ(desk.session->undo_text(), "");  // nothing is different, nothing is done
  type(form, "original.ratio", "1:48 +- 0,2");
  type(form, "original.temperature", "-60 +- 1");
  type(form, "original.expansion", "70 +- 10");
  testing_support::show_if_asked(form, "original");
  QTest::keyClick(&form, Qt::Key_Return);
  const measure::Dossier& dossier = desk.session->dossier();
  EXPECT_DOUBLE_EQ(dossier.model_scale->u, 0.2);
  EXPECT_DOUBLE_EQ(dossier.temperature_C->value, -60);
  EXPECT_DOUBLE_EQ(dossier.expansion_per_K->value, 70e-6);
  EXPECT_THAT(form.sentence()->sentence().toStdString(), HasSubstr("unlikely"));
  desk.session->undo();
  desk.session->finish_edits();
  EXPECT_EQ(desk.session->dossier(), before);
  EXPECT_EQ(form.findChild<QLineEdit*>("original.ratio")->text(), "1:48");
}

}  // namespace
