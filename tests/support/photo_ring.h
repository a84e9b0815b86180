// Simulated surveys: a camera, photos around an original, and the marks a careful person would set.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "calib/camera/intrinsics.h"
#include "calib/camera/projection.h"

namespace testing_support {

enum class PhotoLayout {
  kRing,       ///< on a circle about the z axis, all looking near the centre
  kAllAround,  ///< on a sphere, also from above and below
  kOneSpot,    ///< the camera only turns
};

enum class OriginalShape {
  kBody,   ///< points on an ellipsoid, seen from outside only
  kPlane,  ///< points in z = 0, seen from above (z > 0) only
  kLine,   ///< points on the x axis
};

/// What is simulated. Lengths in millimetres; the defaults give a well-photographed original of 300
/// mm.
struct PhotoRingSpec {
  int photo_count = 6;
  PhotoLayout layout = PhotoLayout::kRing;
  double arc_rad = 3.1;        ///< kRing: from the first photo to the last; 2π closes the ring
  double elevation_rad = 0.6;  ///< kRing: above the xy plane; every second photo 0.2 lower
  double distance_mm = 600.0;
  int point_count = 80;
  OriginalShape shape = OriginalShape::kBody;
  double radius_mm = 150.0;  ///< largest half extent of the original
  double visible_angle_rad =
      1.3;                ///< largest angle between a point's normal and the ray to the camera
  int marks_a_point = 0;  ///< 0: marked wherever visible; else in so many random photos of these
  double mark_noise_px = 0.0;  ///< standard deviation, a coordinate
  double sigma_px = 0.5;       ///< a-priori σ that goes with every mark
  double blunder_share = 0.0;  ///< of all marks, moved by 10 to 40 px
  int swapped_pairs = 0;       ///< two points of one photo change names
  std::uint32_t seed = 1;      ///< fixed, so that a failure can be repeated
};

struct SimulatedMark {
  int photo = -1, point = -1;
  Eigen::Vector2d position_px = Eigen::Vector2d::Zero();
  double sigma_px = 0.5;
  bool wrong = false;  ///< a blunder or half of a swapped pair
};

struct PhotoRing {
  calib::ImageSize image_size;
  std::vector<calib::Intrinsics> cameras;  ///< of each photo; all alike
  std::vector<std::string> photo_names, point_names;
  std::vector<calib::Pose> true_poses;       ///< camera_from_object, mm
  std::vector<Eigen::Vector3d> true_points;  ///< mm
  std::vector<Eigen::Vector3d> normals;      ///< unit; zero for kLine: seen from everywhere
  std::vector<SimulatedMark> marks;
};

[[nodiscard]] PhotoRing make_photo_ring(const PhotoRingSpec& spec = {});

}  // namespace testing_support
