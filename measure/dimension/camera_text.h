// A camera's parameters as a person reads them.
#pragma once

#include <string>
#include <vector>

#include "calib/camera/camera.h"

namespace measure {

struct ParameterText {
  std::string name;   ///< "fx"
  std::string value;  ///< "4012.32 ± 0.85 px": ± u, standard; held: the value alone
  bool held = false;  ///< not determined by its calibration
};

/// In the order of calib::IntrinsicIndex.
[[nodiscard]] std::vector<ParameterText> parameter_texts(const calib::Camera& camera);

}  // namespace measure
