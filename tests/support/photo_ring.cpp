#include "tests/support/photo_ring.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include <Eigen/Geometry>

namespace testing_support {
namespace {

constexpr double kTwoPi = 2 * std::numbers::pi;

calib::Pose look_at(const Eigen::Vector3d& centre, const Eigen::Vector3d& target, double roll_rad) {
  const Eigen::Vector3d forward = (target - centre).normalized();
  const Eigen::Vector3d up =
      std::abs(forward.z()) > 0.99 ? Eigen::Vector3d::UnitY() : Eigen::Vector3d::UnitZ();
  const Eigen::Vector3d right = forward.cross(up).normalized();
  Eigen::Matrix3d camera_from_object;
  camera_from_object << right.transpose(), forward.cross(right).transpose(), forward.transpose();
  camera_from_object =
      Eigen::AngleAxisd(roll_rad, Eigen::Vector3d::UnitZ()).toRotationMatrix() * camera_from_object;
  return calib::Pose::from_matrix(camera_from_object, -camera_from_object * centre);
}

std::string numbered(const std::string& prefix, int number) {
  std::string digits = std::to_string(number);
  return prefix + std::string(4 - std::min<std::size_t>(4, digits.size()), '0') + digits;
}

}  // namespace

PhotoRing make_photo_ring(const PhotoRingSpec& spec) {
  PhotoRing ring;
  std::mt19937 random(spec.seed);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> unit(0.0, 1.0);

  ring.image_size = {2400, 1600};
  const calib::Intrinsics camera{.fx = 2300,
                                 .fy = 2302,
                                 .cx = 1207,
                                 .cy = 793,
                                 .k1 = -0.12,
                                 .k2 = 0.09,
                                 .p1 = 4e-4,
                                 .p2 = -3e-4,
                                 .k3 = -0.02};
  ring.cameras.assign(spec.photo_count, camera);

  for (int i = 0; i < spec.point_count; ++i) {
    ring.point_names.push_back(numbered("P", i + 1));
    switch (spec.shape) {
      case OriginalShape::kBody: {
        const Eigen::Vector3d direction =
            Eigen::Vector3d(normal(random), normal(random), normal(random)).normalized();
        const Eigen::Vector3d axes(spec.radius_mm, 0.8 * spec.radius_mm, 0.7 * spec.radius_mm);
        ring.true_points.push_back(direction.cwiseProduct(axes));
        ring.normals.push_back(direction.cwiseQuotient(axes).normalized());
        break;
      }
      case OriginalShape::kPlane:
        ring.true_points.emplace_back(spec.radius_mm * (2 * unit(random) - 1),
                                      0.7 * spec.radius_mm * (2 * unit(random) - 1), 0.0);
        ring.normals.push_back(Eigen::Vector3d::UnitZ());
        break;
      case OriginalShape::kLine:
        ring.true_points.emplace_back(spec.radius_mm * (2 * unit(random) - 1), 0.0, 0.0);
        ring.normals.push_back(Eigen::Vector3d::Zero());
        break;
    }
  }

  const bool closed = spec.arc_rad >= kTwoPi - 1e-9;
  const double step = spec.photo_count < 2
                          ? 0.0
                          : spec.arc_rad / (closed ? spec.photo_count : spec.photo_count - 1);
  for (int i = 0; i < spec.photo_count; ++i) {
    ring.photo_names.push_back(numbered("photo_", i + 1));
    const double roll = 0.1 * (2 * unit(random) - 1);
    Eigen::Vector3d direction = Eigen::Vector3d::UnitX(), target = Eigen::Vector3d::Zero();
    const double jitter = 0.05 * spec.radius_mm;
    target += jitter * Eigen::Vector3d(unit(random), unit(random), unit(random));
    switch (spec.layout) {
      case PhotoLayout::kRing: {
        const double elevation = spec.elevation_rad - (i % 2 == 1 ? 0.2 : 0.0);
        direction << std::cos(elevation) * std::cos(step * i),
            std::cos(elevation) * std::sin(step * i), std::sin(elevation);
        break;
      }
      case PhotoLayout::kAllAround: {
        // Fibonacci's lattice: even on the sphere for any number.
        const double z = 1 - (2 * i + 1.0) / spec.photo_count;
        const double azimuth = kTwoPi * i * (std::numbers::phi - 1);
        direction << std::sqrt(1 - z * z) * std::cos(azimuth),
            std::sqrt(1 - z * z) * std::sin(azimuth), z;
        break;
      }
      case PhotoLayout::kOneSpot:
        direction << std::cos(spec.elevation_rad), 0, std::sin(spec.elevation_rad);
        target =
            0.3 * spec.radius_mm * Eigen::Vector3d(0, 2 * unit(random) - 1, 2 * unit(random) - 1);
        break;
    }
    const double distance = spec.layout == PhotoLayout::kOneSpot
                                ? spec.distance_mm
                                : spec.distance_mm * (0.95 + 0.1 * unit(random));
    ring.true_poses.push_back(look_at(distance * direction, target, roll));
  }

  std::vector<std::vector<int>> seen_in(spec.point_count);
  const double edge_px = 10;
  for (int point = 0; point < spec.point_count; ++point) {
    for (int photo = 0; photo < spec.photo_count; ++photo) {
      const Eigen::Vector3d to_camera =
          (ring.true_poses[photo].centre() - ring.true_points[point]).normalized();
      const Eigen::Vector3d& facing = ring.normals[point];
      if (facing.norm() > 0.5 && facing.dot(to_camera) < std::cos(spec.visible_angle_rad)) continue;
      const Eigen::Vector2d at =
          calib::project(camera, ring.true_poses[photo], ring.true_points[point]);
      if (at.x() < edge_px || at.y() < edge_px || at.x() > ring.image_size.width - 1 - edge_px ||
          at.y() > ring.image_size.height - 1 - edge_px) {
        continue;
      }
      seen_in[point].push_back(photo);
    }
    if (spec.marks_a_point > 0 && static_cast<int>(seen_in[point].size()) > spec.marks_a_point) {
      std::shuffle(seen_in[point].begin(), seen_in[point].end(), random);
      seen_in[point].resize(spec.marks_a_point);
      std::sort(seen_in[point].begin(), seen_in[point].end());
    }
  }
  for (int photo = 0; photo < spec.photo_count; ++photo) {
    for (int point = 0; point < spec.point_count; ++point) {
      if (!std::binary_search(seen_in[point].begin(), seen_in[point].end(), photo)) continue;
      SimulatedMark mark{photo, point,
                         calib::project(camera, ring.true_poses[photo], ring.true_points[point]),
                         spec.sigma_px, false};
      mark.position_px += spec.mark_noise_px * Eigen::Vector2d(normal(random), normal(random));
      if (unit(random) < spec.blunder_share) {
        const double angle = kTwoPi * unit(random);
        mark.position_px +=
            (10 + 30 * unit(random)) * Eigen::Vector2d(std::cos(angle), std::sin(angle));
        mark.wrong = true;
      }
      ring.marks.push_back(mark);
    }
  }
  for (int swap = 0, attempt = 0; swap < spec.swapped_pairs && attempt < 1000; ++attempt) {
    const std::size_t first = random() % ring.marks.size(), second = random() % ring.marks.size();
    SimulatedMark &a = ring.marks[first], &b = ring.marks[second];
    if (first == second || a.photo != b.photo || a.wrong || b.wrong) continue;
    std::swap(a.position_px, b.position_px);
    a.wrong = b.wrong = true;
    ++swap;
  }
  return ring;
}

}  // namespace testing_support
