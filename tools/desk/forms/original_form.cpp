#include "tools/desk/forms/original_form.h"

#include "measure/edit/name_rules.h"

namespace desk {

OriginalForm::OriginalForm(DeskSession* session, QWidget* parent)
    : Form(QStringLiteral("original"), tr("The original"), tr("Set"), parent),
      session_(session),
      scales_(QStringLiteral("original")) {
  name_ = new TypedField(
      QStringLiteral("original.name"), tr("Of the original, as sheets will name it"),
      [](const QString& text) -> calib::Result<QString, QString> {
        const auto problem = measure::name_problem(text.toStdString(), "dossier");
        if (problem) return calib::Unexpected(QString::fromStdString(*problem));
        return QString();
      },
      this);
  temperature_ = new UncertainField(
      QStringLiteral("original.temperature"),
      tr("Of the original on the day: lengths are reported as found at it"), tr("°C"), 1.0, this);
  expansion_ = new UncertainField(
      QStringLiteral("original.expansion"),
      tr("Linear expansion of the original's material, in 10⁻⁶ per K: steel is about 11.5 (common "
         "practice, no source)"),
      tr("· 10⁻⁶ per K"), 1e-6, this);
  add_row(tr("Name"), name_);
  add_row(tr("Original to full size"), scales_.original);
  add_row(tr("Replicas"), scales_.replicas);
  add_row(tr("Temperature"), temperature_);
  add_row(tr("Expansion"), expansion_);
  connect(session, &DeskSession::dossier_changed, this, [this](const measure::Edit& edit) {
    const bool is_mine = std::holds_alternative<measure::SetScales>(edit.what) ||
                         std::holds_alternative<measure::SetDossierName>(edit.what) ||
                         std::holds_alternative<measure::SetTemperature>(edit.what) ||
                         std::holds_alternative<measure::SetExpansion>(edit.what) ||
                         std::holds_alternative<measure::EditGroup>(edit.what);
    if (is_mine) show_dossier();
  });
  show_dossier();
  resize(560, sizeHint().height());
}

void OriginalForm::show_dossier() {
  const measure::Dossier& dossier = session_->dossier();
  name_->set_text(QString::fromStdString(dossier.name));
  scales_.set_scales(dossier.model_scale, dossier.replica_scales);
  temperature_->set_value(dossier.temperature_C);
  expansion_->set_value(dossier.expansion_per_K);
}

void OriginalForm::act() {
  if (!check_fields()) return;
  const measure::Dossier& dossier = session_->dossier();
  measure::EditGroup group;
  const std::string name = name_->text().toStdString();
  if (name != dossier.name) group.edits.push_back(measure::SetDossierName{name});
  const measure::SetScales scales = scales_.scales();
  if (scales.model_scale != dossier.model_scale ||
      scales.replica_scales != dossier.replica_scales) {
    group.edits.push_back(scales);
  }
  if (temperature_->value() != dossier.temperature_C) {
    group.edits.push_back(measure::SetTemperature{temperature_->value()});
  }
  if (expansion_->value() != dossier.expansion_per_K) {
    group.edits.push_back(measure::SetExpansion{expansion_->value()});
  }
  if (group.edits.empty()) {
    sentence()->say(tr("Nothing is different."));
    return;
  }
  if (const auto warnings = change(session_, group)) {
    sentence()->say_done(warnings->isEmpty() ? tr("Set.") : tr("Set. ") + *warnings);
  }
}

}  // namespace desk
