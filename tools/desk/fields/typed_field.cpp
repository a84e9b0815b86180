#include "tools/desk/fields/typed_field.h"

#include <QVBoxLayout>

namespace desk {

TypedField::TypedField(const QString& object_name, const QString& tip, Judge judge, QWidget* parent)
    : QWidget(parent), judge_(std::move(judge)) {
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(0, 0, 0, 0);
  column->setSpacing(2);
  edit_ = new QLineEdit(this);
  edit_->setObjectName(object_name);
  edit_->setToolTip(tip);
  edit_->setAccessibleDescription(tip);
  sentence_ = new SentenceLabel(object_name + QStringLiteral(".sentence"), this);
  column->addWidget(edit_);
  column->addWidget(sentence_);
  setFocusProxy(edit_);
  connect(edit_, &QLineEdit::textChanged, this, [this] {
    show_reading(false);
    Q_EMIT changed();
  });
}

bool TypedField::check() {
  show_reading(true);
  return !sentence_->is_problem();
}

void TypedField::judge_again() { show_reading(sentence_->is_problem()); }

void TypedField::show_reading(bool also_when_empty) {
  if (text().isEmpty() && !also_when_empty) {
    sentence_->say({});
    return;
  }
  const auto reading = judge_(text());
  if (reading) {
    sentence_->say(*reading);
  } else {
    sentence_->say_problem(reading.error());
  }
}

}  // namespace desk
