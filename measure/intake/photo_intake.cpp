#include "measure/intake/photo_intake.h"

#include <vector>

#include "calib/board/exif.h"
#include "calib/board/judge_set.h"
#include "calib/board/photo_file.h"
#include "measure/edit/name_rules.h"
#include "measure/store/dossier_file.h"

namespace measure {
namespace {

std::string size_text(const calib::ImageSize& size) {
  return std::to_string(size.width) + " x " + std::to_string(size.height);
}

}  // namespace

calib::Result<TakenInPhoto, calib::Problem> take_in_photo(const std::filesystem::path& folder,
                                                          const std::filesystem::path& file,
                                                          const CameraEntry& entry,
                                                          const calib::Camera& camera,
                                                          const PhotoIntakeOptions& options) {
  const auto pixels = calib::read_grey_photo(file);
  if (!pixels) return calib::Unexpected(pixels.error());
  const calib::PhotoExif exif = calib::read_exif(file);
  TakenInPhoto taken;
  Photo& photo = taken.photo;
  photo.name = options.name.empty() ? file.filename().string() : options.name;
  photo.sha256 = pixels->sha256;
  photo.size = pixels->size();
  photo.camera = entry.name;
  photo.exif_orientation = exif.orientation;
  photo.epoch = options.epoch;
  photo.file = name_in_dossier(folder, file);
  if (options.copy && !is_inside_dossier(photo.file)) {
    photo.file = "photos/" + file.filename().string();
    taken.copy = WantedCopy{file, path_of(folder, photo.file)};
  }
  if (photo.size != camera.image_size) {
    return calib::Unexpected(calib::Problem{
        file.string() + " has " + size_text(photo.size) + " pixels, camera " +
        in_quotes(entry.name) + " was calibrated with " + size_text(camera.image_size) +
        ": give the camera that took it, and photos that were never scaled or cropped."});
  }
  const std::vector<calib::PhotoCamera> both = {{"the calibration", camera.lens_and_body},
                                                {file.string(), exif.lens_and_body}};
  if (const auto mixed = calib::mixed_cameras(both)) taken.doubt = mixed->sentence;
  return taken;
}

}  // namespace measure
