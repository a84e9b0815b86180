// A line to type in, with the sentence how it was read or why it cannot be.
#pragma once

#include <QLineEdit>
#include <QWidget>
#include <functional>

#include "calib/base/result.h"
#include "tools/desk/fields/sentence_label.h"

namespace desk {

class TypedField : public QWidget {
  Q_OBJECT
 public:
  /// How the text reads ("= 300.04 mm", may be empty), or the sentence what is wrong with it.
  using Judge = std::function<calib::Result<QString, QString>(const QString& text)>;

  TypedField(const QString& object_name, const QString& tip, Judge judge,
             QWidget* parent = nullptr);

  [[nodiscard]] QLineEdit* edit() const { return edit_; }
  [[nodiscard]] QString text() const { return edit_->text().trimmed(); }
  void set_text(const QString& text) { edit_->setText(text); }
  /// Whether the text can be used now; where not, the sentence is shown from here on.
  bool check();
  /// Judges again what stands there, because something else has changed.
  void judge_again();

 Q_SIGNALS:
  void changed();

 private:
  void show_reading(bool also_when_empty);

  Judge judge_;
  QLineEdit* edit_;
  SentenceLabel* sentence_;
};

}  // namespace desk
