// Marks along edges, rims and outlines: the residual is the distance across the curve's picture,
// its derivatives are those of that distance, and the blocks move with the whole.
#include "calib/adjust/curve_observations.h"

#include <random>

#include <Eigen/Geometry>
#include <gtest/gtest.h>

#include "calib/adjust/datum.h"
#include "calib/adjust/observations.h"

namespace calib::adjust {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;
using Eigen::VectorXd;

struct Scene {
  Curve curve;
  VectorXd values;
  Pose pose;
  Intrinsics camera{3000, 2990, 1210, 790, -0.12, 0.08, 0.0006, -0.0004, -0.02};
};

/// A curve near the origin, looked at from 600 mm away, a little beside the middle of the photo.
Scene make_scene(CurveKind kind, std::uint32_t seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> unit(-1, 1);
  const auto vector = [&] { return Vector3d(unit(random), unit(random), unit(random)); };
  Scene scene;
  scene.curve.kind = kind;
  scene.curve.side = kind == CurveKind::kCylinder ? (seed % 2 == 0 ? 1 : -1) : 0;
  const Vector3d axis = vector();
  scene.curve.frame = CurveFrame::about(40 * vector(), axis);
  const Vector3d direction = axis.normalized() + 0.1 * vector();
  const double radius = 12 + 6 * unit(random);
  scene.values = curve_values(kind, scene.curve.frame, scene.curve.frame.origin + 3 * vector(),
                              direction, radius);
  // Looking at the origin from somewhere, turned about the line of sight.
  const Vector3d from = 600 * vector().normalized();
  Eigen::Matrix3d rotation;
  rotation.row(2) = -from.normalized();
  rotation.row(0) = rotation.row(2).transpose().unitOrthogonal();
  rotation.row(1) = rotation.row(2).cross(rotation.row(0));
  rotation = Eigen::AngleAxisd(unit(random), Vector3d::UnitZ()) * rotation;
  scene.pose = Pose::from_matrix(rotation, -rotation * from + 20 * vector());
  return scene;
}

/// A mark some pixels beside the curve's picture, near where a place of the curve is seen.
Vector2d mark_beside(const Scene& scene, std::uint32_t seed) {
  std::mt19937 random(seed + 1000);
  std::uniform_real_distribution<double> unit(-1, 1);
  const CurveGeometry g = curve_geometry(scene.curve.kind, scene.curve.frame, scene.values);
  const Vector3d place =
      g.place + 20 * unit(random) * g.direction + g.radius * g.direction.unitOrthogonal();
  return project(scene.camera, scene.pose, place) + Vector2d(3 * unit(random), 3 * unit(random));
}

class CurveObservationTest : public testing::TestWithParam<CurveKind> {};

TEST_P(CurveObservationTest, HasTheDerivativesOfTheDistance) {
  int evaluated = 0;
  for (std::uint32_t seed = 1; seed <= 60; ++seed) {
    const Scene scene = make_scene(GetParam(), seed);
    const auto cost = curve_observation(scene.curve, mark_beside(scene, seed), 0.5);
    Eigen::VectorXd pose = scene.pose.vector(), camera = scene.camera.vector(),
                    values = scene.values;
    std::vector<VectorXd*> blocks{&pose, &camera, &values};
    const auto evaluate = [&](double** jacobians) -> double {
      const double* parameters[] = {pose.data(), camera.data(), values.data()};
      double residual = std::numeric_limits<double>::quiet_NaN();
      if (!cost->Evaluate(parameters, &residual, jacobians))
        return std::numeric_limits<double>::quiet_NaN();
      return residual;
    };
    VectorXd by_pose(6), by_camera(9), by_values(values.size());
    double* jacobians[] = {by_pose.data(), by_camera.data(), by_values.data()};
    if (!std::isfinite(evaluate(jacobians))) continue;
    ++evaluated;
    const std::vector<const VectorXd*> analytic{&by_pose, &by_camera, &by_values};
    // Steps of about a thousandth of a pixel.
    const std::vector<VectorXd> steps{
        (VectorXd(6) << 1e-6, 1e-6, 1e-6, 1e-4, 1e-4, 1e-4).finished(),
        (VectorXd(9) << 1e-3, 1e-3, 1e-3, 1e-3, 1e-5, 1e-5, 1e-6, 1e-6, 1e-5).finished(),
        VectorXd::Constant(values.size(), 1e-5)};
    for (std::size_t b = 0; b < blocks.size(); ++b) {
      for (Eigen::Index k = 0; k < blocks[b]->size(); ++k) {
        const double step = steps[b][k], before = (*blocks[b])[k];
        (*blocks[b])[k] = before + step;
        const double high = evaluate(nullptr);
        (*blocks[b])[k] = before - step;
        const double low = evaluate(nullptr);
        (*blocks[b])[k] = before;
        const double numeric = (high - low) / (2 * step);
        // What the difference quotient itself is good for: 1e-10 px over the step.
        const double tolerance = 2e-9 / step + 1e-4 * std::abs(numeric);
        EXPECT_NEAR((*analytic[b])[k], numeric, tolerance)
            << "seed " << seed << " block " << b << " coordinate " << k;
      }
    }
  }
  EXPECT_GE(evaluated, 50);
}

TEST_P(CurveObservationTest, FindsTheNearestPlaceOfThePicture) {
  for (std::uint32_t seed = 1; seed <= 40; ++seed) {
    const Scene scene = make_scene(GetParam(), seed);
    const Vector2d mark = mark_beside(scene, seed);
    const auto foot = curve_foot(scene.curve, scene.pose, scene.camera, scene.values, mark);
    if (!foot) continue;
    // The place lies on the curve, is seen at the foot, and no place around it is nearer.
    EXPECT_LT((project(scene.camera, scene.pose, foot->place) - foot->position_px).norm(), 1e-6);
    const CurveGeometry g = curve_geometry(scene.curve.kind, scene.curve.frame, scene.values);
    const Vector3d arm = foot->place - g.place;
    const double beside = arm.cross(g.direction).norm();
    EXPECT_NEAR(beside, g.radius, 1e-9);
    const double distance = (foot->position_px - mark).norm();
    for (const double turn : {-2.0, -0.5, -0.01, 0.01, 0.5, 2.0}) {
      const Vector3d other = GetParam() == CurveKind::kCircle
                                 ? Vector3d(g.place + Eigen::AngleAxisd(turn, g.direction) * arm)
                                 : Vector3d(foot->place + 10 * turn * g.direction);
      EXPECT_GE((project(scene.camera, scene.pose, other) - mark).norm(), distance - 1e-9);
    }
  }
}

TEST_P(CurveObservationTest, MovesWithTheWhole) {
  // A network of one photo, one curve and points feels none of the seven motions.
  for (std::uint32_t seed = 1; seed <= 10; ++seed) {
    const Scene scene = make_scene(GetParam(), seed);
    Network network;
    const GroupId group = network.add_group({"marks", true});
    const BlockId camera = network.add_block({"camera", scene.camera.vector(), {}});
    const BlockId pose = network.add_block({"photo", scene.pose.vector(), {}, DatumRole::kPose});
    const BlockId curve =
        network.add_block(curve_block("curve", scene.curve.kind, scene.curve.frame, scene.values));
    for (const Vector3d& at : {Vector3d(10, 20, -10), Vector3d(-30, 5, 15), Vector3d(0, 0, 40)}) {
      const BlockId point = network.add_block({"point", at, {}, DatumRole::kPoint});
      network.add_observation(mark_observation(project(scene.camera, scene.pose, at), 0.5),
                              {pose, camera, point}, group);
    }
    for (std::uint32_t m = 0; m < 12; ++m) {
      network.add_observation(
          curve_observation(scene.curve, mark_beside(scene, seed + 50 * m), 0.5),
          {pose, camera, curve}, group);
    }
    EXPECT_EQ(find_datum(network).defect, 7) << "seed " << seed;
  }
}

std::string name_of_kind(const testing::TestParamInfo<CurveKind>& info) {
  return info.param == CurveKind::kEdge     ? "Edge"
         : info.param == CurveKind::kCircle ? "Circle"
                                            : "Cylinder";
}
INSTANTIATE_TEST_SUITE_P(Kinds, CurveObservationTest,
                         testing::Values(CurveKind::kEdge, CurveKind::kCircle,
                                         CurveKind::kCylinder),
                         name_of_kind);

TEST(CurveGeometry, GoesThereAndBack) {
  for (std::uint32_t seed = 1; seed <= 20; ++seed) {
    for (const CurveKind kind : {CurveKind::kEdge, CurveKind::kCircle, CurveKind::kCylinder}) {
      const Scene scene = make_scene(kind, seed);
      const CurveGeometry g = curve_geometry(kind, scene.curve.frame, scene.values);
      const VectorXd again = curve_values(kind, scene.curve.frame, g.place, g.direction, g.radius);
      EXPECT_LT((again - scene.values).norm(), 1e-9);
      for (Eigen::Index k = 0; k < scene.values.size(); ++k) {
        VectorXd moved = scene.values;
        moved[k] += 1e-6;
        const CurveGeometry high = curve_geometry(kind, scene.curve.frame, moved);
        Eigen::Matrix<double, 7, 1> change;
        change << high.place - g.place, high.direction - g.direction, high.radius - g.radius;
        EXPECT_LT((change / 1e-6 - g.by_values.col(k)).norm(), 1e-5);
      }
    }
  }
}

}  // namespace
}  // namespace calib::adjust
