#include "tools/desk/fields/form.h"

#include <QLabel>
#include <QVBoxLayout>

#include "measure/edit/warnings.h"

namespace desk {

Form::Form(const QString& object_name, const QString& title, const QString& deed, QWidget* parent)
    : QDialog(parent) {
  setObjectName(object_name);
  setWindowTitle(title);
  setModal(false);
  auto* column = new QVBoxLayout(this);
  body_ = new QVBoxLayout;
  column->addLayout(body_, 1);
  sentence_ = new SentenceLabel(object_name + QStringLiteral(".sentence"), this);
  column->addWidget(sentence_);
  auto* buttons = new QHBoxLayout;
  buttons->addStretch(1);
  deed_ = new QPushButton(deed, this);
  deed_->setObjectName(object_name + QStringLiteral(".deed"));
  deed_->setDefault(true);
  auto* close = new QPushButton(tr("Close"), this);
  close->setObjectName(object_name + QStringLiteral(".close"));
  close->setAutoDefault(false);
  close->setToolTip(tr("Close without doing anything  [Esc]"));
  buttons->addWidget(deed_);
  buttons->addWidget(close);
  column->addLayout(buttons);
  connect(deed_, &QPushButton::clicked, this, [this] { act(); });
  connect(close, &QPushButton::clicked, this, &QDialog::reject);
}

QFormLayout* Form::rows() {
  if (!rows_) {
    rows_ = new QFormLayout;
    rows_->setFieldGrowthPolicy(QFormLayout::ExpandingFieldsGrow);
    rows_->setRowWrapPolicy(QFormLayout::DontWrapRows);
    body_->addLayout(rows_);
  }
  return rows_;
}

void Form::add_row(const QString& label, QWidget* field) {
  auto* words = new QLabel(label, this);
  words->setBuddy(field);
  // Level with the line to type in, not with the middle of line and sentence.
  words->setContentsMargins(0, 4, 0, 0);
  words->setAlignment(Qt::AlignTop | Qt::AlignLeft);
  words->setSizePolicy(QSizePolicy::Preferred, QSizePolicy::Expanding);  // else it is centred
  rows()->addRow(words, field);
  if (auto* typed = qobject_cast<TypedField*>(field)) fields_.push_back(typed);
}

bool Form::check_fields() {
  TypedField* first = nullptr;
  for (TypedField* field : fields_) {
    if (!field->check() && !first) first = field;
  }
  if (first) first->setFocus();
  return !first;
}

std::optional<QString> Form::change(DeskSession* session, const measure::Edit& edit) {
  QString refused;
  const auto listening = connect(session, &DeskSession::refused, this,
                                 [&refused](const QString& words) { refused = words; });
  const bool done = session->change(edit);
  disconnect(listening);
  if (!done) {
    sentence_->say_problem(refused);
    return std::nullopt;
  }
  QStringList warnings;
  for (const std::string& warning : measure::warnings_after(edit, session->dossier())) {
    warnings.push_back(QString::fromStdString(warning));
  }
  return warnings.join(' ');
}

}  // namespace desk
