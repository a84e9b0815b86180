// Changing frame and scale of a whole survey.
#include "measure/orient/similarity.h"

#include <vector>

#include <Eigen/Geometry>
#include <gtest/gtest.h>

namespace measure {
namespace {

Similarity some_similarity() {
  return {2.5,
          Eigen::AngleAxisd(1.2, Eigen::Vector3d(1, 2, -1).normalized()).toRotationMatrix(),
          {30, -7, 12}};
}

TEST(FitSimilarity, RecoversTheOneThatMadeThePoints) {
  const std::vector<Eigen::Vector3d> source{{0, 0, 0}, {10, 0, 0}, {0, 7, 1}, {3, 2, 9}};
  std::vector<Eigen::Vector3d> target;
  for (const auto& p : source) target.push_back(some_similarity() * p);
  const auto found = fit_similarity(source, target);
  ASSERT_TRUE(found);
  EXPECT_NEAR(found->scale, 2.5, 1e-12);
  EXPECT_LT((found->rotation - some_similarity().rotation).norm(), 1e-12);
  EXPECT_LT((found->translation - some_similarity().translation).norm(), 1e-10);
}

TEST(FitSimilarity, NeverMirrors) {
  // A planar figure fits its mirror image exactly by a turn in space; a body must not be turned
  // inside out.
  const std::vector<Eigen::Vector3d> source{{0, 0, 0}, {10, 0, 0}, {0, 7, 0}, {0, 0, 5}};
  std::vector<Eigen::Vector3d> mirrored;
  for (const auto& p : source) mirrored.emplace_back(-p.x(), p.y(), p.z());
  const auto found = fit_similarity(source, mirrored);
  ASSERT_TRUE(found);
  EXPECT_NEAR(found->rotation.determinant(), 1.0, 1e-12);
}

TEST(FitSimilarity, RefusesPointsInALine) {
  const std::vector<Eigen::Vector3d> line{{0, 0, 0}, {1, 1, 1}, {2, 2, 2}, {5, 5, 5}};
  EXPECT_FALSE(fit_similarity(line, line));
  EXPECT_FALSE(fit_similarity(std::span(line).first(2), std::span(line).first(2)));
}

TEST(Transform, LeavesWhatThePhotosShow) {
  Orientation orientation;
  const calib::Pose pose{{0.1, -0.2, 0.3}, {1, 2, 60}};
  const Eigen::Vector3d point(3, 4, 5);
  orientation.poses = {pose, std::nullopt};
  orientation.points = {point, std::nullopt};
  const Eigen::Vector3d before = pose.rotation_matrix() * point + pose.translation;
  transform(orientation, some_similarity());
  const Eigen::Vector3d after = orientation.poses[0]->rotation_matrix() * *orientation.points[0] +
                                orientation.poses[0]->translation;
  EXPECT_LT((after - 2.5 * before).norm(), 1e-12);
  EXPECT_FALSE(orientation.poses[1] || orientation.points[1]);
}

TEST(ScaleBy, MultipliesEveryLength) {
  Orientation orientation;
  orientation.poses = {calib::Pose{{0.1, -0.2, 0.3}, {1, 2, 60}}};
  orientation.points = {Eigen::Vector3d(3, 4, 5), Eigen::Vector3d(0, 0, 1)};
  const Eigen::Vector3d centre = orientation.poses[0]->centre();
  scale_by(orientation, 150.0);
  EXPECT_LT((orientation.poses[0]->centre() - 150 * centre).norm(), 1e-10);
  EXPECT_LT((*orientation.points[0] - Eigen::Vector3d(450, 600, 750)).norm(), 1e-12);
}

}  // namespace
}  // namespace measure
