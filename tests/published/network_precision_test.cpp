// What a network of photos should achieve, by the textbooks' formulas, against our covariance.
#include <array>
#include <cmath>
#include <numbers>

#include <Eigen/Geometry>
#include <gtest/gtest.h>

#include "calib/adjust/covariance.h"
#include "calib/adjust/observations.h"
#include "calib/camera/projection.h"

namespace {

using namespace calib::adjust;
using Eigen::Vector3d;

struct Station {
  Vector3d centre;
  Vector3d towards;
};

/// 27 points in 200 × 200 × 120 mm, camera of f = 3000 px held, marks of 0.5 px.
struct Block27 {
  Network network;
  std::vector<BlockId> points;
};

Block27 make_block(const std::vector<Station>& stations, bool hold_poses) {
  Block27 block;
  Network& net = block.network;
  const GroupId marks = net.add_group({"marks", true});
  const calib::Intrinsics camera{3000, 3000, 2000, 1500, 0, 0, 0, 0, 0};
  const BlockId camera_block =
      net.add_block({"camera", camera.vector(), std::vector<bool>(9, true)});
  std::vector<Vector3d> points;
  for (const double x : {-100.0, 0.0, 100.0}) {
    for (const double y : {-100.0, 0.0, 100.0}) {
      for (const double z : {-60.0, 0.0, 60.0}) points.emplace_back(x, y, z);
    }
  }
  for (const Vector3d& p : points) {
    block.points.push_back(
        net.add_block({"point", p, {}, DatumRole::kPoint, BlockRole::kEliminated}));
  }
  for (const Station& station : stations) {
    const Vector3d z = (station.towards - station.centre).normalized();
    const Vector3d up = std::abs(z.y()) > 0.9 ? Vector3d(1, 0, 0) : Vector3d(0, 1, 0);
    const Vector3d x = up.cross(z).normalized();
    Eigen::Matrix3d rotation;
    rotation << x.transpose(), z.cross(x).transpose(), z.transpose();
    const calib::Pose pose = calib::Pose::from_matrix(rotation, -rotation * station.centre);
    const BlockId pose_block =
        net.add_block({"photo", pose.vector(), std::vector<bool>(6, hold_poses), DatumRole::kPose});
    for (std::size_t i = 0; i < points.size(); ++i) {
      net.add_observation(mark_observation(calib::project(camera, pose, points[i]), 0.5),
                          {pose_block, camera_block, block.points[i]}, marks);
    }
  }
  return block;
}

/// rms over points and coordinates of the standard uncertainty under inner constraints, mm.
double rms_sigma(const Block27& block) {
  const auto covariance = Covariance::compute(block.network, find_datum(block.network));
  EXPECT_TRUE(covariance);
  return std::sqrt(covariance->joint_inner(block.points).trace() /
                   static_cast<double>(3 * block.points.size()));
}

/// Stations around the z axis, at an elevation above the middle plane of the points.
std::vector<Station> ring(int count, double elevation_rad, int times = 1) {
  std::vector<Station> stations;
  for (int t = 0; t < times; ++t) {
    for (int i = 0; i < count; ++i) {
      const double a = 2 * std::numbers::pi * i / count;
      stations.push_back(
          {600 * Vector3d(std::cos(a) * std::cos(elevation_rad),
                          std::sin(a) * std::cos(elevation_rad), std::sin(elevation_rad)),
           Vector3d::Zero()});
    }
  }
  return stations;
}

// Normal case of stereo photogrammetry (textbooks: Luhmann et al., Kraus; formula from memory):
// σ_Z = Z²/(B f) σ_p, B = 100 mm, Z = 600 mm, f = 3000 px, σ_p = 0.5·√2 px: 0.8485 mm.
TEST(StereoNormalCase, HasTheDepthUncertaintyOfTheFormula) {
  const Block27 block =
      make_block({{{-50, 0, -600}, {-50, 0, 0}}, {{50, 0, -600}, {50, 0, 0}}}, true);
  const auto covariance = Covariance::compute(block.network, find_datum(block.network));
  ASSERT_TRUE(covariance);
  const std::array<BlockId, 1> middle{block.points[13]};  // at the origin, Z = 600 mm
  EXPECT_NEAR(std::sqrt(covariance->joint(middle)(2, 2)), 0.8485, 0.001);
}

constexpr double kDegree = std::numbers::pi / 180;

/// Two stations in the middle plane of the points, at the same distance, whose rays meet at
/// `angle`. They look along an edge of 200 mm, not along the one of 120 mm: CHECKS.md P2 leaves
/// that unsaid, and only this reading gives both of its figures for two photos (4.60 and 1.28;
/// along the 120 mm it would be 2.99 and 0.99).
std::vector<Station> pair(double angle) {
  std::vector<Station> stations;
  for (const double side : {-0.5, 0.5}) {
    stations.push_back(
        {600 * Vector3d(std::cos(side * angle), std::sin(side * angle), 0), Vector3d::Zero()});
  }
  return stations;
}

// C. S. Fraser, Network design considerations for non-topographic photogrammetry, PE&RS 50(8) 1984:
// σ = q S σ', S = distance/f, and q 0.4 to 0.8 for strong convergent networks (from memory). The
// figures are those of an independent computation (CHECKS.md, P2, computed), rms σ in mm and q, to
// half a unit of their last digit: the layout is fixed, and so is all arithmetic.
TEST(ConvergentNetwork, HasTheStrengthThatAnIndependentComputationGives) {
  const double scale = 600.0 / 3000.0 * 0.5;
  struct Row {
    const char* layout;
    std::vector<Station> stations;
    double sigma_mm, half_sigma_digit, q, half_q_digit;
  };
  for (const Row& row :
       {Row{"2 at 20", pair(20 * kDegree), 0.460, 0.0005, 4.6, 0.05},
        Row{"2 at 90", pair(90 * kDegree), 0.128, 0.0005, 1.28, 0.005},
        Row{"4 at 45", ring(4, 45 * kDegree), 0.0604, 0.00005, 0.60, 0.005},
        Row{"4 at 45, twice", ring(4, 45 * kDegree, 2), 0.0427, 0.00005, 0.427, 0.0005},
        Row{"8 at 35", ring(8, 35 * kDegree), 0.0418, 0.00005, 0.42, 0.005},
        Row{"12 at 35", ring(12, 35 * kDegree), 0.0341, 0.00005, 0.34, 0.005}}) {
    const double sigma_mm = rms_sigma(make_block(row.stations, false));
    EXPECT_NEAR(sigma_mm, row.sigma_mm, row.half_sigma_digit) << row.layout;
    EXPECT_NEAR(sigma_mm / scale, row.q, row.half_q_digit) << row.layout;
  }
}

// k photos at a station are k times the same information, and nothing else: exactly 1/√k.
TEST(ConvergentNetwork, GainsTheRootOfTwoFromTwoPhotosAtEachStation) {
  const double once = rms_sigma(make_block(ring(4, 45 * kDegree), false));
  const double twice = rms_sigma(make_block(ring(4, 45 * kDegree, 2), false));
  EXPECT_NEAR(once / twice, std::numbers::sqrt2, 1e-6);
}

}  // namespace
