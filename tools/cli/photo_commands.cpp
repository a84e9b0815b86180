#include <filesystem>
#include <map>
#include <optional>
#include <system_error>

#include "calib/board/exif.h"
#include "calib/board/judge_set.h"
#include "calib/board/photo_file.h"
#include "calib/board/photo_hash.h"
#include "calib/file/camera_file.h"
#include "measure/edit/apply.h"
#include "measure/edit/name_rules.h"
#include "measure/store/dossier_file.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/file_copies.h"
#include "tools/cli/table.h"
#include "tools/cli/typed.h"

namespace cli {
namespace {

namespace fs = std::filesystem;
using calib::Problem;
using measure::Dossier;
using measure::Edit;
using measure::in_quotes;

/// The camera that the photos were taken with: known to the dossier, or to be added to it.
struct ChosenCamera {
  std::string name;
  calib::Camera camera;
  std::optional<measure::CameraEntry> added;
};

class Adding {
 public:
  Adding(const PhotoAdd& command, const Dossier& dossier) : command_(command), dossier_(dossier) {}

  [[nodiscard]] Typed<Edit> edit() {
    if (!command_.name.empty() && command_.photos.size() != 1) {
      return refused("--name is for one photo: add the photos one by one, or without it.");
    }
    const auto chosen = choose_camera();
    if (!chosen) {
      return calib::Unexpected(chosen.error());
    }
    measure::EditGroup group;
    if (chosen->added) {
      group.edits.push_back(measure::AddCamera{*chosen->added});
    }
    Progress progress;
    for (std::size_t i = 0; i < command_.photos.size(); ++i) {
      progress.show(static_cast<double>(i) / static_cast<double>(command_.photos.size()),
                    command_.photos[i]);
      auto photo = photo_of(command_.photos[i], *chosen);
      if (!photo) {
        return calib::Unexpected(photo.error());
      }
      group.edits.push_back(measure::AddPhoto{std::move(*photo)});
    }
    // Tried before anything is copied, so that most mistakes cost no copy.
    Dossier trial = dossier_;
    if (const auto applied = measure::apply(Edit(group), trial); !applied) {
      return calib::Unexpected(applied.error());
    }
    if (auto copied = copy_files(); !copied) {
      return calib::Unexpected(copied.error());
    }
    return Edit(std::move(group));
  }

  void keep() { copies_.keep(); }
  [[nodiscard]] const std::vector<std::string>& doubts() const { return doubts_; }

 private:
  [[nodiscard]] Typed<ChosenCamera> choose_camera() {
    std::error_code ignored;
    if (const auto* known = dossier_.find_camera(command_.camera); known != nullptr) {
      if (!fs::exists(command_.camera, ignored)) {
        return use_known(*known);
      }
    }
    auto camera = calib::read_camera(command_.camera);
    if (!camera) {
      return calib::Unexpected(camera.error());
    }
    const auto sha256 = calib::sha256_of_file(command_.camera);
    if (!sha256) {
      return calib::Unexpected(sha256.error());
    }
    const std::string name = camera->name;
    if (const auto* known = dossier_.find_camera(name); known != nullptr) {
      if (known->sha256 == *sha256) {
        return ChosenCamera{name, std::move(*camera), std::nullopt};
      }
      return refused("The dossier has another camera file for camera " + in_quotes(name) +
                     ": replace it with " +
                     "\"scantling camera replace\", or calibrate with another --name.");
    }
    std::string file = measure::name_in_dossier(command_.folder, command_.camera);
    if (!measure::is_inside_dossier(file)) {
      file = "cameras/" + fs::path(command_.camera).filename().string();
      wanted_copies_.emplace_back(command_.camera, measure::path_of(command_.folder, file));
    }
    measure::CameraEntry entry{name, file, *sha256, measure::CameraUse::kPrior};
    return ChosenCamera{name, std::move(*camera), std::move(entry)};
  }

