#include "tools/desk/shapes/shape_form.h"

#include <algorithm>

#include "measure/edit/apply.h"
#include "measure/shapes/form.h"
#include "tools/desk/fields/typed_value.h"
#include "tools/desk/shapes/shape_words.h"

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }

/// The least number of points, by the rules of the edit (shape_rules.cpp).
std::size_t least_points(MadeShape kind) {
  switch (kind) {
    case MadeShape::kLine:
      return 2;
    case MadeShape::kPlane:
    case MadeShape::kCircle:
      return 3;
    case MadeShape::kSphere:
    case MadeShape::kMirrorPlane:
      return 4;
    case MadeShape::kCylinder:
      return 5;
    case MadeShape::kCone:
      return 6;
    default:
      return 0;
  }
}

std::string chosen_in(const QComboBox* box) { return box->currentData().toString().toStdString(); }

}  // namespace

QString proposed_shape_name(const measure::Dossier& dossier, const QString& word) {
  for (int number = 1;; ++number) {
    const QString trial = QStringLiteral("%1 %2").arg(word).arg(number);
    const std::string name = trial.toStdString();
    if (!dossier.find_shape(name) && !dossier.find_point(name)) return trial;
  }
}

ShapeForm::ShapeForm(DeskSession* session, QWidget* parent)
    : Form(QStringLiteral("shape_form"), tr("Shape through points or from others"), tr("Make"),
           parent),
      session_(session),
      preview_(session) {
  add_fields();
  connect(session, &DeskSession::point_picked, this, [this](const std::string& point) {
    if (!isVisible()) return;
    if (is_of_points()) points_->take(point);
    if (chosen() == MadeShape::kParallelPlane) through_->set_text(q(point));
  });
  connect(session, &DeskSession::dossier_changed, this, [this] {
    if (!isVisible()) return;
    fill_shapes();
    follow();
  });
  connect(session, &DeskSession::live_changed, this, [this] {
    if (isVisible()) follow();
  });
  connect(session, &DeskSession::unit_changed, this, [this] {
    offset_->judge_again();
    if (isVisible()) follow();
  });
  connect(&preview_, &ShapePreview::answered, this, &ShapeForm::show_answer);
  show_rows();
  resize(560, 560);
}

void ShapeForm::add_fields() {
  kind_ = new QComboBox(this);
  kind_->setObjectName(QStringLiteral("shape_form.kind"));
  kind_->setToolTip(tr("What is made"));
  kind_->addItems({tr("line through points"), tr("plane through points"),
                   tr("circle through points"), tr("sphere through points"),
                   tr("cylinder through points"), tr("cone through points"),
                   tr("mirror plane of pairs of points"), tr("plane parallel to another"),
                   tr("plane halfway between two"), tr("crossing of two")});
  points_ = new PlaceList(session_, QStringLiteral("shape_form.points"), this);
  const auto box = [&](const QString& name, const QString& tip) {
    auto* made = new QComboBox(this);
    made->setObjectName(name);
    made->setToolTip(tip);
    connect(made, &QComboBox::currentIndexChanged, this, [this] {
      if (!filling_) follow();
    });
    return made;
  };
  plane_ = box(QStringLiteral("shape_form.plane"), tr("The plane that it is parallel to"));
  through_ = new PlaceField(session_, QStringLiteral("shape_form.through"),
                            tr("The point that it goes through; empty where the distance says it"),
                            true, this);
  offset_ = new TypedField(
      QStringLiteral("shape_form.offset"),
      tr("By how much it is offset, on the original, with unit: of a plane through points towards "
         "the side from which its first three turn anticlockwise; with a minus sign towards the "
         "other. Which side it came to lie on is seen in the photos"),
      [this](const QString& text) -> calib::Result<QString, QString> {
        if (text.isEmpty()) return QString();
        const auto length = typed_length_mm(text, session_->unit());
        if (!length) return calib::Unexpected(length.error());
        return length_reading(*length, session_->unit());
      },
      this);
  offset_->edit()->setPlaceholderText(tr("12 mm, -3/8 in"));
  first_ = box(QStringLiteral("shape_form.first"), tr("The one"));
  second_ = box(QStringLiteral("shape_form.second"), tr("The other"));
  name_ = new TypedField(
      QStringLiteral("shape_form.name"), tr("Proposed; type another if you like"),
      [](const QString&) -> calib::Result<QString, QString> { return QString(); }, this);
  result_ = new ResultView(QStringLiteral("shape_form.result"), this);
  add_row(tr("Make"), kind_);
  add_row(tr("Points"), points_);
  add_row(tr("Parallel to"), plane_);
  add_row(tr("Through"), through_);
  add_row(tr("or offset by"), offset_);
  add_row(tr("One"), first_);
  add_row(tr("Other"), second_);
  add_row(tr("Name"), name_);
  auto* caption = new QLabel(tr("What it would be measured as"), this);
  caption->setContentsMargins(0, 6, 0, 0);
  QFont bold = caption->font();
  bold.setBold(true);
  caption->setFont(bold);
  body()->addWidget(caption);
  body()->addWidget(result_, 1);
  connect(kind_, &QComboBox::currentIndexChanged, this, [this] {
    show_rows();
    fill_shapes();
    follow();
  });
  connect(points_, &PlaceList::changed, this, &ShapeForm::follow);
  for (TypedField* field : std::initializer_list<TypedField*>{through_, offset_, name_}) {
    connect(field, &TypedField::changed, this, &ShapeForm::follow);
  }
}

