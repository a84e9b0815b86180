#include "calib/board/photo_hash.h"
#include "calib/file/camera_file.h"
#include "measure/edit/name_rules.h"
#include "measure/store/dossier_file.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/file_copies.h"
#include "tools/cli/table.h"
#include "tools/cli/typed.h"

namespace cli {
namespace {

using measure::CameraUse;
using measure::Dossier;
using measure::Edit;

std::string use_word(CameraUse use) {
  switch (use) {
    case CameraUse::kFixed:
      return "fixed";
    case CameraUse::kPrior:
      return "prior";
    case CameraUse::kSelfCalibrated:
      return "self";
  }
  return "";
}

CameraUse use_of(const std::string& word) {
  return word == "fixed"  ? CameraUse::kFixed
         : word == "self" ? CameraUse::kSelfCalibrated
                          : CameraUse::kPrior;
}

}  // namespace

Outcome run(const CameraList& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  Table table({"camera", "use", "file"});
  for (const measure::CameraEntry& camera : dossier->cameras) {
    table.add({camera.name, use_word(camera.use), camera.file});
  }
  say(table.text());
  return calib::Done{};
}

Outcome run(const CameraSetUse& command) {
  return change_dossier(command.folder, measure::SetCameraUse{command.camera, use_of(command.use)});
}

Outcome run(const CameraReplace& command) {
  FileCopies copies;
  auto changed = change_dossier(command.folder, [&](const Dossier& dossier) -> Typed<Edit> {
    const measure::CameraEntry* entry = dossier.find_camera(command.camera);
    const std::string in_words = measure::in_quotes(command.camera);
    if (entry == nullptr) {
      return refused("There is no camera " + in_words +
                     " in the dossier: check the name (\"scantling camera list\").");
    }
    const auto camera = calib::read_camera(command.file);
    if (!camera) {
      return calib::Unexpected(camera.error());
    }
    for (const measure::Photo& photo : dossier.photos) {
      if (photo.camera == command.camera && photo.size != camera->image_size) {
        return refused(
            command.file + " was calibrated with " + std::to_string(camera->image_size.width) +
            " x " + std::to_string(camera->image_size.height) + " pixels, photo " +
            measure::in_quotes(photo.name) + " has another size: give the camera that took it.");
      }
    }
    std::string file = measure::name_in_dossier(command.folder, command.file);
    if (!measure::is_inside_dossier(file)) {
      // A copy with a name of its own: results of the old calibration can still be traced to its
      // file.
      const auto sha256 = calib::sha256_of_file(command.file);
      if (!sha256) {
        return calib::Unexpected(sha256.error());
      }
      file = "cameras/" + std::filesystem::path(command.file).stem().string() + "_" +
             sha256->substr(0, 8) + ".json";
      if (const auto copied = copies.copy(command.file, measure::path_of(command.folder, file));
          !copied) {
        return calib::Unexpected(copied.error());
      }
    }
    const auto sha256 = calib::sha256_of_file(measure::path_of(command.folder, file));
    if (!sha256) {
      return calib::Unexpected(sha256.error());
    }
    return Edit(measure::SetCameraFile{command.camera, file, *sha256});
  });
  if (changed) {
    copies.keep();
  }
  return changed;
}

}  // namespace cli
