#include "tests/desk/shapes/shape_desk.h"

#include <QHBoxLayout>
#include <QItemSelectionModel>
#include <QLocale>
#include <QRegularExpression>
#include <QTableView>
#include <cmath>

namespace testing_support {
namespace {

constexpr double kZoom = 4.0;  // a click is rounded to an eighth of a photo pixel at most

SimulatedSurvey without_shapes(SimulatedSurvey survey) {
  survey.dossier.shapes.clear();
  survey.dossier.shape_marks.clear();
  survey.dossier.axes.reset();
  survey.dossier.dimensions.clear();
  return survey;
}

}  // namespace

ShapeDesk::ShapeDesk(bool all_shapes, std::uint32_t seed)
    : simulated(make_simulated_shapes({.seed = seed})),
      dossier(all_shapes ? simulated.survey
                         : without_shapes(make_simulated_survey({.seed = seed}))),
      store({.cache = dossier.folder / "cache", .threads = 1}) {
  QLocale::setDefault(QLocale::c());
  for (const measure::Photo& photo : session().dossier().photos) {
    store.enter(photo.name, session().file_of(photo));
  }
  window = std::make_unique<QWidget>();
  pane = new desk::PhotoPane(&session(), &store, &keys);
  panel = new desk::ShapesPanel(&session(), &keys, [this] { return chosen_points; });
  auto* side_by_side = new QHBoxLayout(window.get());
  side_by_side->addWidget(pane);
  side_by_side->addWidget(panel);
  window->resize(1500, 750);
  window->show();
  window->activateWindow();
  EXPECT_TRUE(QTest::qWaitForWindowActive(window.get()));
  canvas()->setFocus();
  QObject::connect(panel, &desk::ShapesPanel::said, panel,
                   [this](const QString& sentence) { said << sentence; });
}

std::vector<measure::ShapeMark> ShapeDesk::places_along(const std::string& shape) const {
  std::vector<measure::ShapeMark> places;
  for (const measure::ShapeMark& mark : simulated.survey.dossier.shape_marks) {
    if (mark.shape == shape) places.push_back(mark);
  }
  return places;
}

void ShapeDesk::start(const QString& action) {
  for (const desk::KeyEntry& entry : keys.entries()) {
    if (entry.id != action) continue;
    entry.action->trigger();
    session().finish_edits();
    return;
  }
  ADD_FAILURE() << "no action " << action.toStdString();
}

QPoint ShapeDesk::seen_at(const Eigen::Vector2d& px) {
  return canvas()->view().to_view({px.x(), px.y()}).toPoint();
}

void ShapeDesk::click(const std::string& photo, const Eigen::Vector2d& px) {
  session().choose_photo(photo);
  canvas()->centre_on({px.x(), px.y()}, kZoom);
  QTest::mouseClick(canvas(), Qt::LeftButton, {}, seen_at(px));
  session().finish_edits();
}

std::string ShapeDesk::mark(const QString& action, const std::string& simulated_shape) {
  start(action);
  const std::string name = session().chosen_shape();
  for (const measure::ShapeMark& place : places_along(simulated_shape)) {
    session().choose_photo(place.photo);
    if (place.side == 3 - pane->side()) start("photo.side");
    click(place.photo, place.position_px);
  }
  return name;
}

QString ShapeDesk::text(const std::string& shape, desk::ShapesModel::Column column) const {
  const QAbstractItemModel* model = panel->view()->model();
  for (int row = 0; row < model->rowCount(); ++row) {
    if (model->index(row, desk::ShapesModel::kName).data().toString().toStdString() == shape) {
      return model->index(row, column).data().toString();
    }
  }
  ADD_FAILURE() << "no row " << shape;
  return {};
}

void ShapeDesk::select(const std::vector<std::string>& shapes) {
  QTableView* view = panel->view();
  view->clearSelection();
  for (int row = 0; row < view->model()->rowCount(); ++row) {
    const QModelIndex at = view->model()->index(row, 0);
    if (std::find(shapes.begin(), shapes.end(), at.data().toString().toStdString()) ==
        shapes.end()) {
      continue;
    }
    view->selectionModel()->setCurrentIndex(
        at, QItemSelectionModel::Select | QItemSelectionModel::Rows);
  }
}

std::vector<measure::ShapeMark> ShapeDesk::marks_of(const std::string& shape) {
  std::vector<measure::ShapeMark> marks;
  for (const measure::ShapeMark& mark : session().dossier().shape_marks) {
    if (mark.shape == shape) marks.push_back(mark);
  }
  return marks;
}

std::pair<double, double> value_and_u(const QString& text) {
  static const QRegularExpression numbers("(-?[0-9.]+) ± ([0-9.]+) ");
  const auto match = numbers.match(text);
  if (!match.hasMatch()) return {NAN, NAN};
  return {match.captured(1).toDouble(), match.captured(2).toDouble()};
}

}  // namespace testing_support
