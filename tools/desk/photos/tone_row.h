// Brightness, contrast and local contrast, set by hand.
#pragma once

#include <QWidget>

#include "tools/desk/photos/tone.h"

class QSlider;

namespace desk {

/// Three sliders and a button back to the photo as its file has it.
class ToneRow : public QWidget {
  Q_OBJECT
 public:
  explicit ToneRow(QWidget* parent = nullptr);

  [[nodiscard]] const Tone& tone() const { return tone_; }
  void set_tone(const Tone& tone);
  // What keys do.
  void brighter();
  void more_local();  ///< beyond the most: none again

 Q_SIGNALS:
  void tone_changed(const desk::Tone& tone);

 private:
  QSlider *brightness_, *contrast_, *local_;
  Tone tone_;
};

}  // namespace desk
