// A simulated survey as a bare network: photos around points, for tests of the adjustment core.
#pragma once

#include <cstdint>
#include <random>
#include <vector>

#include "calib/adjust/network.h"
#include "calib/adjust/snooping.h"
#include "calib/camera/projection.h"

namespace testing_support {

struct RingNetworkSpec {
  int photo_count = 6;
  int point_count = 30;
  int marks_a_point = 0;         ///< 0: every photo sees every point; else random photos
  bool neighbours_only = false;  ///< marks_a_point photos beside each other in place of random ones
  double mark_noise_px = 0.5;
  double sigma_px = 0.5;
  bool bar = true;  ///< one scale bar, points 0 and 1
  double bar_u_mm = 0.02;
  bool camera_prior = true;  ///< else the camera is held
  std::uint32_t seed = 1;    ///< fixed, so that a failure can be repeated
};

struct RingNetwork {
  calib::adjust::Network network;
  std::vector<calib::adjust::BlockId> poses, points;
  calib::adjust::BlockId camera;
  std::vector<calib::adjust::Suspect> marks;
  std::vector<Eigen::Vector2d> positions_px;  ///< as in marks
  std::vector<Eigen::Vector3d> true_points;
  std::vector<calib::Pose> true_poses;
  calib::Intrinsics true_camera;
};

/// Photos on a ring of 600 mm around 200 mm of points; start values are off by what an orientation
/// leaves.
RingNetwork make_ring_network(const RingNetworkSpec& spec = {});

}  // namespace testing_support
