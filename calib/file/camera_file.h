// The camera file: one calibrated camera with everything that a later measurement needs to believe
// it.
#pragma once

#include <filesystem>
#include <string>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/camera/camera.h"

namespace calib {

/// Reads a camera file (schema/camera.schema.json).
///
/// Errors: a Problem (kInput) naming file, item and remedy if the file is missing, cut short, of a
/// newer major
///         version, or holds what no camera has: a focal length or image size of 0, a standard
///         deviation that is not above 0, a correlation matrix that is not symmetrical, positive
///         semi-definite and 1 on its diagonal, a number that is not finite. Keys of a newer minor
///         version are kept in unknown_keys.
[[nodiscard]] Result<Camera, Problem> read_camera(const std::filesystem::path& file);

/// Writes it whole or not at all (atomic_write).
///
/// Errors: a Problem (kInput) if the disk does not take it; (kOurs) if the camera breaks a rule of
/// read_camera.
[[nodiscard]] Result<Done, Problem> write_camera(const std::filesystem::path& file,
                                                 const Camera& camera);

/// The text that write_camera writes.
[[nodiscard]] std::string camera_text(const Camera& camera);

}  // namespace calib
