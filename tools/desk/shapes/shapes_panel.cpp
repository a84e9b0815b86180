#include "tools/desk/shapes/shapes_panel.h"

#include <QToolButton>
#include <QVBoxLayout>
#include <algorithm>

#include "tools/desk/forms/proposed_name.h"

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }
constexpr int kResultHeight_px = 170;

}  // namespace

ShapesPanel::ShapesPanel(DeskSession* session, KeyBook* keys,
                         std::function<QStringList()> chosen_points, QWidget* parent)
    : TablePanel(QStringLiteral("shapes_panel"), tr("Edges and rounds"), session, keys, parent),
      chosen_points_(std::move(chosen_points)) {
  set_empty_sentence(tr(
      "No edges or rounds yet. Add an edge, a circle or a cylinder and click along it in several "
      "photos; or choose points in their table and put a plane, a line or a round through "
      "them."));
  take_model(new ShapesModel(session));
  view()->sortByColumn(ShapesModel::kName, Qt::AscendingOrder);
  connect(this, &TablePanel::key_chosen, session,
          [session](const QString& key) { session->choose_shape(key.toStdString()); });
  connect(this, &TablePanel::key_activated, this, [this, session](const QString& key) {
    session->choose_shape(key.toStdString());
    Q_EMIT marking_wanted();
  });
  connect(session, &DeskSession::shape_chosen, this, [this](const std::string& shape) {
    // Leaving the marking keeps the row: it is what the next question is about.
    if (!shape.empty()) show_key(q(shape));
    show_result();
  });
  result_ = new ResultView(QStringLiteral("shapes_panel.result"), this);
  result_->setMaximumHeight(kResultHeight_px);
  layout()->addWidget(result_);
  connect(this, &TablePanel::key_chosen, this, &ShapesPanel::show_result);
  connect(session, &DeskSession::dossier_changed, this, &ShapesPanel::show_result);
  connect(session, &DeskSession::live_changed, this, &ShapesPanel::show_result);
  connect(session, &DeskSession::unit_changed, this, &ShapesPanel::show_result);
  show_result();
  const auto menu_button = [&](const QString& name, const QString& text, const QString& tip) {
    auto* button = new QToolButton(this);
    button->setObjectName(name);
    button->setText(text);
    button->setToolTip(tip);
    button->setPopupMode(QToolButton::InstantPopup);
    button->setMenu(new QMenu(button));
    button->menu()->setToolTipsVisible(true);
    bar()->addWidget(button);
    return button->menu();
  };
  add_making(menu_button(QStringLiteral("shapes_panel.add"), tr("Add"),
                         tr("Add an edge or round to mark, or one through chosen points")));
  auto* mark = new QToolButton(this);
  mark->setObjectName(QStringLiteral("shapes_panel.mark_button"));
  mark->setDefaultAction(add_action(QStringLiteral("shapes_panel.mark"), tr("Mark"),
                                    tr("Click along the chosen one in the photo; Enter and a "
                                       "double click do the same"),
                                    QKeySequence(Qt::Key_M), [this] {
                                      if (current_key().isEmpty()) return;
                                      this->session()->choose_shape(current_key().toStdString());
                                      Q_EMIT marking_wanted();
                                    }));
  bar()->addWidget(mark);
  add_asking(menu_button(QStringLiteral("shapes_panel.ask"), tr("Ask"),
                         tr("Ask for a diameter, a gap, an angle of the chosen ones")));
  add_action(QStringLiteral("shapes_panel.remove"), tr("Remove"),
             tr("Remove the chosen ones with all their marks"), QKeySequence(Qt::Key_Delete),
             [this, session] {
               measure::EditGroup group;
               auto names = shapes();
               // What is made from others goes before them.
               std::reverse(names.begin(), names.end());
               for (const std::string& name : names) {
                 group.edits.push_back(measure::RemoveShape{name});
               }
               if (group.edits.size() == 1) {
                 session->change_soon(group.edits.front());
               } else if (!group.edits.empty()) {
                 session->change_soon(group);
               }
             });
}

