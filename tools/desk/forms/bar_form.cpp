#include "tools/desk/forms/bar_form.h"

#include <QEvent>

#include "measure/edit/name_rules.h"
#include "tools/desk/fields/typed_value.h"
#include "tools/desk/forms/proposed_name.h"

namespace desk {
namespace {

enum class Need { kNeeded, kOptional };

TypedField::Judge length_judge(DeskSession* session, Need need, bool may_be_zero) {
  return [=](const QString& text) -> calib::Result<QString, QString> {
    if (text.isEmpty()) {
      if (need == Need::kOptional) return QString();
      return calib::Unexpected(
          BarForm::tr("A length is needed, with its unit: 300.02 mm, 11 13/16 in, 3/8\"."));
    }
    const auto length = typed_length_mm(text, session->unit());
    if (!length) return calib::Unexpected(length.error());
    if (*length < 0 || (*length == 0 && !may_be_zero)) {
      return calib::Unexpected(BarForm::tr("It must be more than 0."));
    }
    return length_reading(*length, session->unit());
  };
}

double length_of(const TypedField* field, const DeskSession* session) {
  if (field->text().isEmpty()) return 0.0;
  const auto length = typed_length_mm(field->text(), session->unit());
  return length ? *length : 0.0;
}

}  // namespace

BarForm::BarForm(DeskSession* session, QWidget* parent)
    : Form(QStringLiteral("bar_form"), tr("Scale bar or check length"), tr("Add"), parent),
      session_(session) {
  from_ = new PointField(session, QStringLiteral("bar_form.from"),
                         tr("The point at one end: pick it in any view, or type its name"), false,
                         this);
  to_ = new PointField(session, QStringLiteral("bar_form.to"),
                       tr("The point at the other end: pick it in any view, or type its name"),
                       false, this);
  next_ = from_;
  name_ = new TypedField(
      QStringLiteral("bar_form.name"), tr("Of the bar, as it is written on it or in its papers"),
      [](const QString& text) -> calib::Result<QString, QString> {
        const auto problem = measure::name_problem(text.toStdString(), "scale bar");
        if (problem) return calib::Unexpected(QString::fromStdString(*problem));
        return QString();
      },
      this);
  length_ = new TypedField(QStringLiteral("bar_form.length"),
                           tr("From its certificate: with unit, decimals or fractions of inches"),
                           length_judge(session, Need::kNeeded, false), this);
  length_->edit()->setPlaceholderText(tr("300.02 mm, 11 13/16 in"));
  u_own_ = new TypedField(QStringLiteral("bar_form.u_own"),
                          tr("Standard uncertainty of this bar alone (half of a U with k = 2)"),
                          length_judge(session, Need::kNeeded, true), this);
  u_own_->edit()->setPlaceholderText(tr("0.02 mm"));
  u_common_ = new TypedField(
      QStringLiteral("bar_form.u_common"),
      tr("Standard uncertainty that all bars of the same certificate share; empty: none"),
      length_judge(session, Need::kOptional, true), this);
  certificate_ = new TypedField(
      QStringLiteral("bar_form.certificate"), tr("Its number; empty: none"),
      [this](const QString& text) -> calib::Result<QString, QString> {
        if (text.isEmpty() && length_of(u_common_, session_) > 0) {
          return calib::Unexpected(
              tr("Bars share an uncertainty through their certificate: give its number, or leave "
                 "the common u empty."));
        }
        return QString();
      },
      this);
  temperature_ = new UncertainField(QStringLiteral("bar_form.temperature"),
                                    tr("Of the bar on the day"), tr("°C"), 1.0, this);
  expansion_ = new UncertainField(
      QStringLiteral("bar_form.expansion"),
      tr("Of the bar's material; the length then holds at 20 °C. Steel is about 11.5 (common "
         "practice, no source)"),
      tr("· 10⁻⁶ per K"), 1e-6, this);
  check_only_ = new QCheckBox(tr("Check only: never used in the solution"), this);
  check_only_->setObjectName(QStringLiteral("bar_form.check_only"));
  check_only_->setToolTip(
      tr("A check length shows whether the survey is right; a scale bar makes it so"));
  add_row(tr("From"), from_);
  add_row(tr("To"), to_);
  add_row(tr("Name"), name_);
  add_row(tr("Length"), length_);
  add_row(tr("u, its own"), u_own_);
  add_row(tr("u, common"), u_common_);
  add_row(tr("Certificate"), certificate_);
  add_row(tr("Temperature"), temperature_);
  add_row(tr("Expansion"), expansion_);
  rows()->addRow(QString(), check_only_);
  from_->edit()->installEventFilter(this);
  to_->edit()->installEventFilter(this);
  connect(session, &DeskSession::point_picked, this, [this](const std::string& point) {
    if (isVisible()) take(point);
  });
  connect(session, &DeskSession::unit_changed, this, [this] {
    for (TypedField* field : {length_, u_own_, u_common_}) field->judge_again();
  });
  begin();
  resize(560, sizeHint().height());
}

void BarForm::begin() {
  for (TypedField* field : std::initializer_list<TypedField*>{
           from_, to_, length_, u_own_, u_common_, certificate_, temperature_, expansion_}) {
    field->set_text({});
  }
  check_only_->setChecked(false);
  name_->set_text(proposed_bar_name(session_->dossier()));
  sentence()->say(tr("Pick both ends in any view, or type their names."));
  next_ = from_;
  from_->setFocus();
}

bool BarForm::eventFilter(QObject* watched, QEvent* event) {
  if (event->type() == QEvent::FocusIn) {
    if (watched == from_->edit()) next_ = from_;
    if (watched == to_->edit()) next_ = to_;
  }
  return Form::eventFilter(watched, event);
}

void BarForm::take(const std::string& point) {
  next_->set_text(QString::fromStdString(point));
  next_ = next_ == from_ ? to_ : from_;
}

measure::ScaleBar BarForm::bar() const {
  measure::ScaleBar bar;
  bar.name = name_->text().toStdString();
  bar.from = from_->point();
  bar.to = to_->point();
  bar.length_mm = length_of(length_, session_);
  bar.u_own_mm = length_of(u_own_, session_);
  bar.u_common_mm = length_of(u_common_, session_);
  bar.certificate = certificate_->text().toStdString();
  bar.temperature_C = temperature_->value();
  bar.expansion_per_K = expansion_->value();
  bar.check_only = check_only_->isChecked();
  return bar;
}

void BarForm::act() {
  if (!check_fields()) return;
  const measure::ScaleBar added = bar();
  const auto warnings = change(session_, measure::AddBar{added});
  if (!warnings) return;
  begin();
  sentence()->say_done(
      (tr("Added \"%1\". ").arg(QString::fromStdString(added.name)) + *warnings).trimmed());
  Q_EMIT made(added.name);
}

}  // namespace desk
