// Dark photographs made readable on the screen. Nothing of it reaches a file or a measurement.
#pragma once

#include <QImage>

#include <opencv2/core/mat.hpp>

#include "tools/desk/photos/view_map.h"

namespace desk {

/// What a person sets; all 0: the photograph as it is.
struct Tone {
  double brightness = 0.0;  ///< −1 … 1: the middle greys darker or lighter; black and white stay
  double contrast = 0.0;    ///< −1 … 1: about the middle grey
  double local = 0.0;       ///< 0 … 1: lights up dark regions and brings out their detail
  friend bool operator==(const Tone&, const Tone&) = default;
  [[nodiscard]] bool is_neutral() const { return *this == Tone{}; }
};

/// How light each region of one photo is and how much lighter it should be: computed once from a
/// small picture of it, the same wherever a part of the photo is shown, so that nothing flickers
/// while panning and neighbouring parts agree.
class LocalLight {
 public:
  LocalLight() = default;
  /// @param small  the photo, reduced; its thumbnail will do
  /// @param photo  full size
  LocalLight(const QImage& small, const QSize& photo);

  [[nodiscard]] bool is_null() const { return light_.empty(); }

 private:
  friend void apply_tone(QImage& image, const ViewMap& view, const Tone& tone,
                         const LocalLight& light);
  cv::Mat light_;  // CV_32FC2: blurred luminance 0 … 1, and the factor on it at full strength
  QSize photo_;
};

/// Changes the pixels of a view of a photo.
/// @param image  Format_RGB32 or Format_ARGB32_Premultiplied; its transparent places stay so
/// @param view   where the photo lies in it
void apply_tone(QImage& image, const ViewMap& view, const Tone& tone, const LocalLight& light = {});

}  // namespace desk
