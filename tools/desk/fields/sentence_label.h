// One sentence for the person, beside what it is about.
#pragma once

#include <QLabel>

namespace desk {

/// Empty: takes no room. A problem has a sign before it, so that it does not rest on its colour.
class SentenceLabel : public QLabel {
  Q_OBJECT
 public:
  explicit SentenceLabel(const QString& object_name, QWidget* parent = nullptr);

  void say(const QString& sentence);  ///< how something was read, what happens next
  void say_problem(const QString& sentence);
  void say_done(const QString& sentence);
  [[nodiscard]] bool is_problem() const { return kind_ == Kind::kProblem; }
  /// Without the sign.
  [[nodiscard]] QString sentence() const { return sentence_; }

 protected:
  void changeEvent(QEvent* event) override;

 private:
  enum class Kind { kPlain, kProblem, kDone };
  void show_as(Kind kind, const QString& sentence);
  void colour();

  Kind kind_ = Kind::kPlain;
  QString sentence_;
  bool colouring_ = false;
};

}  // namespace desk
