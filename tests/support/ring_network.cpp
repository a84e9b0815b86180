#include "tests/support/ring_network.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

#include <Eigen/Geometry>

#include "calib/adjust/observations.h"

namespace testing_support {

using namespace calib;
using namespace calib::adjust;

RingNetwork make_ring_network(const RingNetworkSpec& spec) {
  RingNetwork ring;
  std::mt19937 random(spec.seed);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform(-100, 100);
  ring.true_camera = {3000, 3005, 1990, 1510, -0.08, 0.03, 2e-4, -1e-4, 0.0};

  const IntrinsicVector u =
      (IntrinsicVector() << 1.0, 1.0, 1.5, 1.5, 4e-4, 2e-3, 3e-5, 3e-5, 1e-3).finished();
  const IntrinsicMatrix prior_covariance = u.cwiseAbs2().asDiagonal();
  IntrinsicVector prior_value = ring.true_camera.vector();
  if (spec.camera_prior) {
    for (int k = 0; k < kK3; ++k) prior_value[k] += u[k] * normal(random);
  }

  auto& net = ring.network;
  const GroupId mark_group = net.add_group({"marks", true});
  const GroupId camera_group = net.add_group({"cameras", false});
  const GroupId bar_group = net.add_group({"bars", false});

  Block camera{"camera", prior_value, std::vector<bool>(9, !spec.camera_prior)};
  camera.held[kK3] = true;
  ring.camera = net.add_block(camera);

  for (int i = 0; i < spec.photo_count; ++i) {
    const double angle = 2 * std::numbers::pi * i / std::max(spec.photo_count, 3);
    const double height = 250 + 80 * std::sin(5.0 * i);
    const Eigen::Vector3d centre(600 * std::cos(angle), 600 * std::sin(angle), height);
    const Eigen::Vector3d z = (-centre).normalized();
    const Eigen::Vector3d x = z.cross(Eigen::Vector3d(0, 0, 1)).normalized();
    Eigen::Matrix3d rotation;
    rotation << x.transpose(), z.cross(x).transpose(), z.transpose();
    rotation = Eigen::AngleAxisd(0.3 * i, Eigen::Vector3d::UnitZ()).toRotationMatrix() * rotation;
    const Pose pose = Pose::from_matrix(rotation, -rotation * centre);
    ring.true_poses.push_back(pose);
    Pose start = pose;
    for (int k = 0; k < 3; ++k) {
      start.rotation[k] += 2e-3 * normal(random);
      start.translation[k] += 1.0 * normal(random);
    }
    ring.poses.push_back(
        net.add_block({"photo " + std::to_string(i), start.vector(), {}, DatumRole::kPose}));
  }
  for (int i = 0; i < spec.point_count; ++i) {
    const Eigen::Vector3d point(uniform(random), uniform(random), 0.5 * uniform(random));
    ring.true_points.push_back(point);
    Eigen::Vector3d start = point;
    for (int k = 0; k < 3; ++k) start[k] += normal(random);
    const bool on_bar = spec.bar && i < 2;
    ring.points.push_back(net.add_block({"point " + std::to_string(i),
                                         start,
                                         {},
                                         DatumRole::kPoint,
                                         on_bar ? BlockRole::kKept : BlockRole::kEliminated}));
  }
  std::vector<int> photos(static_cast<std::size_t>(spec.photo_count));
  std::iota(photos.begin(), photos.end(), 0);
  for (int i = 0; i < spec.point_count; ++i) {
    std::vector<int> seen = photos;
    if (spec.marks_a_point > 0) {
      if (spec.neighbours_only) {
        const auto first = std::uniform_int_distribution<int>(0, spec.photo_count - 1)(random);
        std::rotate(seen.begin(), seen.begin() + first, seen.end());
      } else {
        std::shuffle(seen.begin(), seen.end(), random);
      }
      seen.resize(static_cast<std::size_t>(std::min(spec.marks_a_point, spec.photo_count)));
    }
    for (const int photo : seen) {
      Eigen::Vector2d position =
          project(ring.true_camera, ring.true_poses[photo], ring.true_points[i]);
      position += spec.mark_noise_px * Eigen::Vector2d(normal(random), normal(random));
      const ObservationId id =
          net.add_observation(mark_observation(position, spec.sigma_px),
                              {ring.poses[photo], ring.camera, ring.points[i]}, mark_group);
      ring.marks.push_back({id, photo, ring.points[i]});
      ring.positions_px.push_back(position);
    }
  }
  if (spec.camera_prior) {
    net.add_observation(
        prior_observation(prior_value, square_root_information(prior_covariance, camera.held)),
        {ring.camera}, camera_group);
  }
  if (spec.bar) {
    const double length =
        (ring.true_points[1] - ring.true_points[0]).norm() + spec.bar_u_mm * normal(random);
    net.add_observation(distance_observation(length, spec.bar_u_mm),
                        {ring.points[0], ring.points[1]}, bar_group);
  }
  return ring;
}

}  // namespace testing_support
