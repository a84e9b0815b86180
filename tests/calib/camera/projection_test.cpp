#include "calib/camera/projection.h"

#include <cmath>
#include <numbers>
#include <random>
#include <vector>

#include <gtest/gtest.h>

namespace calib {
namespace {

/// Lenses as they are: a small camera with a strong barrel, a pincushion, a long lens, a decentred
/// one, none.
std::vector<Intrinsics> lenses() {
  return {{533.0, 533.2, 341.6, 234.3, -0.289, 0.103, 0.00103, -0.00029, 0.0},
          {2951.8, 2949.3, 1213.7, 788.4, -0.12, 0.05, 0.0004, -0.0003, 0.0},
          {4000.0, 4000.0, 3000.0, 2000.0, 0.08, 0.02, 0.0, 0.0, 0.01},
          {12000.0, 12010.0, 2990.0, 2010.0, 0.3, -1.0, 0.0, 0.0, 0.0},
          {3000.0, 3005.0, 2000.0, 1500.0, -0.05, 0.01, 0.004, -0.003, 0.002},
          {1000.0, 1000.0, 500.0, 400.0, 0.0, 0.0, 0.0, 0.0, 0.0}};
}

double random_between(std::mt19937& random, double low, double high) {
  return std::uniform_real_distribution<double>(low, high)(random);
}

TEST(Projection, DerivativesEqualCentralDifferences) {
  std::mt19937 random(1);
  for (const Intrinsics& camera : lenses()) {
    for (int trial = 0; trial < 50; ++trial) {
      const double z = random_between(random, 200, 900);
      const Eigen::Vector3d point(random_between(random, -0.5, 0.5) * z,
                                  random_between(random, -0.4, 0.4) * z, z);
      ProjectionDerivatives derivatives;
      const Eigen::Vector2d at = project(camera, point, &derivatives);
      EXPECT_EQ(at, project(camera, point));
      for (int k = 0; k < 3; ++k) {
        const double step = 1e-4;
        Eigen::Vector3d up = point, down = point;
        up[k] += step;
        down[k] -= step;
        const Eigen::Vector2d numeric = (project(camera, up) - project(camera, down)) / (2 * step);
        // Truncation step²·f‴/6 and rounding 1e-12 px/step both lie below 1e-7 px/mm here.
        EXPECT_LT((numeric - derivatives.by_point.col(k)).norm(), 1e-7 * (1 + numeric.norm()));
      }
      const IntrinsicVector values = camera.vector();
      for (int k = 0; k < kIntrinsicCount; ++k) {
        const double step = k <= kCy ? 1e-3 : 1e-6;
        IntrinsicVector up = values, down = values;
        up[k] += step;
        down[k] -= step;
        const Eigen::Vector2d numeric = (project(Intrinsics::from_vector(up), point) -
                                         project(Intrinsics::from_vector(down), point)) /
                                        (2 * step);
        // Linear in every parameter but for fx·k: rounding alone, some 1e-12 px over the step.
        EXPECT_LT((numeric - derivatives.by_intrinsics.col(k)).norm(), 1e-6 * (1 + numeric.norm()))
            << kIntrinsicNames[k];
      }
    }
  }
}

TEST(Projection, DistortionIsBrownsAndConradysWithOpenCvsSigns) {
  // By hand: x = 0.3, y = −0.2, r² = 0.13, radial = 1 − 0.2·0.13 + 0.1·0.0169 + 0.05·0.002197 =
  // 0.97579985.
  const Intrinsics camera{1.0, 1.0, 0.0, 0.0, -0.2, 0.1, 0.01, -0.02, 0.05};
  const Eigen::Vector2d distorted = distort(camera, {0.3, -0.2});
  EXPECT_NEAR(distorted.x(), 0.3 * 0.97579985 + 2 * 0.01 * -0.06 - 0.02 * (0.13 + 0.18), 1e-12);
  EXPECT_NEAR(distorted.y(), -0.2 * 0.97579985 + 0.01 * (0.13 + 0.08) + 2 * -0.02 * -0.06, 1e-12);
}

TEST(Unproject, ConvergesOverTheWholeFrameOrSaysThatItDidNot) {
  const std::vector<ImageSize> sizes = {{640, 480},   {2400, 1600}, {6000, 4000},
                                        {6000, 4000}, {4000, 3000}, {1000, 800}};
  const std::vector<Intrinsics> cameras = lenses();
  for (std::size_t i = 0; i < cameras.size(); ++i) {
    const Intrinsics& camera = cameras[i];
    int converged = 0, asked = 0;
    for (int row = 0; row <= 40; ++row) {
      for (int column = 0; column <= 60; ++column) {
        const Eigen::Vector2d px(column / 60.0 * (sizes[i].width - 1),
                                 row / 40.0 * (sizes[i].height - 1));
        ++asked;
        const auto ideal = unproject(camera, px);
        if (!ideal) continue;
        ++converged;
        EXPECT_LT((project(camera, Eigen::Vector3d(ideal->x(), ideal->y(), 1.0)) - px).norm(),
                  1e-9);
        EXPECT_LE(ideal->norm(), largest_valid_radius(camera) * (1 + 1e-9));
      }
    }
    EXPECT_EQ(converged, asked) << "lens " << i;
  }
}

TEST(Unproject, RefusesWhatLiesBeyondTheModel) {
  // r(1 − 0.5 r²) grows up to r = √(2/3) and reaches 0.5443 there.
  const Intrinsics camera{.fx = 1000.0, .fy = 1000.0, .cx = 1000.0, .cy = 1000.0, .k1 = -0.5};
  EXPECT_NEAR(largest_valid_radius(camera), std::sqrt(2.0 / 3.0), 1e-12);
  EXPECT_TRUE(unproject(camera, {1540.0, 1000.0}));
  for (const double x : {1546.0, 1600.0, 2000.0, 10000.0}) {
    const auto ideal = unproject(camera, {x, 1000.0});
    ASSERT_FALSE(ideal) << x;
    EXPECT_EQ(ideal.error(), UndistortError::kBeyondModel);
  }
  EXPECT_FALSE(undistort(camera, {1600.0, 1000.0}));
  EXPECT_EQ(largest_valid_radius(Intrinsics{.fx = 1.0, .fy = 1.0, .k1 = 0.1}),
            std::numeric_limits<double>::infinity());
}

TEST(Undistort, IsTheIdentityWithoutDistortion) {
  const Intrinsics camera{.fx = 1000.0, .fy = 1001.0, .cx = 500.0, .cy = 400.0};
  const auto px = undistort(camera, {12.25, 780.5});
  ASSERT_TRUE(px);
  EXPECT_LT((*px - Eigen::Vector2d(12.25, 780.5)).norm(), 1e-9);
}

TEST(Rotation, VectorAndMatrixAreInverseUpToHalfATurn) {
  std::mt19937 random(2);
  for (const double angle : {0.0, 1e-9, 1e-5, 0.1, 1.0, 3.0, std::numbers::pi - 1e-7}) {
    Eigen::Vector3d axis(random_between(random, -1, 1), random_between(random, -1, 1),
                         random_between(random, 0.1, 1));
    axis.normalize();
    const Eigen::Vector3d rotation = angle * axis;
    const Eigen::Matrix3d matrix = rotation_from_vector(rotation);
    EXPECT_LT((matrix * matrix.transpose() - Eigen::Matrix3d::Identity()).norm(), 1e-13);
    EXPECT_LT((vector_from_rotation(matrix) - rotation).norm(), 1e-8) << angle;
  }
}

}  // namespace
}  // namespace calib
