// What `scantling calibrate --json` prints.
#pragma once

#include <string>

#include "calib/camera/camera.h"

namespace calib {

/// One line of JSON after schema/calibration.schema.json: parameters {value, u, held}, rms_px,
/// sigma0, photos, board, warnings. What does not exist is null, never NaN.
[[nodiscard]] std::string calibration_json(const Camera& camera);

}  // namespace calib
