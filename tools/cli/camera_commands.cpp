#include "measure/intake/camera_intake.h"
#include "measure/intake/file_copies.h"
#include "measure/store/dossier_file.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
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
  measure::FileCopies copies;
  auto changed = change_dossier(command.folder, [&](const Dossier& dossier) -> Typed<Edit> {
    const auto replaced =
        measure::replace_camera(command.folder, dossier, command.camera, command.file);
    if (!replaced) {
      return calib::Unexpected(replaced.error());
    }
    if (replaced->copy) {
      if (const auto copied = copies.copy(*replaced->copy); !copied) {
        return calib::Unexpected(copied.error());
      }
    }
    return replaced->edit;
  });
  if (changed) {
    copies.keep();
  }
  return changed;
}

}  // namespace cli
