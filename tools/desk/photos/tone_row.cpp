#include "tools/desk/photos/tone_row.h"

#include <QHBoxLayout>
#include <QLabel>
#include <QPushButton>
#include <QSignalBlocker>
#include <QSlider>
#include <cmath>

namespace desk {
namespace {

constexpr int kToneSteps = 100;

}  // namespace

ToneRow::ToneRow(QWidget* parent) : QWidget(parent) {
  auto* line = new QHBoxLayout(this);
  line->setContentsMargins(0, 0, 0, 0);
  const auto slider = [&](const QString& name, const QString& text, const QString& tip, int least) {
    auto* label = new QLabel(text, this);
    auto* made = new QSlider(Qt::Horizontal, this);
    made->setObjectName(name);
    made->setRange(least, kToneSteps);
    made->setPageStep(20);
    made->setToolTip(tip + ' ' + tr("On the screen only: the file is never altered."));
    made->setAccessibleName(text);
    made->setMinimumWidth(60);
    label->setBuddy(made);
    line->addWidget(label);
    line->addWidget(made, 1);
    connect(made, &QSlider::valueChanged, this, [this] {
      set_tone({static_cast<double>(brightness_->value()) / kToneSteps,
                static_cast<double>(contrast_->value()) / kToneSteps,
                static_cast<double>(local_->value()) / kToneSteps});
    });
    return made;
  };
  brightness_ = slider("tone_brightness", tr("Brightness"), tr("Of the middle greys, in per cent."),
                       -kToneSteps);
  contrast_ = slider("tone_contrast", tr("Contrast"), tr("About the middle grey, in per cent."),
                     -kToneSteps);
  local_ = slider("tone_local", tr("Local contrast"),
                  tr("Lights up dark regions and brings out their detail, in per cent."), 0);
  auto* plain = new QPushButton(tr("As it is"), this);
  plain->setObjectName("tone_plain");
  plain->setToolTip(tr("Shows the photo as its file has it"));
  plain->setFocusPolicy(Qt::TabFocus);
  connect(plain, &QPushButton::clicked, this, [this] { set_tone({}); });
  line->addWidget(plain);
}

void ToneRow::set_tone(const Tone& tone) {
  if (tone == tone_) return;
  tone_ = tone;
  for (const auto& [slider, value] : {std::pair(brightness_, tone.brightness),
                                      {contrast_, tone.contrast},
                                      {local_, tone.local}}) {
    const QSignalBlocker silent(slider);
    slider->setValue(static_cast<int>(std::lround(value * kToneSteps)));
  }
  Q_EMIT tone_changed(tone);
}

void ToneRow::brighter() { brightness_->setValue(brightness_->value() + 20); }

void ToneRow::more_local() {
  local_->setValue(local_->value() >= kToneSteps ? 0 : local_->value() + 25);
}

}  // namespace desk
