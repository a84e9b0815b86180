// Intersection of rays from oriented photos.
#include "measure/orient/triangulate.h"

#include <algorithm>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/photo_ring.h"

namespace measure {
namespace {

using testing_support::make_photo_ring;
using testing_support::PhotoRing;

/// Marks of the ring's first point that is seen twice, or of the given one.
std::vector<OrientedMark> marks_of(const PhotoRing& ring, int point) {
  std::vector<OrientedMark> marks;
  for (const auto& mark : ring.marks) {
    if (mark.point != point) continue;
    const calib::Intrinsics& camera = ring.cameras[mark.photo];
    const calib::Pose& pose = ring.true_poses[mark.photo];
    Eigen::Matrix3d calibration;
    calibration << camera.fx, 0, camera.cx, 0, camera.fy, camera.cy, 0, 0, 1;
    OrientedMark oriented;
    oriented.image_from_object << calibration * pose.rotation_matrix(),
        calibration * pose.translation;
    const auto undistorted = calib::undistort(camera, mark.position_px);
    if (!undistorted) continue;
    oriented.position_px = *undistorted;
    marks.push_back(oriented);
  }
  return marks;
}

int seen_often(const PhotoRing& ring) {
  std::vector<int> seen(ring.point_names.size(), 0);
  for (const auto& mark : ring.marks) ++seen[mark.point];
  return static_cast<int>(std::max_element(seen.begin(), seen.end()) - seen.begin());
}

TEST(Triangulate, FindsAPointWithinItsRounding) {
  const PhotoRing ring = make_photo_ring({.photo_count = 6, .arc_rad = 1.5, .point_count = 100});
  const int point = seen_often(ring);
  const auto found = triangulate(marks_of(ring, point));
  ASSERT_TRUE(found);
  EXPECT_LT((*found - ring.true_points[point]).norm(), 1e-7);  // px of 1e-10, unit rows of 600 mm
}

TEST(Triangulate, RefusesPhotosTakenFromOneDirection) {
  const PhotoRing ring = make_photo_ring({.photo_count = 4, .arc_rad = 0.01, .point_count = 100});
  // Every second photo of the ring stands lower: those of one height only.
  std::vector<OrientedMark> marks = marks_of(ring, seen_often(ring));
  ASSERT_EQ(marks.size(), 4u);
  const auto found = triangulate(std::vector<OrientedMark>{marks[0], marks[2]});
  ASSERT_FALSE(found);
  EXPECT_EQ(found.error(), TriangulationError::kRaysNearlyParallel);
}

TEST(Triangulate, RefusesOneMark) {
  const PhotoRing ring = make_photo_ring({.photo_count = 2, .point_count = 100});
  const auto found = triangulate(std::vector<OrientedMark>{marks_of(ring, seen_often(ring))[0]});
  ASSERT_FALSE(found);
  EXPECT_EQ(found.error(), TriangulationError::kTooFewPhotos);
}

TEST(Triangulate, RefusesRaysThatMeetBehindTheCameras) {
  // Two cameras side by side, looking along +z, whose rays spread apart.
  OrientedMark left, right;
  left.image_from_object << 1, 0, 0, 10, 0, 1, 0, 0, 0, 0, 1, 0;    // stands at x = −10
  right.image_from_object << 1, 0, 0, -10, 0, 1, 0, 0, 0, 0, 1, 0;  // at x = +10
  left.position_px = {-0.2, 0};
  right.position_px = {0.2, 0};
  const auto found = triangulate(std::vector<OrientedMark>{left, right});
  ASSERT_FALSE(found);
  EXPECT_EQ(found.error(), TriangulationError::kBehindCamera);
}

TEST(DescribeTriangulationError, NamesThePointAndTheRemedy) {
  EXPECT_THAT(
      describe(TriangulationError::kTooFewPhotos, "rivet 7"),
      testing::AllOf(testing::HasSubstr("rivet 7"), testing::HasSubstr("mark it in a second one")));
  EXPECT_THAT(describe(TriangulationError::kRaysNearlyParallel, "rivet 7"),
              testing::HasSubstr("further to the side"));
  EXPECT_THAT(describe(TriangulationError::kBehindCamera, "rivet 7"),
              testing::HasSubstr("check them"));
}

}  // namespace
}  // namespace measure
