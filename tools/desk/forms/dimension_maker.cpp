#include "tools/desk/forms/dimension_maker.h"

#include <QApplication>
#include <QKeyEvent>
#include <QVBoxLayout>
#include <algorithm>

#include "measure/edit/apply.h"
#include "measure/edit/warnings.h"
#include "tools/desk/fields/typed_value.h"
#include "tools/desk/forms/proposed_name.h"
#include "tools/desk/tables/dimensions_table.h"

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }
constexpr std::size_t kLeastPlanePoints = 3, kMostPlanePoints = 24;

}  // namespace

DimensionMaker::DimensionMaker(DeskSession* session, QWidget* parent)
    : QFrame(parent), session_(session), preview_(session) {
  setObjectName(QStringLiteral("dimension_maker"));
  setFrameShape(QFrame::StyledPanel);
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(8, 6, 8, 6);
  column->setSpacing(4);
  auto* first = new QHBoxLayout;
  kind_ = new QComboBox(this);
  kind_->setObjectName(QStringLiteral("dimension_maker.kind"));
  kind_->setToolTip(tr("What is asked"));
  kind_->addItems({tr("distance"), tr("distance along a direction"), tr("angle"),
                   tr("offset from a line"), tr("offset from a plane")});
  role_ = new QLabel(this);
  role_->setObjectName(QStringLiteral("dimension_maker.role"));
  QFont bold = role_->font();
  bold.setBold(true);
  role_->setFont(bold);
  value_ = new QLabel(this);
  value_->setObjectName(QStringLiteral("dimension_maker.value"));
  value_->setTextInteractionFlags(Qt::TextSelectableByMouse);
  value_->setToolTip(tr("Value ± U on the original, p = 95.45 %"));
  value_->setFont(bold);
  first->addWidget(kind_);
  first->addWidget(role_, 1);
  first->addWidget(value_);
  column->addLayout(first);

  points_row_ = new QWidget(this);
  points_ = new QHBoxLayout(points_row_);
  points_->setContentsMargins(0, 0, 0, 0);
  column->addWidget(points_row_);

  auto* last = new QHBoxLayout;
  auto* name_words = new QLabel(tr("Name"), this);
  name_ = new QLineEdit(this);
  name_->setObjectName(QStringLiteral("dimension_maker.name"));
  name_->setToolTip(tr("Proposed from the points; type another if you like"));
  name_words->setBuddy(name_);
  auto* tolerance_words = new QLabel(tr("Tolerance ±"), this);
  tolerance_ = new TypedField(
      QStringLiteral("dimension_maker.tolerance"),
      tr("The largest U that will do for this dimension, with unit; empty: the one for all"),
      [session](const QString& text) -> calib::Result<QString, QString> {
        if (text.isEmpty()) return QString();
        const auto length = typed_length_mm(text, session->unit());
        if (!length) return calib::Unexpected(length.error());
        if (*length <= 0) return calib::Unexpected(tr("A tolerance is more than 0."));
        return length_reading(*length, session->unit());
      },
      this);
  tolerance_->edit()->setPlaceholderText(tr("as for all"));
  tolerance_->setMaximumWidth(150);
  tolerance_words->setBuddy(tolerance_);
  make_ = new QPushButton(tr("Make"), this);
  make_->setObjectName(QStringLiteral("dimension_maker.make"));
  make_->setToolTip(tr("Make the dimension  [Enter]"));
  auto* close = new QPushButton(tr("Close"), this);
  close->setObjectName(QStringLiteral("dimension_maker.close"));
  close->setToolTip(tr("Make no more dimensions  [Esc]"));
  last->addWidget(name_words);
  last->addWidget(name_, 1);
  last->addWidget(tolerance_words);
  last->addWidget(tolerance_);
  last->addWidget(make_);
  last->addWidget(close);
  column->addLayout(last);
  sentence_ = new SentenceLabel(QStringLiteral("dimension_maker.sentence"), this);
  column->addWidget(sentence_);

  connect(kind_, &QComboBox::currentIndexChanged, this, &DimensionMaker::rebuild);
  connect(name_, &QLineEdit::returnPressed, this, &DimensionMaker::make);
  connect(name_, &QLineEdit::textEdited, this, &DimensionMaker::follow);
  connect(tolerance_->edit(), &QLineEdit::returnPressed, this, &DimensionMaker::make);
  connect(make_, &QPushButton::clicked, this, &DimensionMaker::make);
  connect(close, &QPushButton::clicked, this, &DimensionMaker::cancel);
  connect(session, &DeskSession::point_picked, this, [this](const std::string& point) {
    if (isVisible()) take(point);
  });
  connect(session, &DeskSession::unit_changed, this, [this] { preview_.ask(kind()); });
  connect(session, &DeskSession::dossier_changed, this, [this] {
    if (isVisible()) follow();
  });
  connect(&preview_, &DimensionPreview::answered, this, &DimensionMaker::show_value);
  hide();
  rebuild();
}

