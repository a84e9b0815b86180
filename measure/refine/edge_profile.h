// Inside the room: the profile of a blurred edge after the camera's grey curve.
#pragma once

#include <array>

#include "measure/refine/photo_window.h"

namespace measure {

/// Φ(x) of the standard normal distribution, and its density.
struct NormalValue {
  double part = 0.0;
  double density = 0.0;
};
[[nodiscard]] NormalValue normal_at(double x);

/// From the part of a pixel's light that comes from inside a shape to the part of the grey step:
/// N(0) = 0, N(1) = 1, bent between by the grey curve. The more the light of both sides differs,
/// the stronger.
class EdgeProfile {
 public:
  /// @param outside, inside  grey values of 255; clamped to 2 … 255.
  EdgeProfile(double outside, double inside, double exponent);

  struct Value {
    double part, slope;
  };
  [[nodiscard]] Value at(double light_part) const;

 private:
  static constexpr int kSteps = 64;
  std::array<double, kSteps + 2> node_{};
};

}  // namespace measure