MadeShape ShapeForm::chosen() const { return static_cast<MadeShape>(kind_->currentIndex()); }

bool ShapeForm::is_of_points() const { return least_points(chosen()) > 0; }

void ShapeForm::show_rows() {
  const bool is_parallel = chosen() == MadeShape::kParallelPlane;
  rows()->setRowVisible(points_, is_of_points());
  for (QWidget* field : std::initializer_list<QWidget*>{plane_, through_, offset_}) {
    rows()->setRowVisible(field, is_parallel);
  }
  for (QWidget* field : {first_, second_}) {
    rows()->setRowVisible(field, !is_of_points() && !is_parallel);
  }
  // Rows of single lines keep their height; a list shares what there is with the result.
  body()->setStretchFactor(rows(), is_of_points() ? 1 : 0);
  points_->set_in_pairs(chosen() == MadeShape::kMirrorPlane);
}

void ShapeForm::fill_shapes() {
  filling_ = true;
  const bool lines_too = chosen() == MadeShape::kCrossing;
  for (QComboBox* box : {plane_, first_, second_}) {
    const QString kept = box->currentData().toString();
    box->clear();
    box->addItem(tr("choose"), QString());
    for (const measure::Shape& shape : session_->dossier().shapes) {
      const auto form = measure::form_of(session_->dossier(), shape.name);
      if (!form) continue;
      const bool is_line =
          *form == measure::FormKind::kLine || *form == measure::FormKind::kCylinder;
      if (!measure::is_flat(*form) && !(is_line && lines_too)) continue;
      box->addItem(tr("%1 (%2)").arg(q(shape.name), form_name(*form)), q(shape.name));
    }
    box->setCurrentIndex(std::max(0, box->findData(kept)));
  }
  filling_ = false;
}

void ShapeForm::begin(MadeShape kind, const std::vector<std::string>& points,
                      const std::vector<std::string>& shapes) {
  // Clicks mean points from here on, not marks along the shape chosen before.
  session_->choose_shape("");
  kind_->setCurrentIndex(static_cast<int>(kind));
  fill_shapes();
  through_->set_text({});
  offset_->set_text({});
  name_->set_text({});
  proposed_.clear();
  const auto choose = [&](QComboBox* box, std::size_t number) {
    const int at = number < shapes.size() ? box->findData(q(shapes[number])) : 0;
    box->setCurrentIndex(std::max(0, at));
  };
  choose(plane_, 0);
  choose(first_, 0);
  choose(second_, 1);
  sentence()->say({});
  points_->set_names(points);
  follow();
  if (is_of_points()) {
    points_->focus_next();
  } else if (chosen() == MadeShape::kParallelPlane) {
    plane_->setFocus();
  } else {
    first_->setFocus();
  }
}

QString ShapeForm::word() const {
  switch (chosen()) {
    case MadeShape::kLine:
      return tr("line");
    case MadeShape::kCircle:
      return tr("circle");
    case MadeShape::kSphere:
      return tr("sphere");
    case MadeShape::kCylinder:
      return tr("cylinder");
    case MadeShape::kCone:
      return tr("cone");
    case MadeShape::kMirrorPlane:
      return tr("mirror plane");
    case MadeShape::kMidPlane:
      return tr("mid-plane");
    case MadeShape::kCrossing:
      return tr("crossing");
    default:
      return tr("plane");
  }
}

measure::ShapeOrigin ShapeForm::origin() const {
  const std::vector<std::string>& names = points_->names();
  switch (chosen()) {
    case MadeShape::kLine:
      return measure::LineThrough{names};
    case MadeShape::kPlane:
      return measure::PlaneThrough{names};
    case MadeShape::kCircle:
      return measure::CircleThrough{names};
    case MadeShape::kSphere:
      return measure::SphereThrough{names};
    case MadeShape::kCylinder:
      return measure::CylinderThrough{names};
    case MadeShape::kCone:
      return measure::ConeThrough{names};
    case MadeShape::kMirrorPlane: {
      measure::MirrorPlane mirror;
      for (std::size_t i = 0; i + 1 < names.size(); i += 2) {
        mirror.pairs.emplace_back(names[i], names[i + 1]);
      }
      return mirror;
    }
    case MadeShape::kParallelPlane: {
      measure::ParallelPlane parallel{chosen_in(plane_), through_->place(), std::nullopt};
      if (!offset_->text().isEmpty()) {
        if (const auto mm = typed_length_mm(offset_->text(), session_->unit())) {
          parallel.offset_mm = *mm;
        }
      }
      return parallel;
    }
    case MadeShape::kMidPlane:
      return measure::MidPlane{chosen_in(first_), chosen_in(second_)};
    case MadeShape::kCrossing:
      return measure::Crossing{chosen_in(first_), chosen_in(second_)};
  }
  return measure::PlaneThrough{};
}