MadeKind DimensionMaker::chosen() const { return static_cast<MadeKind>(kind_->currentIndex()); }

QStringList DimensionMaker::roles() const {
  switch (chosen()) {
    case MadeKind::kDistance:
      return {tr("the point at one end"), tr("the point at the other end")};
    case MadeKind::kAlong:
      return {tr("the point it begins at"), tr("the point it ends at"),
              tr("where the direction begins"), tr("where the direction ends")};
    case MadeKind::kAngle:
      return {tr("a point on one leg"), tr("the corner"), tr("a point on the other leg")};
    case MadeKind::kOffsetLine:
      return {tr("the point whose offset is asked"), tr("one point of the line"),
              tr("another point of the line")};
    case MadeKind::kOffsetPlane:
      return {tr("the point whose offset is asked"), tr("one point of the plane"),
              tr("a second point of the plane"), tr("a third point of the plane")};
  }
  return {};
}

void DimensionMaker::begin(MadeKind kind) {
  show();
  if (chosen() == kind) {
    rebuild();
  } else {
    kind_->setCurrentIndex(static_cast<int>(kind));
  }
  fields_.front()->setFocus();
}

void DimensionMaker::cancel() {
  preview_.ask(std::nullopt);
  rebuild();
  give_focus_back();
  hide();
  Q_EMIT closed();
}

void DimensionMaker::rebuild() {
  for (PointField* field : fields_) {
    points_->removeWidget(field);
    field->setParent(nullptr);  // gone from here at once, though it may be the one that was entered
    field->deleteLater();
  }
  fields_.clear();
  for (int i = 0; i < roles().size(); ++i) add_field();
  place_ = 0;
  name_->clear();
  tolerance_->set_text({});
  tolerance_->setEnabled(chosen() != MadeKind::kAngle);
  proposed_.clear();
  follow();
}

void DimensionMaker::add_field() {
  const std::size_t at = fields_.size();
  const bool is_needed = static_cast<int>(at) < roles().size();
  const QString role =
      is_needed ? roles()[static_cast<int>(at)] : tr("a further point, if you like");
  auto* field = new PointField(session_, QStringLiteral("dimension_maker.point%1").arg(at),
                               tr("Pick %1, or type its name").arg(role), !is_needed, points_row_);
  field->edit()->setPlaceholderText(role);
  field->edit()->installEventFilter(this);
  points_->addWidget(field, 1, Qt::AlignTop);
  fields_.push_back(field);
  connect(field, &TypedField::changed, this, &DimensionMaker::follow);
  connect(field->edit(), &QLineEdit::returnPressed, this, &DimensionMaker::enter_pressed);
}

bool DimensionMaker::eventFilter(QObject* watched, QEvent* event) {
  if (event->type() == QEvent::FocusIn) {
    for (std::size_t i = 0; i < fields_.size(); ++i) {
      if (watched == fields_[i]->edit()) {
        place_ = i;
        follow();
      }
    }
  }
  return QFrame::eventFilter(watched, event);
}

void DimensionMaker::take(const std::string& point) {
  if (place_ >= fields_.size()) place_ = next_place();
  if (place_ >= fields_.size()) return;
  const bool was_complete = kind().has_value();
  fields_[place_]->set_text(q(point));
  place_ = next_place();
  follow();
  QWidget* focus = QApplication::focusWidget();
  const bool is_here = focus && isAncestorOf(focus);
  if (kind() && !was_complete) {
    // So that Enter makes it wherever the points were picked; afterwards the focus goes back.
    if (!is_here) came_from_ = focus;
    name_->setFocus();
  } else if (is_here && place_ < fields_.size()) {
    fields_[place_]->setFocus();
  }
}

std::size_t DimensionMaker::next_place() const {
  const auto at = std::find_if(fields_.begin(), fields_.end(),
                               [](const PointField* field) { return field->point().empty(); });
  return static_cast<std::size_t>(at - fields_.begin());
}

std::optional<measure::DimensionKind> DimensionMaker::kind() const {
  std::vector<std::string> points;
  for (std::size_t i = 0; i < fields_.size(); ++i) {
    const std::string point = fields_[i]->point();
    if (point.empty()) {
      if (static_cast<int>(i) < roles().size()) return std::nullopt;
      continue;
    }
    points.push_back(point);
  }
  switch (chosen()) {
    case MadeKind::kDistance:
      return measure::Distance{points[0], points[1]};
    case MadeKind::kAlong:
      return measure::DistanceAlong{points[0], points[1], points[2], points[3]};
    case MadeKind::kAngle:
      return measure::Angle{points[0], points[1], points[2]};
    case MadeKind::kOffsetLine:
      return measure::OffsetFromLine{points[0], points[1], points[2]};
    case MadeKind::kOffsetPlane:
      return measure::OffsetFromPlane{points[0], {points.begin() + 1, points.end()}};
  }
  return std::nullopt;
}

