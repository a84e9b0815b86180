#include "measure/dimension/camera_text.h"

#include <cmath>
#include <cstdio>

#include "measure/dimension/quantity_text.h"

namespace measure {

std::vector<ParameterText> parameter_texts(const calib::Camera& camera) {
  std::vector<ParameterText> texts;
  const calib::IntrinsicVector values = camera.intrinsics.vector();
  for (int i = 0; i < calib::kIntrinsicCount; ++i) {
    const auto at = static_cast<std::size_t>(i);
    const bool in_pixels = i <= calib::kCy;
    ParameterText text{std::string(calib::kIntrinsicNames[at]), {}, camera.held[at]};
    if (text.held) {
      char digits[64];
      std::snprintf(digits, sizeof digits, "%.*f", in_pixels ? 3 : 6, values[i]);
      text.value = digits;
    } else {
      text.value = plain_text(values[i], std::sqrt(camera.covariance(i, i))).joined();
    }
    if (in_pixels) text.value += " px";
    texts.push_back(std::move(text));
  }
  return texts;
}

}  // namespace measure
