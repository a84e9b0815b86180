#include "tools/desk/shapes/axes_form.h"

#include <QHeaderView>
#include <algorithm>
#include <cmath>

#include "measure/edit/apply.h"
#include "measure/shapes/form.h"
#include "tools/desk/shapes/shape_words.h"

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }
constexpr int kWidestName_px = 240;
std::string chosen_in(const QComboBox* box) { return box->currentData().toString().toStdString(); }

}  // namespace

AxesForm::AxesForm(DeskSession* session, QWidget* parent)
    : Form(QStringLiteral("axes_form"), tr("Model axes"), tr("Set the axes"), parent),
      session_(session),
      preview_(session) {
  auto* intro = new SentenceLabel(QStringLiteral("axes_form.intro"), this);
  intro->say(
      tr("Coordinates are given from your own plane, line and point: x along the line from the "
         "origin, z the height over the plane, y across both."));
  body()->addWidget(intro);
  const auto box = [&](const QString& name, const QString& tip) {
    auto* made = new QComboBox(this);
    made->setObjectName(name);
    made->setToolTip(tip);
    connect(made, &QComboBox::currentIndexChanged, this, [this] {
      if (!filling_) follow();
    });
    return made;
  };
  plane_ = box(QStringLiteral("axes_form.plane"),
               tr("Heights z count from it: the waterline, the ground"));
  line_ = box(QStringLiteral("axes_form.line"), tr("The direction of x, laid into the plane"));
  origin_ = new PlaceField(session, QStringLiteral("axes_form.origin"),
                           tr("Where x is 0: pick it in any view, or type its name"), false, this);
  coordinates_ = new QTableWidget(0, 4, this);
  coordinates_->setObjectName(QStringLiteral("axes_form.coordinates"));
  coordinates_->setHorizontalHeaderLabels(
      {tr("point"), tr("x, original"), tr("y, original"), tr("z, original")});
  coordinates_->setToolTip(tr("Coordinates ± U on the original, p = 95.45 %"));
  coordinates_->setEditTriggers(QAbstractItemView::NoEditTriggers);
  coordinates_->setSelectionBehavior(QAbstractItemView::SelectRows);
  coordinates_->setAlternatingRowColors(true);
  coordinates_->setShowGrid(false);
  coordinates_->verticalHeader()->hide();
  coordinates_->verticalHeader()->setDefaultSectionSize(fontMetrics().height() + 6);
  coordinates_->horizontalHeader()->setDefaultAlignment(Qt::AlignLeft | Qt::AlignVCenter);
  for (const int column : {1, 2, 3}) {
    coordinates_->horizontalHeader()->setSectionResizeMode(column, QHeaderView::Stretch);
  }
  take_back_ = new QPushButton(tr("Take the axes back"), this);
  take_back_->setObjectName(QStringLiteral("axes_form.take_back"));
  take_back_->setToolTip(tr("Have no axes of your own"));
  take_back_->setAutoDefault(false);
  add_row(tr("Plane"), plane_);
  add_row(tr("Line or axis"), line_);
  add_row(tr("Origin"), origin_);
  rows()->addRow(QString(), take_back_);
  body()->addWidget(coordinates_, 1);
  connect(origin_, &TypedField::changed, this, &AxesForm::follow);
  connect(take_back_, &QPushButton::clicked, this, &AxesForm::take_back);
  connect(session, &DeskSession::point_picked, this, [this](const std::string& point) {
    if (isVisible()) origin_->set_text(q(point));
  });
  connect(session, &DeskSession::dossier_changed, this, [this] {
    if (!isVisible()) return;
    fill_shapes();
    follow();
  });
  connect(session, &DeskSession::unit_changed, this, [this] {
    if (isVisible()) follow();
  });
  connect(&preview_, &AxesPreview::answered, this, &AxesForm::show_coordinates);
  resize(700, 580);
}

void AxesForm::fill_shapes() {
  filling_ = true;
  const auto fill = [this](QComboBox* box, auto suits) {
    const QString kept = box->currentData().toString();
    box->clear();
    box->addItem(tr("choose"), QString());
    for (const measure::Shape& shape : session_->dossier().shapes) {
      const auto form = measure::form_of(session_->dossier(), shape.name);
      if (!form || !suits(*form)) continue;
      box->addItem(tr("%1 (%2)").arg(q(shape.name), form_name(*form)), q(shape.name));
    }
    box->setCurrentIndex(std::max(0, box->findData(kept)));
  };
  fill(plane_, [](measure::FormKind form) { return measure::is_flat(form); });
  fill(line_, [](measure::FormKind form) { return measure::has_axis(form); });
  filling_ = false;
}