void ShapesPanel::add_making(QMenu* menu) {
  const auto seen = [&](const char* id, const QString& text, const QString& tip, Qt::Key key,
                        const QString& word, const measure::ShapeOrigin& origin) {
    menu->addAction(add_action(QStringLiteral("shapes_panel.%1").arg(id), text, tip,
                               QKeySequence(key), [this, word, origin] { make(word, origin); }));
  };
  seen("edge", tr("Edge to mark"),
       tr("A straight edge: marks anywhere along it, in two photos or "
          "more"),
       Qt::Key_E, tr("edge"), measure::SeenEdge{});
  seen("circle", tr("Circle to mark"),
       tr("A round rim: marks anywhere along it, six or more over the photos"), Qt::Key_C,
       tr("circle"), measure::SeenCircle{});
  seen("cylinder", tr("Cylinder to mark"),
       tr("A tube or rod: marks anywhere along both sides of its outline"), Qt::Key_Y,
       tr("cylinder"), measure::SeenCylinder{});
  menu->addSeparator();
  const auto through = [&](const char* id, const QString& text, Qt::Key key, const QString& word,
                           std::function<measure::ShapeOrigin(std::vector<std::string>)> origin) {
    menu->addAction(add_action(QStringLiteral("shapes_panel.%1").arg(id), text,
                               tr("The best one through the points selected in their table"),
                               QKeySequence(Qt::SHIFT | key), [this, word, origin] {
                                 if (points().empty()) {
                                   Q_EMIT said(
                                       tr("Select its points in the table of points "
                                          "first, several with Ctrl or Shift."));
                                   return;
                                 }
                                 make(word, origin(points()));
                               }));
  };
  using Names = std::vector<std::string>;
  through("line_through", tr("Line through points"), Qt::Key_L, tr("line"),
          [](Names names) { return measure::LineThrough{std::move(names)}; });
  through("plane_through", tr("Plane through points"), Qt::Key_P, tr("plane"),
          [](Names names) { return measure::PlaneThrough{std::move(names)}; });
  through("circle_through", tr("Circle through points"), Qt::Key_C, tr("circle"),
          [](Names names) { return measure::CircleThrough{std::move(names)}; });
  through("sphere_through", tr("Sphere through points"), Qt::Key_S, tr("sphere"),
          [](Names names) { return measure::SphereThrough{std::move(names)}; });
  through("cylinder_through", tr("Cylinder through points"), Qt::Key_Y, tr("cylinder"),
          [](Names names) { return measure::CylinderThrough{std::move(names)}; });
  through("cone_through", tr("Cone through points"), Qt::Key_K, tr("cone"),
          [](Names names) { return measure::ConeThrough{std::move(names)}; });
  menu->addSeparator();
  const auto of_two = [&](const char* id, const QString& text, const QString& tip, Qt::Key key,
                          const QString& word, auto origin) {
    menu->addAction(add_action(QStringLiteral("shapes_panel.%1").arg(id), text, tip,
                               QKeySequence(key), [this, word, origin]() mutable {
                                 const auto names = shapes();
                                 if (names.size() != 2) {
                                   Q_EMIT said(
                                       tr("Select two rows for that, the second with "
                                          "Ctrl."));
                                   return;
                                 }
                                 origin.first = names[0];
                                 origin.second = names[1];
                                 make(word, origin);
                               }));
  };
  of_two("crossing", tr("Crossing of two"),
         tr("Where two lines, two planes, or a line and a plane cross"), Qt::Key_X, tr("crossing"),
         measure::Crossing{});
  of_two("mid_plane", tr("Plane halfway between two"),
         tr("Between two planes that face each other"), Qt::Key_H, tr("mid-plane"),
         measure::MidPlane{});
  menu->addSeparator();
  add_forms(menu);
}

void ShapesPanel::add_forms(QMenu* menu) {
  const auto form = [&](const char* id, const QString& text, const QString& tip,
                        const QKeySequence& key, MadeShape kind) {
    menu->addAction(add_action(QStringLiteral("shapes_panel.%1").arg(id), text, tip, key,
                               [this, kind] { open_form(kind); }));
  };
  form("picked", tr("Pick its points …"),
       tr("A plane, line or round through points that are picked one after another, and what it is "
          "measured as before it is made"),
       QKeySequence(Qt::Key_P), MadeShape::kPlane);
  form("mirror_plane", tr("Mirror plane of pairs …"),
       tr("The plane about which pairs of points mirror each other best, and each pair's departure "
          "from symmetry"),
       QKeySequence(Qt::Key_I), MadeShape::kMirrorPlane);
  form("parallel_plane", tr("Plane parallel to another …"),
       tr("Through a point, or offset by a length"), QKeySequence(Qt::Key_L),
       MadeShape::kParallelPlane);
  menu->addSeparator();
  menu->addAction(
      add_action(QStringLiteral("shapes_panel.axes"), tr("Model axes …"),
                 tr("Which plane is the waterline, which line the axis, which point the origin"),
                 QKeySequence(Qt::SHIFT | Qt::Key_A), [this] {
                   if (!axes_form_) axes_form_ = new AxesForm(session(), this);
                   axes_form_->show();
                   axes_form_->raise();
                   axes_form_->activateWindow();
                   axes_form_->show_dossier();
                 }));
}

void ShapesPanel::open_form(MadeShape kind) {
  if (!shape_form_) {
    shape_form_ = new ShapeForm(session(), this);
    connect(shape_form_, &ShapeForm::made, this, [this](const std::string& shape) {
      session()->choose_shape(shape);
      show_key(q(shape));
      show_result();
    });
  }
  shape_form_->show();
  shape_form_->raise();
  shape_form_->activateWindow();
  // What is selected is probably what it is to be made of.
  shape_form_->begin(kind, kind == MadeShape::kPlane ? points() : std::vector<std::string>{},
                     shapes());
}