void DimensionMaker::follow() {
  const auto now = kind();
  if (chosen() == MadeKind::kOffsetPlane && now && fields_.size() <= kMostPlanePoints &&
      !fields_.back()->point().empty()) {
    add_field();
  }
  const bool is_open = place_ < fields_.size() && fields_[place_]->point().empty();
  const std::size_t next = is_open ? place_ : next_place();
  if (next < fields_.size() && static_cast<int>(next) < roles().size()) {
    role_->setText(tr("Pick %1").arg(roles()[static_cast<int>(next)]));
  } else if (now) {
    role_->setText(chosen() == MadeKind::kOffsetPlane
                       ? tr("Enter makes it; a further point of the plane may be picked")
                       : tr("Enter makes it"));
  }
  if (now && (proposed_.isEmpty() || name_->text() == proposed_)) {
    proposed_ = proposed_dimension_name(session_->dossier(), *now);
    name_->setText(proposed_);
    name_->setCursorPosition(0);
  }
  const QString fault = now ? problem() : QString();
  if (fault.isEmpty()) {
    if (sentence_->is_problem()) sentence_->say({});
  } else {
    sentence_->say_problem(fault);
  }
  make_->setEnabled(now.has_value() && fault.isEmpty());
  if (now && fault.isEmpty()) {
    preview_.ask(now);
  } else {
    preview_.ask(std::nullopt);
    value_->clear();
  }
}

QString DimensionMaker::problem() const {
  const auto now = kind();
  if (!now) return {};
  // Judged by the same rules as the edit itself; the marks have no part in them.
  measure::Dossier trial;
  trial.points = session_->dossier().points;
  trial.dimensions = session_->dossier().dimensions;
  const auto applied = measure::apply(
      measure::AddDimension{{name_->text().trimmed().toStdString(), *now}, std::nullopt}, trial);
  return applied ? QString() : q(applied.error().sentence);
}

void DimensionMaker::show_value(const std::optional<measure::DimensionResult>& result) {
  if (!result) {
    value_->setText(tr("no survey yet"));
  } else if (!result->problem.empty()) {
    value_->setText(tr("no value yet"));
    if (!sentence_->is_problem()) sentence_->say(q(result->problem));
  } else {
    value_->setText(q(measure::result_text(*result, session_->unit())));
  }
}

void DimensionMaker::enter_pressed() {
  const auto at = std::find_if(fields_.begin(), fields_.end(), [this](const PointField* field) {
    return field->edit() == sender();
  });
  if (at != fields_.end() && !(*at)->check()) return;
  if (kind()) {
    make();
    return;
  }
  place_ = next_place();
  if (place_ < fields_.size()) fields_[place_]->setFocus();
}

void DimensionMaker::make() {
  const auto now = kind();
  if (!now) {
    place_ = next_place();
    if (place_ < fields_.size()) fields_[place_]->check();
    follow();
    return;
  }
  if (const QString fault = problem(); !fault.isEmpty()) {
    sentence_->say_problem(fault);
    return;
  }
  const std::string name = name_->text().trimmed().toStdString();
  if (!tolerance_->check()) return;
  measure::AskedDimension asked{name, *now};
  if (!tolerance_->text().isEmpty()) {
    const auto length_mm = typed_length_mm(tolerance_->text(), session_->unit());
    if (length_mm) asked.tolerance_mm = *length_mm;
  }
  const measure::Edit edit = measure::AddDimension{asked, std::nullopt};
  QString refused;
  const auto listening = connect(session_, &DeskSession::refused, this,
                                 [&refused](const QString& sentence) { refused = sentence; });
  const bool done = session_->change(edit);
  disconnect(listening);
  if (!done) {
    sentence_->say_problem(refused);
    return;
  }
  QString said = tr("Made \"%1\".").arg(q(name));
  for (const std::string& warning : measure::warnings_after(edit, session_->dossier())) {
    said += ' ' + q(warning);
  }
  rebuild();
  sentence_->say_done(said);
  if (came_from_) {
    give_focus_back();
  } else {
    fields_.front()->setFocus();
  }
  session_->choose_dimension(name);
  Q_EMIT made(name);
}

void DimensionMaker::give_focus_back() {
  if (came_from_) came_from_->setFocus();
  came_from_ = nullptr;
}

void DimensionMaker::keyPressEvent(QKeyEvent* event) {
  if (event->key() == Qt::Key_Escape) {
    cancel();
    return;
  }
  QFrame::keyPressEvent(event);
}

}  // namespace desk
