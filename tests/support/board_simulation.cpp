#include "tests/support/board_simulation.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <string>

#include <Eigen/Geometry>

namespace testing_support {

BoardSimulation simulate_board(const BoardSimulationSpec& spec) {
  std::mt19937 random(spec.seed);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  BoardSimulation result;
  result.camera = spec.camera;
  result.size = spec.size;
  result.nominal_mm = spec.pattern_mm;
  if (result.nominal_mm.empty()) {
    for (int row = 0; row < spec.rows; ++row) {
      for (int column = 0; column < spec.columns; ++column) {
        result.nominal_mm.emplace_back(column * spec.square_mm, row * spec.square_mm, 0.0);
      }
    }
  }
  Eigen::Vector3d low = result.nominal_mm.front(), high = low;
  for (const Eigen::Vector3d& point : result.nominal_mm) {
    low = low.cwiseMin(point);
    high = high.cwiseMax(point);
  }
  const Eigen::Vector3d middle = (low + high) / 2, half = (high - low) / 2;
  const double rim = half.head<2>().maxCoeff();

  const double stretch = spec.draw_board ? spec.prior.in_plane_relative * normal(random) : 0.0;
  const double shear = spec.draw_board ? spec.prior.in_plane_relative * normal(random) : 0.0;
  Eigen::Vector3d bows = Eigen::Vector3d::Zero();
  if (spec.draw_board) {
    for (int k = 0; k < 3; ++k) bows[k] = spec.prior.out_of_plane_mm * normal(random);
  }
  for (const Eigen::Vector3d& nominal : result.nominal_mm) {
    const double x = nominal.x() - middle.x(), y = nominal.y() - middle.y();
    Eigen::Vector3d point = nominal;
    point.x() += (stretch * x + shear * y) / 2;
    point.y() += (shear * x - stretch * y) / 2;
    point.z() += (bows[0] * x * x + bows[1] * x * y + bows[2] * y * y) / (rim * rim);
    point.z() += spec.bow_mm * (1 - x * x / (half.x() * half.x()));
    if (spec.draw_board) {
      point.x() += spec.prior.in_plane_mm * normal(random);
      point.y() += spec.prior.in_plane_mm * normal(random);
      point.z() += spec.prior.out_of_plane_mm * normal(random);
    }
    result.true_mm.push_back(point);
  }

  for (int photo = 0; photo < spec.photo_count; ++photo) {
    calib::Intrinsics camera = spec.camera;
    if (2 * photo >= spec.photo_count) {
      camera.fx *= 1 + spec.refocus;
      camera.fy *= 1 + spec.refocus;
    }
    // Leans go round by the golden angle, so that any number of photos covers all directions.
    const double towards = photo * std::numbers::pi * (3 - std::sqrt(5.0));
    const double tilt =
        (spec.least_tilt_deg + (spec.largest_tilt_deg - spec.least_tilt_deg) * uniform(random)) *
        std::numbers::pi / 180;
    const double roll = photo % 4 == 3 ? std::numbers::pi / 2 : 0.3 * (uniform(random) - 0.5);
    const Eigen::Matrix3d rotation =
        (Eigen::AngleAxisd(tilt, Eigen::Vector3d(std::cos(towards), std::sin(towards), 0)) *
         Eigen::AngleAxisd(roll, Eigen::Vector3d::UnitZ()))
            .toRotationMatrix();
    const double distance = half.head<2>().norm() * 2 * camera.fx /
                            (spec.fill * std::min(spec.size.width, spec.size.height)) *
                            (0.9 + 0.3 * uniform(random));
    const Eigen::Vector2d aim(spec.size.width * (0.5 + 0.36 * (uniform(random) - 0.5)),
                              spec.size.height * (0.5 + 0.36 * (uniform(random) - 0.5)));
    const Eigen::Vector3d centre((aim.x() - camera.cx) / camera.fx * distance,
                                 (aim.y() - camera.cy) / camera.fy * distance, distance);
    const calib::Pose pose = calib::Pose::from_matrix(rotation, centre - rotation * middle);
    result.poses.push_back(pose);
    calib::CornerSet set{"photo_" + std::to_string(photo + 1) + ".jpg", {}};
    for (std::size_t i = 0; i < result.true_mm.size(); ++i) {
      Eigen::Vector2d px = calib::project(camera, pose, result.true_mm[i]);
      px += spec.noise_px * Eigen::Vector2d(normal(random), normal(random));
      if (px.x() < 0 || px.y() < 0 || px.x() > spec.size.width - 1 || px.y() > spec.size.height - 1)
        continue;
      set.corners.push_back(
          {static_cast<int>(i), px, spec.sigma_px * spec.sigma_px * Eigen::Matrix2d::Identity()});
    }
    result.sets.push_back(std::move(set));
  }
  return result;
}

}  // namespace testing_support
