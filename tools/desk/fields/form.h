// A form that never stands in the way: a window or a panel of its own, with one sentence at its
// foot.
#pragma once

#include <QDialog>
#include <QFormLayout>
#include <QHBoxLayout>
#include <QPushButton>
#include <optional>
#include <vector>

#include "tools/desk/fields/sentence_label.h"
#include "tools/desk/fields/typed_field.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

/// Not modal. Enter does what the form is for; Escape closes it.
class Form : public QDialog {
  Q_OBJECT
 public:
  /// @param deed  on the button: "Make the dossier".
  Form(const QString& object_name, const QString& title, const QString& deed,
       QWidget* parent = nullptr);

  [[nodiscard]] SentenceLabel* sentence() const { return sentence_; }
  [[nodiscard]] QPushButton* deed() const { return deed_; }

 protected:
  /// What stands above the sentence and the buttons.
  [[nodiscard]] QVBoxLayout* body() const { return body_; }
  /// Rows of label and field, made at the first call, at the end of the body.
  [[nodiscard]] QFormLayout* rows();
  void add_row(const QString& label, QWidget* field);
  /// Checks every typed field; the first one that cannot be used gets the focus.
  bool check_fields();
  /// Makes the edit. Refused: nothing, and the sentence at the foot says why. Done: what is allowed
  /// but probably not meant, in one text; mostly empty.
  std::optional<QString> change(DeskSession* session, const measure::Edit& edit);
  /// The deed's button or Enter.
  virtual void act() = 0;

 private:
  QVBoxLayout* body_;
  QFormLayout* rows_ = nullptr;
  SentenceLabel* sentence_;
  QPushButton* deed_;
  std::vector<TypedField*> fields_;
};

}  // namespace desk
