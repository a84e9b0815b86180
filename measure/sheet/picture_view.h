// A part of a photo, upright, as a picture of the sheet: where a place of space falls in it.
#pragma once

#include <optional>
#include <vector>

#include <Eigen/Core>

#include "calib/camera/intrinsics.h"
#include "measure/live/trace.h"

namespace measure {

/// Rectangle of a stored photo; whole pixels.
struct PhotoPart {
  int left = 0, top = 0, width = 0, height = 0;
  friend bool operator==(const PhotoPart&, const PhotoPart&) = default;
};

/// Length of a picture's longer side. Its unit is that of everything drawn into it, whatever the
/// number of pixels that the picture is stored with.
inline constexpr double kPictureSide = 1600.0;

/// From stored pixels to a picture: cut out, turned by quarters, scaled to kPictureSide.
class PictureView {
 public:
  /// @param exif_orientation  1, 3, 6 or 8: how the photo is turned for people. Mirrored ones are
  /// taken as they are stored.
  PictureView(const OrientedPhoto& photo, const calib::ImageSize& stored, const PhotoPart& part,
              int exif_orientation);

  [[nodiscard]] const PhotoPart& part() const { return part_; }
  [[nodiscard]] int quarter_turns() const { return turns_; }  ///< clockwise
  [[nodiscard]] Eigen::Vector2d size() const { return size_; }
  /// Whether less than the whole photo is shown.
  [[nodiscard]] bool is_part() const;

  /// The centre of the top left pixel of the stored photo is (0, 0); the corner of the picture is.
  [[nodiscard]] Eigen::Vector2d from_photo(const Eigen::Vector2d& stored_px) const;
  /// Nothing where the photo cannot see the place.
  [[nodiscard]] std::optional<Eigen::Vector2d> project(const Eigen::Vector3d& place) const;
  /// The straight line of space as the lens bends it; empty where a part cannot be seen.
  [[nodiscard]] std::vector<Eigen::Vector2d> line(const Eigen::Vector3d& from,
                                                  const Eigen::Vector3d& to) const;
  /// From the place to the camera, object frame.
  [[nodiscard]] Eigen::Vector3d to_camera(const Eigen::Vector3d& place) const;

 private:
  OrientedPhoto photo_;
  calib::ImageSize stored_;
  PhotoPart part_;
  int turns_ = 0;
  double scale_ = 1.0;
  Eigen::Vector2d size_ = Eigen::Vector2d::Zero();
};

/// The part of a photo that shows all places with room for dimension lines round them, in a shape
/// that fills a page well.
/// @param places_px  in stored pixels, distortion included.
[[nodiscard]] PhotoPart part_around(const std::vector<Eigen::Vector2d>& places_px,
                                    const calib::ImageSize& stored);

}  // namespace measure