  [[nodiscard]] Typed<ChosenCamera> use_known(const measure::CameraEntry& known) const {
    auto camera = calib::read_camera(measure::path_of(command_.folder, known.file));
    if (!camera) {
      return calib::Unexpected(camera.error());
    }
    return ChosenCamera{known.name, std::move(*camera), std::nullopt};
  }

  [[nodiscard]] Typed<measure::Photo> photo_of(const std::string& file,
                                               const ChosenCamera& chosen) {
    const auto pixels = calib::read_grey_photo(file);
    if (!pixels) {
      return calib::Unexpected(pixels.error());
    }
    const calib::PhotoExif exif = calib::read_exif(file);
    measure::Photo photo;
    photo.name = command_.name.empty() ? fs::path(file).filename().string() : command_.name;
    photo.sha256 = pixels->sha256;
    photo.size = pixels->size();
    photo.camera = chosen.name;
    photo.exif_orientation = exif.orientation;
    photo.epoch = command_.epoch;
    photo.file = measure::name_in_dossier(command_.folder, file);
    if (command_.copy && !measure::is_inside_dossier(photo.file)) {
      photo.file = "photos/" + fs::path(file).filename().string();
      wanted_copies_.emplace_back(file, measure::path_of(command_.folder, photo.file));
    }
    const calib::ImageSize& size = chosen.camera.image_size;
    if (photo.size != size) {
      return refused(
          file + " has " + size_text(photo.size) + " pixels, camera " + in_quotes(chosen.name) +
          " was calibrated with " + size_text(size) +
          ": give the camera that took it, and photos that were never scaled or cropped.");
    }
    const std::vector<calib::PhotoCamera> both = {{"the calibration", chosen.camera.lens_and_body},
                                                  {file, exif.lens_and_body}};
    if (const auto mixed = calib::mixed_cameras(both)) {
      doubts_.push_back(mixed->sentence);
    }
    return photo;
  }

  [[nodiscard]] Outcome copy_files() {
    for (const auto& [from, to] : wanted_copies_) {
      if (auto copied = copies_.copy(from, to); !copied) {
        return copied;
      }
    }
    return calib::Done{};
  }

  static std::string size_text(const calib::ImageSize& size) {
    return std::to_string(size.width) + " x " + std::to_string(size.height);
  }

  const PhotoAdd& command_;
  const Dossier& dossier_;
  std::vector<std::pair<fs::path, fs::path>> wanted_copies_;
  std::vector<std::string> doubts_;
  FileCopies copies_;
};

}  // namespace

Outcome run(const PhotoAdd& command) {
  // Lives until the dossier is saved: what was copied is taken back if it could not be.
  std::optional<Adding> adding;
  Dossier before;
  auto changed = change_dossier(command.folder, [&](const Dossier& dossier) {
    before = dossier;
    return adding.emplace(command, before).edit();
  });
  if (!changed) {
    return changed;
  }
  adding->keep();
  for (const std::string& sentence : adding->doubts()) {
    warn(sentence);
  }
  say("Added " + count_of(command.photos.size(), "photo") + ".");
  return changed;
}

Outcome run(const PhotoList& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  std::map<std::string, int> marks;
  for (const measure::Mark& mark : dossier->marks) {
    ++marks[mark.photo];
  }
  Table table({"photo", "camera", "pixels", "EXIF turn", "marks", "epoch", "file"},
              {Align::kLeft, Align::kLeft, Align::kRight, Align::kRight, Align::kRight,
               Align::kLeft, Align::kLeft});
  for (const measure::Photo& photo : dossier->photos) {
    table.add({photo.name, photo.camera,
               std::to_string(photo.size.width) + " x " + std::to_string(photo.size.height),
               std::to_string(photo.exif_orientation), std::to_string(marks[photo.name]),
               photo.epoch.empty() ? "as visited" : photo.epoch, photo.file});
  }
  say(table.text());
  return calib::Done{};
}

Outcome run(const PhotoRemove& command) {
  measure::EditGroup group;
  for (const std::string& photo : command.photos) {
    group.edits.push_back(measure::RemovePhoto{photo});
  }
  return change_dossier(command.folder, group);
}

}  // namespace cli
