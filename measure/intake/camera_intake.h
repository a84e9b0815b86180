// A camera file on its way into a dossier.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/camera/camera.h"
#include "measure/dossier/dossier.h"
#include "measure/edit/edit.h"
#include "measure/intake/file_copies.h"

namespace measure {

/// The camera that photos were taken with: known to the dossier, or to be added to it.
struct ChosenCamera {
  calib::Camera camera;
  CameraEntry entry;
  bool is_new = false;             ///< an AddCamera of `entry` is needed
  std::optional<WantedCopy> copy;  ///< before that edit
};

/// @param name_or_file  of a camera of the dossier, or a camera file; a file that exists wins.
///
/// Errors: a Problem (kInput) if the file cannot be read, or the dossier has another file for a
/// camera of that name.
[[nodiscard]] calib::Result<ChosenCamera, calib::Problem> choose_camera(
    const std::filesystem::path& folder, const Dossier& dossier, const std::string& name_or_file);

/// An edit about a camera, and the copy it needs first.
struct CameraEdit {
  Edit edit;
  std::optional<WantedCopy> copy;
};

/// The same camera, calibrated anew: its file replaced. The copy has a name of its own, so that
/// results of the old calibration can still be traced to their file.
///
/// Errors: a Problem (kInput) if there is no such camera, the file cannot be read, or a photo of
/// that camera has another size.
[[nodiscard]] calib::Result<CameraEdit, calib::Problem> replace_camera(
    const std::filesystem::path& folder, const Dossier& dossier, const std::string& camera,
    const std::filesystem::path& file);

/// Writes a camera that was calibrated just now into the dossier's cameras/, under a name that is
/// free there; `copies` takes the file back unless it is kept. Adds the camera, or replaces the
/// file of the one that has its name.
///
/// Errors: a Problem (kInput) if the name cannot be used, the disk does not take the file, or a
/// photo of the camera to be replaced has another size.
[[nodiscard]] calib::Result<Edit, calib::Problem> enter_calibrated_camera(
    const std::filesystem::path& folder, const Dossier& dossier, const calib::Camera& camera,
    FileCopies& copies);

}  // namespace measure