measure::Shape ShapeForm::shape() const { return {name_->text().toStdString(), origin(), ""}; }

QString ShapeForm::missing_points() const {
  const std::size_t have = points_->names().size(), least = least_points(chosen());
  if (chosen() == MadeShape::kMirrorPlane) {
    if (have % 2 != 0) {
      return tr("Pick the point that mirrors \"%1\".").arg(q(points_->names().back()));
    }
    return have < least
               ? tr("Pick a point and then the one that mirrors it; two pairs or more, %1 taken.")
                     .arg(have / 2)
               : QString();
  }
  if (have >= least) return {};
  return tr("Pick its points in any view: it needs %1 or more, %2 taken.").arg(least).arg(have);
}

QString ShapeForm::missing() const {
  if (is_of_points()) return missing_points();
  if (chosen() == MadeShape::kParallelPlane) {
    if (plane_->count() <= 1) {
      return tr("There is no plane yet: put one through three points or more first.");
    }
    if (chosen_in(plane_).empty()) return tr("Choose the plane that it is parallel to.");
    if (!through_->text().isEmpty() && !offset_->text().isEmpty()) {
      return tr("Either a point or an offset says where it is: empty one of the two.");
    }
    if (!through_->text().isEmpty() && through_->place().empty()) {
      return tr("Pick the point that it goes through, or empty the line.");
    }
    if (!offset_->text().isEmpty() && !typed_length_mm(offset_->text(), session_->unit())) {
      return tr("The offset is to be a length like 12 mm.");
    }
    if (through_->text().isEmpty() && offset_->text().isEmpty()) {
      return tr("Pick the point that it goes through, or type by how much it is offset.");
    }
    return {};
  }
  const bool is_mid = chosen() == MadeShape::kMidPlane;
  if (first_->count() <= 2) {
    return is_mid ? tr("Two planes are needed first: put them through points.")
                  : tr("Two lines or planes are needed first: mark edges, or put them through "
                       "points.");
  }
  if (chosen_in(first_).empty() || chosen_in(second_).empty()) {
    return is_mid ? tr("Choose the two planes that it lies halfway between.")
                  : tr("Choose two lines, two planes, or a line and a plane.");
  }
  return {};
}

QString ShapeForm::problem() const {
  // Judged by the same rules as the edit itself; the marks have no part in them.
  measure::Dossier trial;
  trial.points = session_->dossier().points;
  trial.shapes = session_->dossier().shapes;
  const auto applied = measure::apply(measure::AddShape{shape(), std::nullopt}, trial);
  return applied ? QString() : q(applied.error().sentence);
}

QString ShapeForm::proposed_name() const {
  return proposed_shape_name(session_->dossier(), word());
}

void ShapeForm::follow() {
  if (proposed_.isEmpty() || name_->text() == proposed_) {
    const QString proposed = proposed_name();
    if (proposed != proposed_ || name_->text() != proposed) {
      proposed_ = proposed;
      name_->set_text(proposed_);  // comes back here
      return;
    }
  }
  const QString lacks =
      session_->read_only_reason().isEmpty() ? missing() : session_->read_only_reason();
  const QString fault = lacks.isEmpty() ? problem() : QString();
  deed()->setEnabled(lacks.isEmpty() && fault.isEmpty());
  if (!fault.isEmpty()) {
    sentence()->say_problem(fault);
  } else {
    sentence()->say(lacks.isEmpty() ? tr("Enter makes it.") : lacks);
  }
  if (lacks.isEmpty() && fault.isEmpty()) {
    preview_.ask(shape());
  } else {
    preview_.ask(std::nullopt);
    result_->say(tr("—"));
  }
}

void ShapeForm::show_answer(const std::optional<measure::FormResult>& result) {
  if (!result) return result_->say(tr("no survey yet"));
  const auto live = session_->live();
  const measure::LengthUnit length =
      live->survey ? live->survey->report().unit : measure::LengthUnit::kMillimetre;
  result_->show_result(*result, length, session_->unit());
}

void ShapeForm::act() {
  if (!check_fields() || !missing().isEmpty()) return;
  const measure::Shape made_shape = shape();
  const auto warnings = change(session_, measure::AddShape{made_shape, std::nullopt});
  if (!warnings) return;
  begin(chosen());
  sentence()->say_done((tr("Made \"%1\". ").arg(q(made_shape.name)) + *warnings).trimmed());
  Q_EMIT made(made_shape.name);
}

void ShapeForm::done(int result) {
  preview_.ask(std::nullopt);
  Form::done(result);
}

}  // namespace desk
