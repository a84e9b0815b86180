#include "tools/desk/fields/sentence_label.h"

#include <QEvent>

namespace desk {

SentenceLabel::SentenceLabel(const QString& object_name, QWidget* parent) : QLabel(parent) {
  setObjectName(object_name);
  setWordWrap(true);
  setTextFormat(Qt::PlainText);
  setTextInteractionFlags(Qt::TextSelectableByMouse);
  setVisible(false);
}

void SentenceLabel::say(const QString& sentence) { show_as(Kind::kPlain, sentence); }
void SentenceLabel::say_problem(const QString& sentence) { show_as(Kind::kProblem, sentence); }
void SentenceLabel::say_done(const QString& sentence) { show_as(Kind::kDone, sentence); }

void SentenceLabel::show_as(Kind kind, const QString& sentence) {
  kind_ = sentence.isEmpty() ? Kind::kPlain : kind;
  sentence_ = sentence;
  const QString sign = kind_ == Kind::kProblem ? QStringLiteral("▲ ")
                       : kind_ == Kind::kDone  ? QStringLiteral("✓ ")
                                               : QString();
  setText(sign + sentence);
  colour();
  setVisible(!sentence.isEmpty());
}

void SentenceLabel::changeEvent(QEvent* event) {
  QLabel::changeEvent(event);
  if (event->type() == QEvent::PaletteChange && !colouring_) colour();
}

void SentenceLabel::colour() {
  colouring_ = true;
  // Start from what the parent has, so that a change of the desk's palette is followed.
  QPalette own = parentWidget() ? parentWidget()->palette() : palette();
  const bool dark = own.color(QPalette::Window).lightness() < 128;
  // Vermillion and bluish green of look.h, moved until they stand out from either background.
  if (kind_ == Kind::kProblem) {
    own.setColor(QPalette::WindowText, dark ? QColor(0xFF, 0x9A, 0x5C) : QColor(0xA3, 0x3E, 0x00));
  } else if (kind_ == Kind::kDone) {
    own.setColor(QPalette::WindowText, dark ? QColor(0x4E, 0xD8, 0xAE) : QColor(0x00, 0x6B, 0x4E));
  } else {
    own.setColor(QPalette::WindowText, own.color(QPalette::PlaceholderText));
  }
  setPalette(own);
  colouring_ = false;
}

}  // namespace desk
