// The model axes are chosen in a form that shows the coordinates they give.
#include "tools/desk/shapes/axes_form.h"

#include <cmath>

#include "tests/desk/shapes/shape_desk.h"

namespace testing_support {
namespace {

using desk::AxesForm;

void choose(AxesForm& form, const QString& box, const QString& shape) {
  auto* combo = form.findChild<QComboBox*>(box);
  ASSERT_GE(combo->findData(shape), 0) << shape.toStdString();
  combo->setCurrentIndex(combo->findData(shape));
}

QString coordinate(AxesForm& form, const QString& point, int column) {
  auto* table = form.findChild<QTableWidget*>("axes_form.coordinates");
  for (int row = 0; row < table->rowCount(); ++row) {
    if (table->item(row, 0)->text() == point) return table->item(row, column)->text();
  }
  return {};
}

TEST(AxesForm, SaysWhatIsMissingAndShowsTrueCoordinatesBeforeTheAxesAreSet) {
  ShapeDesk desk(true);
  auto& session = desk.session();
  for (const measure::AskedDimension& dimension :
       std::vector<measure::AskedDimension>(session.dossier().dimensions)) {
    if (std::holds_alternative<measure::Coordinate>(dimension.kind)) {
      ASSERT_TRUE(session.change(measure::RemoveDimension{dimension.name}));
    }
  }
  ASSERT_TRUE(session.change(measure::SetAxes{std::nullopt}));
  ASSERT_TRUE(desk.dossier.wait_for_survey());
  desk.start("shapes_panel.axes");
  auto* form = desk.panel->findChild<AxesForm*>("axes_form");
  ASSERT_TRUE(form && form->isVisible());
  const auto sentence = [&] { return form->sentence()->sentence().toStdString(); };
  EXPECT_FALSE(form->deed()->isEnabled());
  EXPECT_EQ(sentence(), "Choose the plane that heights count from.");
  choose(*form, "axes_form.plane", "plane a");
  EXPECT_EQ(sentence(), "Choose the line that x runs along.");
  choose(*form, "axes_form.line", "line");
  EXPECT_EQ(sentence(), "Pick the point where x is 0, or type its name.");
  session.pick_point("a 1");
  ASSERT_TRUE(form->deed()->isEnabled()) << sentence();
  EXPECT_FALSE(session.dossier().axes);
  ASSERT_TRUE(wait_until([&] { return !coordinate(*form, "o 4", 1).isEmpty(); }));
  // The truth that simulated_shapes.h gives; three times u for each of three numbers.
  const char* names[] = {"x", "y", "z"};
  for (int axis = 0; axis < 3; ++axis) {
    const QString text = coordinate(*form, "o 4", axis + 1);
    const auto [value, U] = value_and_u(text);
    EXPECT_TRUE(text.endsWith(" mm")) << text.toStdString();
    EXPECT_LE(std::abs(value - desk.simulated.true_values.at(names[axis])), 1.5 * U)
        << names[axis] << ": " << text.toStdString();
  }
  QTest::mouseClick(form->deed(), Qt::LeftButton);
  ASSERT_TRUE(session.dossier().axes);
  EXPECT_EQ(*session.dossier().axes, (measure::AxesNames{"plane a", "line", "a 1"}));
  EXPECT_EQ(sentence(), "The model axes are set.");
  EXPECT_FALSE(form->deed()->isEnabled()) << "nothing to set";
  EXPECT_TRUE(desk.text("plane a", desk::ShapesModel::kOrigin).contains("model axes"));
  QTest::mouseClick(form->findChild<QPushButton*>("axes_form.take_back"), Qt::LeftButton);
  EXPECT_FALSE(session.dossier().axes);
  session.undo();
  session.finish_edits();
  EXPECT_TRUE(session.dossier().axes);
}

TEST(AxesForm, AxesThatADimensionNeedsStayAndTheSentenceNamesIt) {
  ShapeDesk desk(true);
  AxesForm form(&desk.session());
  form.show();
  form.show_dossier();
  EXPECT_EQ(form.sentence()->sentence().toStdString(), "These are the model axes.");
  QTest::mouseClick(form.findChild<QPushButton*>("axes_form.take_back"), Qt::LeftButton);
  EXPECT_TRUE(form.sentence()->is_problem());
  EXPECT_TRUE(form.sentence()->sentence().contains("remove the dimension first"))
      << form.sentence()->sentence().toStdString();
  EXPECT_TRUE(desk.session().dossier().axes);
}

TEST(AxesForm, WhereThereIsNoPlaneYetItSaysHowToGetOne) {
  ShapeDesk desk;
  AxesForm form(&desk.session());
  form.show();
  form.show_dossier();
  EXPECT_TRUE(form.sentence()->sentence().startsWith("There is no plane yet: put one through"));
  EXPECT_FALSE(form.deed()->isEnabled());
}

}  // namespace
}  // namespace testing_support