void ShapesPanel::show_result() {
  const measure::FormResult* form = session()->form_of(current_key().toStdString());
  const auto live = session()->live();
  const bool says_more = form && form->problem.empty() && live->survey &&
                         (form->gap || !form->pairs.empty() || form->test);
  result_->setVisible(says_more);
  if (!says_more) return result_->say({});
  result_->show_result(*form, live->survey->report().unit, session()->unit());
}

void ShapesPanel::add_asking(QMenu* menu) {
  const auto of_one = [&](const char* id, const QString& text, const QString& tip, Qt::Key key,
                          std::function<measure::DimensionKind(std::string)> kind) {
    menu->addAction(add_action(QStringLiteral("shapes_panel.%1").arg(id), text, tip,
                               QKeySequence(key), [this, kind] {
                                 if (shapes().empty()) {
                                   Q_EMIT said(tr("Select an edge or round first."));
                                 }
                                 for (const std::string& name : shapes()) ask(kind(name));
                               }));
  };
  of_one("diameter", tr("Ask for its diameter"), tr("Of circles, spheres and cylinders, ± U"),
         Qt::Key_D, [](std::string name) { return measure::Diameter{std::move(name)}; });
  of_one("radius", tr("Ask for its radius"), tr("Of circles, spheres and cylinders, ± U"),
         Qt::Key_R, [](std::string name) { return measure::Radius{std::move(name)}; });
  const auto of_two = [&](const char* id, const QString& text, const QString& tip, Qt::Key key,
                          auto kind) {
    menu->addAction(add_action(QStringLiteral("shapes_panel.%1").arg(id), text, tip,
                               QKeySequence(key), [this, kind]() mutable {
                                 const auto names = shapes();
                                 if (names.size() != 2) {
                                   Q_EMIT said(
                                       tr("Select two rows for that, the second with "
                                          "Ctrl."));
                                   return;
                                 }
                                 kind.first = names[0];
                                 kind.second = names[1];
                                 ask(kind);
                               }));
  };
  of_two("gap", tr("Ask for the gap between two"),
         tr("Between two nearly parallel planes, edges or axes, ± U"), Qt::Key_G, measure::Gap{});
  of_two("angle", tr("Ask for the angle between two"),
         tr("Between the directions of two, 0 to 90°, ± U"), Qt::Key_A, measure::AngleBetween{});
  menu->addAction(add_action(
      QStringLiteral("shapes_panel.offset"), tr("Ask for the chosen point's offset from it"),
      tr("How far the point chosen in the table of points lies off the line, axis or plane, ± U"),
      QKeySequence(Qt::Key_O), [this] {
        const auto names = shapes();
        const auto at = points();
        if (names.size() != 1 || at.size() != 1) {
          Q_EMIT said(tr("Select one row here, and one point in the table of points."));
          return;
        }
        const auto form = measure::form_of(session()->dossier(), names[0]);
        if (form && measure::has_axis(*form)) {
          ask(measure::OffsetFromLine{at[0], names[0], ""});
        } else {
          ask(measure::OffsetFromPlane{at[0], {names[0]}});
        }
      }));
}

/// A name that neither a point nor a shape has: "edge 3".
void ShapesPanel::make(const QString& word, measure::ShapeOrigin origin) {
  const std::string name = proposed_shape_name(session()->dossier(), word).toStdString();
  const bool is_seen = measure::is_seen(origin);
  session()->change_soon(
      measure::AddShape{{name, std::move(origin), ""}, std::nullopt}, this,
      [this, name, is_seen](bool done) {
        if (!done) return;
        session()->choose_shape(name);
        show_key(q(name));
        if (!is_seen) return;
        Q_EMIT said(
            tr("Made \"%1\": click along it in several photos; F2 renames it.").arg(q(name)));
        Q_EMIT marking_wanted();
      });
}

void ShapesPanel::ask(const measure::DimensionKind& kind) {
  const QString name = proposed_dimension_name(session()->dossier(), kind);
  session()->change_soon(
      measure::AddDimension{{name.toStdString(), kind}, std::nullopt}, this,
      [this, name](bool done) {
        if (!done) return;
        session()->choose_dimension(name.toStdString());
        Q_EMIT said(tr("Made \"%1\"; it stands in the table of dimensions.").arg(name));
      });
}

std::vector<std::string> ShapesPanel::points() const {
  std::vector<std::string> names;
  for (const QString& name : chosen_points_()) names.push_back(name.toStdString());
  return names;
}

std::vector<std::string> ShapesPanel::shapes() const {
  const QStringList chosen = selected_keys();
  std::vector<std::string> names;
  for (const measure::Shape& shape : session()->dossier().shapes) {
    if (chosen.contains(q(shape.name))) names.push_back(shape.name);
  }
  return names;
}

QString ShapesPanel::count_text(int shown, int all) const {
  return shown == all ? tr("edges and rounds: %1").arg(all)
                      : tr("edges and rounds: %1 of %2").arg(shown).arg(all);
}

}  // namespace desk
