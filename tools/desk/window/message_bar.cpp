#include "tools/desk/window/message_bar.h"

#include <QHBoxLayout>
#include <QPalette>
#include <QToolButton>

#include "tools/desk/look/look.h"

namespace desk {
namespace {

constexpr int kNoteMs = 6000, kRefusedMs = 20000;

}  // namespace

MessageBar::MessageBar(QWidget* parent) : QFrame(parent), words_(new QLabel) {
  setObjectName("message");
  setFrameShape(QFrame::StyledPanel);
  setAutoFillBackground(true);
  words_->setWordWrap(true);
  words_->setObjectName("message.words");
  words_->setTextInteractionFlags(Qt::TextSelectableByMouse | Qt::TextSelectableByKeyboard);
  auto* away = new QToolButton;
  away->setText(tr("Dismiss"));
  away->setObjectName("message.dismiss");
  auto* row = new QHBoxLayout(this);
  row->setContentsMargins(10, 4, 6, 4);
  row->addWidget(words_, 1);
  row->addWidget(away);
  connect(away, &QToolButton::clicked, this, &QWidget::hide);
  going_.setSingleShot(true);
  connect(&going_, &QTimer::timeout, this, &QWidget::hide);
  hide();
}

void MessageBar::say(const QString& sentence, Kind kind) {
  words_->setText(sentence);
  setAccessibleName(sentence);
  QPalette colours = QWidget::palette();
  const QColor base = kind == Kind::kNote ? kGoodColour : kWeakColour;
  const QColor window = parentWidget() ? parentWidget()->palette().color(QPalette::Window)
                                       : colours.color(QPalette::Window);
  const auto mixed = [&](int a, int b) { return (a + 3 * b) / 4; };
  colours.setColor(QPalette::Window,
                   QColor(mixed(base.red(), window.red()), mixed(base.green(), window.green()),
                          mixed(base.blue(), window.blue())));
  setPalette(colours);
  show();
  if (kind == Kind::kStanding) {
    going_.stop();
  } else {
    going_.start(kind == Kind::kNote ? kNoteMs : kRefusedMs);
  }
}

}  // namespace desk
