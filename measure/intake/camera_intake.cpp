#include "measure/intake/camera_intake.h"

#include <algorithm>
#include <span>
#include <system_error>

#include "calib/board/photo_hash.h"
#include "calib/file/camera_file.h"
#include "measure/edit/name_rules.h"
#include "measure/store/dossier_file.h"

namespace measure {
namespace {

namespace fs = std::filesystem;

calib::Unexpected<calib::Problem> refused(std::string sentence) {
  return calib::Unexpected(calib::Problem{std::move(sentence)});
}

std::string size_text(const calib::ImageSize& size) {
  return std::to_string(size.width) + " x " + std::to_string(size.height);
}

/// The sentence why a camera of this size cannot stand for those photos.
std::optional<std::string> size_problem(const Dossier& dossier, const std::string& name,
                                        const calib::ImageSize& size, const std::string& subject) {
  for (const Photo& photo : dossier.photos) {
    if (photo.camera == name && photo.size != size) {
      return subject + " was calibrated with " + size_text(size) + " pixels, photo " +
             in_quotes(photo.name) + " has another size: give the camera that took it.";
    }
  }
  return std::nullopt;
}

/// A name for a file of this camera: no folders, whatever the camera is called.
std::string file_stem(std::string name) {
  std::replace_if(
      name.begin(), name.end(), [](char c) { return c == '/' || c == '\\' || c == ':'; }, '_');
  if (name.starts_with('.')) name.front() = '_';
  return name;
}

}  // namespace

calib::Result<ChosenCamera, calib::Problem> choose_camera(const fs::path& folder,
                                                          const Dossier& dossier,
                                                          const std::string& name_or_file) {
  std::error_code ignored;
  if (const auto* known = dossier.find_camera(name_or_file);
      known != nullptr && !fs::exists(name_or_file, ignored)) {
    auto camera = calib::read_camera(path_of(folder, known->file));
    if (!camera) return calib::Unexpected(camera.error());
    return ChosenCamera{std::move(*camera), *known, false, std::nullopt};
  }
  auto camera = calib::read_camera(name_or_file);
  if (!camera) return calib::Unexpected(camera.error());
  const auto sha256 = calib::sha256_of_file(name_or_file);
  if (!sha256) return calib::Unexpected(sha256.error());
  const std::string name = camera->name;
  if (const auto* known = dossier.find_camera(name); known != nullptr) {
    if (known->sha256 == *sha256) {
      return ChosenCamera{std::move(*camera), *known, false, std::nullopt};
    }
    return refused("The dossier has another camera file for camera " + in_quotes(name) +
                   ": replace it with "
                   "\"scantling camera replace\", or calibrate with another --name.");
  }
  ChosenCamera chosen;
  std::string file = name_in_dossier(folder, name_or_file);
  if (!is_inside_dossier(file)) {
    file = "cameras/" + fs::path(name_or_file).filename().string();
    chosen.copy = WantedCopy{name_or_file, path_of(folder, file)};
  }
  chosen.camera = std::move(*camera);
  chosen.entry = CameraEntry{name, file, *sha256, CameraUse::kPrior};
  chosen.is_new = true;
  return chosen;
}

calib::Result<CameraEdit, calib::Problem> replace_camera(const fs::path& folder,
                                                         const Dossier& dossier,
                                                         const std::string& camera,
                                                         const fs::path& file) {
  if (dossier.find_camera(camera) == nullptr) {
    return refused("There is no camera " + in_quotes(camera) +
                   " in the dossier: check the name (\"scantling camera list\").");
  }
  const auto read = calib::read_camera(file);
  if (!read) return calib::Unexpected(read.error());
  if (const auto problem = size_problem(dossier, camera, read->image_size, file.string())) {
    return refused(*problem);
  }
  const auto sha256 = calib::sha256_of_file(file);
  if (!sha256) return calib::Unexpected(sha256.error());
  std::string name = name_in_dossier(folder, file);
  std::optional<WantedCopy> copy;
  if (!is_inside_dossier(name)) {
    name = "cameras/" + file.stem().string() + "_" + sha256->substr(0, 8) + ".json";
    copy = WantedCopy{file, path_of(folder, name)};
  }
  return CameraEdit{SetCameraFile{camera, name, *sha256}, copy};
}

calib::Result<Edit, calib::Problem> enter_calibrated_camera(const fs::path& folder,
                                                            const Dossier& dossier,
                                                            const calib::Camera& camera,
                                                            FileCopies& copies) {
  if (const auto problem = name_problem(camera.name, "camera")) return refused(*problem);
  const bool known = dossier.find_camera(camera.name) != nullptr;
  if (known) {
    if (const auto problem = size_problem(dossier, camera.name, camera.image_size,
                                          "Camera " + in_quotes(camera.name))) {
      return refused(*problem);
    }
  }
  const std::string text = calib::camera_text(camera);
  const std::string sha256 = calib::sha256_of_bytes(
      std::span(reinterpret_cast<const unsigned char*>(text.data()), text.size()));
  const std::string stem = "cameras/" + file_stem(camera.name);
  std::string file = stem + ".json";
  std::error_code ignored;
  if (fs::exists(path_of(folder, file), ignored)) file = stem + "_" + sha256.substr(0, 8) + ".json";
  const fs::path path = path_of(folder, file);
  const bool was_there = fs::exists(path, ignored);
  fs::create_directories(path.parent_path(), ignored);  // if that fails, the write says why
  if (const auto written = calib::write_camera(path, camera); !written) {
    return calib::Unexpected(written.error());
  }
  if (!was_there) copies.take_over(path);
  const auto on_disk = calib::sha256_of_file(path);
  if (!on_disk) return calib::Unexpected(on_disk.error());
  if (known) return Edit(SetCameraFile{camera.name, file, *on_disk});
  return Edit(AddCamera{{camera.name, file, *on_disk, CameraUse::kPrior}});
}

}  // namespace measure
