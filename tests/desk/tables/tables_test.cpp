// The real tables on a simulated survey, worked with keys and mouse.
#include <QComboBox>
#include <QHeaderView>
#include <QLabel>
#include <QToolButton>
#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/desk_dossier.h"
#include "tools/desk/tables/bars_table.h"
#include "tools/desk/tables/dimensions_table.h"
#include "tools/desk/tables/marks_table.h"
#include "tools/desk/tables/points_table.h"
#include "tools/desk/tables/unit_switch.h"

namespace {

using namespace desk;
using testing::HasSubstr;
using testing_support::DeskDossier;
using testing_support::show_if_asked;
using testing_support::SimulatedSurveySpec;
using testing_support::wait_until;

std::string cell(const TablePanel& table, int row, int column) {
  return table.view()->model()->index(row, column).data().toString().toStdString();
}

int row_of(const TablePanel& table, const std::string& key) {
  const auto* rows = table.view()->model();
  for (int row = 0; row < rows->rowCount(); ++row) {
    if (rows->index(row, 0).data(KeyedTable::kKeyRole).toString().toStdString() == key) return row;
  }
  return -1;
}

void click(TablePanel& table, int row, int column = 0) {
  const QRect at = table.view()->visualRect(table.view()->model()->index(row, column));
  QTest::mouseClick(table.view()->viewport(), Qt::LeftButton, {}, at.center());
}

template <typename Table>
void show(Table& table) {
  table.resize(1000, 420);
  table.show();
  QTest::qWait(1);
}

struct TablesTest : testing::Test {
  KeyBook keys{nullptr};
};

TEST_F(TablesTest, PointsFollowTheChoiceBothWays) {
  DeskDossier desk;
  ASSERT_TRUE(desk.wait_for_survey());
  PointsTable table(desk.session.get(), &keys);
  show(table);
  ASSERT_EQ(table.view()->model()->rowCount(), 24);
  click(table, 2);
  EXPECT_EQ(desk.session->chosen_point(), "P03");
  QTest::keyClick(table.view(), Qt::Key_Down);
  EXPECT_EQ(desk.session->chosen_point(), "P04");
  desk.session->choose_point("P11");
  EXPECT_EQ(table.current_key(), "P11");
  std::string picked;
  QObject::connect(desk.session.get(), &DeskSession::point_picked,
                   [&](const std::string& point) { picked = point; });
  QTest::keyClick(table.view(), Qt::Key_Return);
  EXPECT_EQ(picked, "P11");
  show_if_asked(table, "points");
}

TEST_F(TablesTest, PointsSayWhatTheyLackAndComeWeakestFirst) {
  DeskDossier desk(SimulatedSurveySpec{}, [](measure::Dossier& dossier) {
    dossier.points.push_back({"Q unmarked", ""});
    dossier.points.push_back({"Q once", ""});
    measure::Mark mark = dossier.marks.front();
    mark.point = "Q once";
    dossier.marks.push_back(mark);
    std::sort(dossier.marks.begin(), dossier.marks.end(), [](const auto& a, const auto& b) {
      return std::pair(a.photo, a.point) < std::pair(b.photo, b.point);
    });
  });
  ASSERT_TRUE(desk.wait_for_survey());
  PointsTable table(desk.session.get(), &keys);
  show(table);
  EXPECT_THAT(cell(table, row_of(table, "Q unmarked"), PointsModel::kLacks),
              HasSubstr("not marked"));
  EXPECT_THAT(cell(table, row_of(table, "Q once"), PointsModel::kLacks),
              HasSubstr("one photo only"));
  EXPECT_EQ(cell(table, row_of(table, "P05"), PointsModel::kLacks), "");
  table.view()->setFocus();
  QTest::keyClick(table.view(), Qt::Key_W);
  EXPECT_EQ(cell(table, 0, PointsModel::kU), "—");
  EXPECT_EQ(cell(table, 1, PointsModel::kU), "—");
  double last = std::numeric_limits<double>::infinity();
  for (int row = 0; row < table.view()->model()->rowCount(); ++row) {
    const double U =
        table.view()->model()->index(row, PointsModel::kU).data(KeyedTable::kSortRole).toDouble();
    EXPECT_LE(U, last);
    last = U;
  }
  QTest::keyClicks(table.filter_line(), "one only");
  ASSERT_EQ(table.view()->model()->rowCount(), 1);
  EXPECT_EQ(cell(table, 0, PointsModel::kName), "Q once");
  EXPECT_EQ(table.findChild<QLabel*>("points_table.count")->text(), "points: 1 of 26");
}

TEST_F(TablesTest, APointIsRenamedEverywhere) {
  DeskDossier desk;
  PointsTable table(desk.session.get(), &keys);
  show(table);
  desk.session->choose_point("P05");
  table.view()->model()->setData(table.view()->model()->index(row_of(table, "P05"), 0),
                                 "stern post");
  ASSERT_TRUE(
      wait_until([&] { return desk.session->dossier().find_point("stern post") != nullptr; }));
  EXPECT_EQ(desk.session->chosen_point(), "stern post");
  EXPECT_EQ(table.current_key(), "stern post");
  EXPECT_EQ(measure::names_of(desk.session->dossier().dimensions[0].kind)[0], "stern post");
}

TEST_F(TablesTest, PointsSayWhatToDoWhereThereAreNone) {
  testing_support::ScratchFolder folder;
  measure::Dossier dossier;
  dossier.name = "empty";
  ASSERT_TRUE(measure::create_dossier(folder.path(), dossier));
  auto session = DeskSession::open(folder.path());
  ASSERT_TRUE(session);
  PointsTable points(session->get(), &keys);
  show(points);
  EXPECT_TRUE(points.findChild<QLabel*>("points_table.empty")->isVisible());
  EXPECT_FALSE(points.view()->isVisible());
}

TEST_F(TablesTest, DimensionsReadAsMeasureGivesThemInEveryUnit) {
  DeskDossier desk(SimulatedSurveySpec{}, [](measure::Dossier& dossier) {
    dossier.replica_scales = {{24.0, 0.0}, {72.0, 0.1}};
  });
  ASSERT_TRUE(desk.wait_for_survey());
  Tolerance tolerance;
  DimensionsTable table(desk.session.get(), &keys, &tolerance);
  show(table);
  UnitSwitch units(desk.session.get());
  const std::vector<std::string> scales{"model", "full", "replica 1:24", "replica 1:72"};
  int intervals = 0;
  for (int unit = 0; unit < units.count(); ++unit) {
    units.setFocus();
    units.setCurrentIndex(unit);
    for (const measure::DimensionResult& result : desk.session->live()->dimensions) {
      const auto scale = std::find(scales.begin(), scales.end(), result.scale) - scales.begin();
      ASSERT_LT(scale, 4) << result.scale;
      EXPECT_EQ(cell(table, row_of(table, result.name),
                     DimensionsModel::kFirstScale + static_cast<int>(scale)),
                measure::result_text(result, desk.session->unit()));
      if (result.interval) ++intervals;
    }
  }
  EXPECT_GT(intervals, 0);  // the near-zero ones are among them
  const auto* head = table.view()->horizontalHeader()->model();
  EXPECT_EQ(head->headerData(1, Qt::Horizontal).toString(), "original");
  EXPECT_EQ(head->headerData(2, Qt::Horizontal).toString(), "full size");
  desk.session->set_unit(measure::TextUnit::kMm);
  tolerance.set_mm(0.2);
  show_if_asked(table, "dimensions");
}

TEST_F(TablesTest, ADimensionShowsItsBudgetAndItsTolerance) {
  DeskDossier desk;
  ASSERT_TRUE(desk.wait_for_survey());
  Tolerance tolerance;
  DimensionsTable table(desk.session.get(), &keys, &tolerance);
  show(table);
  const auto* rows = static_cast<const QAbstractProxyModel*>(table.view()->model());
  const auto* model = static_cast<const DimensionsModel*>(rows->sourceModel());
  const int row = row_of(table, "distance");
  const QModelIndex bar = rows->index(row, model->budget_column());
  double sum = 0;
  for (const QVariant& share : bar.data(KeyedTable::kShareRole).toList()) sum += share.toDouble();
  EXPECT_NEAR(sum, 1.0, 1e-9);
  EXPECT_THAT(bar.data(Qt::ToolTipRole).toString().toStdString(), HasSubstr("marks"));
  EXPECT_EQ(cell(table, row, model->tolerance_column()), "");
  const auto& results = desk.session->live()->dimensions;
  const auto result = std::find_if(results.begin(), results.end(),
                                   [](const auto& r) { return r.name == "distance"; });
  tolerance.set_mm(result->U * 2);
  EXPECT_THAT(cell(table, row, model->tolerance_column()), HasSubstr("✓ 50 %"));
  tolerance.set_mm(result->U / 2);
  EXPECT_THAT(cell(table, row, model->tolerance_column()), HasSubstr("too large: 200 %"));
  // Its own goes before the one for all, and is typed where it stands.
  auto* cells = table.view()->model();
  tolerance.set_mm(0.25);
  for (const auto& [unit, limit] : {std::pair(measure::TextUnit::kCm, " of 0.025 cm"),
                                    {measure::TextUnit::kM, " of 0.00025 m"},
                                    {measure::TextUnit::kMm, " of 0.25 mm"}}) {
    desk.session->set_unit(unit);
    EXPECT_THAT(cell(table, row, model->tolerance_column()), HasSubstr(limit));
  }
  cells->setData(cells->index(row, model->tolerance_column()), "1/64 in");
  EXPECT_TRUE(wait_until([&] {
    const auto own = desk.session->dossier().dimensions[0].tolerance_mm;
    return own && std::abs(*own - 25.4 / 64) < 1e-12;
  }));
  EXPECT_THAT(cell(table, row_of(table, "distance"), model->tolerance_column()), HasSubstr("✓"));
  cells->setData(cells->index(row_of(table, "distance"), model->tolerance_column()), "");
  EXPECT_TRUE(wait_until([&] { return !desk.session->dossier().dimensions[0].tolerance_mm; }));
  // Angles have no tolerance in millimetres.
  EXPECT_EQ(cell(table, row_of(table, "angle"), model->tolerance_column()), "");
}

TEST_F(TablesTest, ADimensionIsRenamedAndRemovedByKeysAndTakenBack) {
  DeskDossier desk;
  ASSERT_TRUE(desk.wait_for_survey());
  Tolerance tolerance;
  DimensionsTable table(desk.session.get(), &keys, &tolerance);
  show(table);
  const auto before = desk.session->dossier().dimensions;
  click(table, row_of(table, "along"));
  EXPECT_EQ(desk.session->chosen_dimension(), "along");
  table.view()->setFocus();
  QTest::keyClick(table.view(), Qt::Key_F2);
  auto* editor = table.view()->viewport()->findChild<QLineEdit*>();
  ASSERT_NE(editor, nullptr);
  editor->selectAll();
  QTest::keyClicks(editor, "hull, along the keel");
  QTest::keyClick(editor, Qt::Key_Return);  // Qt commits once the key is done with
  ASSERT_TRUE(wait_until(
      [&] { return desk.session->dossier().dimensions[2].name == "hull, along the keel"; }));
  EXPECT_EQ(desk.session->dossier().dimensions[2].kind, before[2].kind);
  EXPECT_EQ(desk.session->chosen_dimension(), "hull, along the keel");
  table.view()->setFocus();
  QTest::keyClick(table.view(), Qt::Key_Delete);
  desk.session->finish_edits();
  EXPECT_EQ(desk.session->dossier().dimensions.size(), before.size() - 1);
  desk.session->undo();
  desk.session->undo();
  desk.session->finish_edits();
  EXPECT_EQ(desk.session->dossier().dimensions, before);
  // A name that is taken is refused with a sentence, and nothing changes.
  QString refused;
  QObject::connect(desk.session.get(), &DeskSession::refused,
                   [&](const QString& sentence) { refused = sentence; });
  const QModelIndex name = table.view()->model()->index(row_of(table, "along"), 0);
  table.view()->model()->setData(name, "angle");
  EXPECT_TRUE(wait_until([&] { return !refused.isEmpty(); }));
  EXPECT_THAT(refused.toStdString(), HasSubstr("asked already"));
  EXPECT_EQ(desk.session->dossier().dimensions, before);
}

TEST_F(TablesTest, ATableMayGoWhileANameIsTyped) {
  DeskDossier desk;
  Tolerance tolerance;
  DimensionsTable table(desk.session.get(), &keys, &tolerance);
  show(table);
  click(table, 2);
  QTest::keyClick(table.view(), Qt::Key_F2);
  auto* editor = table.view()->viewport()->findChild<QLineEdit*>();
  ASSERT_NE(editor, nullptr);
  QTest::keyClicks(editor, "other");
  QTest::keyClick(editor, Qt::Key_Return);
}

TEST_F(TablesTest, ALoneBarIsUncheckedAndACheckLengthShowsItsError) {
  DeskDossier desk(SimulatedSurveySpec{},
                   [](measure::Dossier& dossier) { dossier.bars[1].check_only = true; });
  ASSERT_TRUE(desk.wait_for_survey());
  BarsTable table(desk.session.get(), &keys);
  show(table);
  EXPECT_EQ(cell(table, row_of(table, "bar A"), BarsModel::kError), "unchecked");
  const measure::BarReport* check = nullptr;
  for (const auto& bar : desk.session->live()->survey->report().bars) {
    if (bar.name == "bar B") check = &bar;
  }
  ASSERT_NE(check, nullptr);
  EXPECT_EQ(cell(table, row_of(table, "bar B"), BarsModel::kError),
            measure::length_text(check->error_mm, 2 * check->u_error_mm, measure::TextUnit::kMm)
                .joined());
  EXPECT_EQ(cell(table, row_of(table, "bar B"), BarsModel::kUse), "check length");
  // Taken into the solution, each checks the other.
  const measure::ScaleBar bar = desk.session->dossier().bars[1];
  measure::ScaleBar used = bar;
  used.check_only = false;
  ASSERT_TRUE(desk.session->change(
      measure::EditGroup{{measure::RemoveBar{bar.name}, measure::AddBar{used}}}));
  ASSERT_TRUE(desk.wait_for_survey());
  EXPECT_NE(cell(table, row_of(table, "bar A"), BarsModel::kError), "unchecked");
  EXPECT_THAT(cell(table, row_of(table, "bar A"), BarsModel::kError), HasSubstr("±"));
  show_if_asked(table, "bars");
}

TEST_F(TablesTest, ADoubtedMarkIsSetAsideAndTakenBack) {
  std::string photo, point;
  DeskDossier desk(SimulatedSurveySpec{}, [&](measure::Dossier& dossier) {
    measure::Mark& mark = dossier.marks[30];
    mark.position_px += Eigen::Vector2d(25, -14);
    photo = mark.photo;
    point = mark.point;
  });
  ASSERT_TRUE(desk.wait_for_survey());
  MarksTable table(desk.session.get(), &keys);
  show(table);
  EXPECT_TRUE(table.findChild<QLabel*>("marks_table.empty")->isVisible());  // nothing is chosen
  table.show_marks_of(MarksOf::kDoubted);
  const std::string key = photo + "\n" + point;
  ASSERT_GE(row_of(table, key), 0);
  EXPECT_EQ(row_of(table, key), 0);  // worst first
  EXPECT_EQ(cell(table, 0, MarksModel::kState), "doubted");
  show_if_asked(table, "marks");
  click(table, 0);
  EXPECT_EQ(desk.session->chosen_photo(), photo);
  EXPECT_EQ(desk.session->chosen_point(), point);
  QTest::keyClick(table.view(), Qt::Key_X);
  desk.session->finish_edits();
  EXPECT_TRUE(desk.session->mark_at(photo, point)->set_aside);
  ASSERT_TRUE(desk.wait_for_survey());
  ASSERT_GE(row_of(table, key), 0);  // still listed, so that it can be taken back
  EXPECT_EQ(cell(table, row_of(table, key), MarksModel::kState), "set aside");
  EXPECT_EQ(table.current_key().toStdString(), key);
  QTest::keyClick(table.view(), Qt::Key_B);
  desk.session->finish_edits();
  EXPECT_FALSE(desk.session->mark_at(photo, point)->set_aside);
  table.show_marks_of(MarksOf::kPoint);
  EXPECT_EQ(table.view()->model()->rowCount(), 7);
  table.show_marks_of(MarksOf::kPhoto);
  EXPECT_EQ(table.view()->model()->rowCount(), 24);
}

}  // namespace