void AxesForm::show_dossier() {
  session_->choose_shape("");  // clicks mean points, not marks along a shape
  fill_shapes();
  sentence()->say({});
  if (const auto& axes = session_->dossier().axes) {
    filling_ = true;
    plane_->setCurrentIndex(std::max(0, plane_->findData(q(axes->plane))));
    line_->setCurrentIndex(std::max(0, line_->findData(q(axes->line))));
    filling_ = false;
    origin_->set_text(q(axes->origin));
  }
  follow();
  plane_->setFocus();
}

measure::AxesNames AxesForm::axes() const {
  return {chosen_in(plane_), chosen_in(line_), origin_->place()};
}

QString AxesForm::missing() const {
  if (plane_->count() <= 1) {
    return tr("There is no plane yet: put one through three points or more, or mark a circle.");
  }
  if (line_->count() <= 1) {
    return tr("There is no line yet: mark an edge, or put a line through two points or more.");
  }
  const measure::AxesNames now = axes();
  if (now.plane.empty()) return tr("Choose the plane that heights count from.");
  if (now.line.empty()) return tr("Choose the line that x runs along.");
  if (now.origin.empty()) return tr("Pick the point where x is 0, or type its name.");
  return {};
}

void AxesForm::follow() {
  take_back_->setEnabled(session_->dossier().axes && session_->read_only_reason().isEmpty());
  const QString lacks = missing();
  QString fault;
  if (lacks.isEmpty()) {
    // Judged by the same rules as the edit itself.
    measure::Dossier trial;
    trial.points = session_->dossier().points;
    trial.shapes = session_->dossier().shapes;
    const auto applied = measure::apply(measure::SetAxes{axes()}, trial);
    if (!applied) fault = q(applied.error().sentence);
  }
  const bool is_set = session_->dossier().axes && *session_->dossier().axes == axes();
  const bool can_be_seen = lacks.isEmpty() && fault.isEmpty();
  deed()->setEnabled(can_be_seen && !is_set && session_->read_only_reason().isEmpty());
  if (!fault.isEmpty()) {
    sentence()->say_problem(fault);
  } else if (!lacks.isEmpty()) {
    sentence()->say(lacks);
  } else if (!session_->read_only_reason().isEmpty()) {
    sentence()->say(session_->read_only_reason());
  } else {
    sentence()->say(is_set ? tr("These are the model axes.") : tr("Enter sets them."));
  }
  if (can_be_seen) {
    preview_.ask(axes());
  } else {
    preview_.ask(std::nullopt);
    show_coordinates({});
  }
}

void AxesForm::show_coordinates(const std::vector<measure::CoordinatesResult>& coordinates) {
  const auto live = session_->live();
  const measure::LengthUnit length =
      live->survey ? live->survey->report().unit : measure::LengthUnit::kMillimetre;
  coordinates_->clearSpans();
  coordinates_->setRowCount(static_cast<int>(coordinates.size()));
  for (int row = 0; row < coordinates_->rowCount(); ++row) {
    const auto& one = coordinates[static_cast<std::size_t>(row)];
    coordinates_->setItem(row, 0, new QTableWidgetItem(q(one.name)));
    for (int axis = 0; axis < 3; ++axis) {
      QString text;
      if (one.problem.empty()) {
        text = with_u_text(one.value[axis], std::sqrt(one.covariance(axis, axis)), std::nullopt,
                           length, session_->unit());
      } else if (axis == 0) {
        text = q(one.problem);
      }
      auto* item = new QTableWidgetItem(text);
      item->setToolTip(text);
      coordinates_->setItem(row, axis + 1, item);
    }
    if (!one.problem.empty()) coordinates_->setSpan(row, 1, 1, 3);
  }
  coordinates_->resizeColumnToContents(0);
  coordinates_->setColumnWidth(0, std::min(coordinates_->columnWidth(0), kWidestName_px));
}

void AxesForm::act() {
  if (!missing().isEmpty()) return;
  const auto warnings = change(session_, measure::SetAxes{axes()});
  if (!warnings) return;
  sentence()->say_done((tr("The model axes are set. ") + *warnings).trimmed());
}

void AxesForm::take_back() {
  if (!change(session_, measure::SetAxes{std::nullopt})) return;
  sentence()->say_done(tr("The model axes are taken back."));
}

void AxesForm::done(int result) {
  preview_.ask(std::nullopt);
  Form::done(result);
}

}  // namespace desk
