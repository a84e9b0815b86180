// Orientation from marks alone, on surveys whose answer is known.
#include "measure/orient/orient.h"

#include <algorithm>
#include <limits>
#include <numbers>
#include <numeric>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "measure/orient/similarity.h"
#include "tests/support/photo_ring.h"

namespace measure {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;
using testing_support::make_photo_ring;
using testing_support::OriginalShape;
using testing_support::PhotoLayout;
using testing_support::PhotoRing;

OrientationInput input_of(const PhotoRing& ring) {
  OrientationInput input;
  for (std::size_t i = 0; i < ring.photo_names.size(); ++i) {
    input.photos.push_back({ring.photo_names[i], ring.cameras[i], ring.image_size});
  }
  input.point_names = ring.point_names;
  for (const auto& mark : ring.marks)
    input.marks.push_back({mark.photo, mark.point, mark.position_px, mark.sigma_px});
  return input;
}

/// Root mean square of the placed points' errors after the best similarity, millimetres.
double error_mm(const Orientation& found, const PhotoRing& truth) {
  std::vector<Eigen::Vector3d> from, to;
  for (std::size_t i = 0; i < found.points.size(); ++i) {
    if (!found.points[i]) continue;
    from.push_back(*found.points[i]);
    to.push_back(truth.true_points[i]);
  }
  const auto fit = fit_similarity(from, to);
  if (!fit) return std::numeric_limits<double>::infinity();
  double squared = 0;
  for (std::size_t i = 0; i < from.size(); ++i) squared += (*fit * from[i] - to[i]).squaredNorm();
  return std::sqrt(squared / static_cast<double>(from.size()));
}

int placed_photos(const Orientation& orientation) {
  return static_cast<int>(std::count_if(orientation.poses.begin(), orientation.poses.end(),
                                        [](const auto& p) { return p.has_value(); }));
}
int placed_points(const Orientation& orientation) {
  return static_cast<int>(std::count_if(orientation.points.begin(), orientation.points.end(),
                                        [](const auto& p) { return p.has_value(); }));
}

/// Marks for which `keep` says so.
template <typename Keep>
void keep_marks(PhotoRing& ring, Keep keep) {
  std::erase_if(ring.marks, [&](const auto& mark) { return !keep(mark); });
}

/// Points that all photos see, and nothing else: for tests that choose the marks themselves.
PhotoRing seen_by_all(int photo_count, int least_points) {
  PhotoRing ring =
      make_photo_ring({.photo_count = photo_count, .arc_rad = 1.0, .point_count = 300});
  std::vector<int> seen(ring.point_names.size(), 0);
  for (const auto& mark : ring.marks) ++seen[mark.point];
  keep_marks(ring, [&](const auto& mark) { return seen[mark.point] == photo_count; });
  EXPECT_GE(std::count(seen.begin(), seen.end(), photo_count), least_points);
  return ring;
}

/// Points that have a mark, ascending.
std::vector<int> marked_points(const PhotoRing& ring) {
  std::vector<int> points;
  for (const auto& mark : ring.marks) points.push_back(mark.point);
  std::sort(points.begin(), points.end());
  points.erase(std::unique(points.begin(), points.end()), points.end());
  return points;
}

TEST(Orient, RecoversAnExactSurveyExactly) {
  const PhotoRing ring = make_photo_ring({.photo_count = 6, .point_count = 120});
  const auto result = orient(input_of(ring));
  ASSERT_TRUE(result) << result.error().problem.sentence;
  ASSERT_EQ(result->solutions.size(), 1u);
  EXPECT_EQ(placed_photos(result->solutions[0]), 6);
  EXPECT_LT(error_mm(result->solutions[0], ring), 1e-9);
  EXPECT_LT(result->solutions[0].rms_px, 1e-6);
  EXPECT_THAT(result->gross_marks, IsEmpty());
}

TEST(Orient, PlacesThePosesThatBelongToThePoints) {
  const PhotoRing ring = make_photo_ring({.photo_count = 6, .point_count = 120});
  const auto result = orient(input_of(ring));
  ASSERT_TRUE(result);
  const Orientation& found = result->solutions[0];
  for (const auto& mark : ring.marks) {
    if (!found.poses[mark.photo] || !found.points[mark.point]) continue;
    const Eigen::Vector2d at = calib::project(ring.cameras[mark.photo], *found.poses[mark.photo],
                                              *found.points[mark.point]);
    EXPECT_LT((at - mark.position_px).norm(), 1e-5);
  }
}

TEST(Orient, GivesPointsAboutTheOriginWithRmsRadiusOne) {
  const auto result = orient(
      input_of(make_photo_ring({.photo_count = 6, .point_count = 120, .mark_noise_px = 0.5})));
  ASSERT_TRUE(result);
  Eigen::Vector3d sum = Eigen::Vector3d::Zero();
  double squared = 0;
  for (const auto& point : result->solutions[0].points) {
    if (!point) continue;
    sum += *point;
    squared += point->squaredNorm();
  }
  const int count = placed_points(result->solutions[0]);
  EXPECT_LT(sum.norm(), 1e-10 * count);
  EXPECT_NEAR(squared / count, 1.0, 1e-10);
}

// What a point is worth: σ 0.5 px at 2300 px and 600 mm is 0.13 mm across, two to three times that
// in depth. The bound allows for points with two marks.
constexpr double kNoisyErrorMm = 0.6;

TEST(Orient, ComesCloseToTheTruthWithNoiseOfHalfAPixel) {
  for (const std::uint32_t seed : {1u, 2u, 3u, 4u}) {
    const PhotoRing ring =
        make_photo_ring({.photo_count = 8, .point_count = 120, .mark_noise_px = 0.5, .seed = seed});
    const auto result = orient(input_of(ring));
    ASSERT_TRUE(result) << result.error().problem.sentence;
    ASSERT_EQ(result->solutions.size(), 1u);
    EXPECT_EQ(placed_photos(result->solutions[0]), 8);
    EXPECT_LT(error_mm(result->solutions[0], ring), kNoisyErrorMm);
  }
}

TEST(Orient, ClosesARingWhoseOppositePhotosShareNothing) {
  for (const std::uint32_t seed : {1u, 2u, 3u}) {
    const PhotoRing ring = make_photo_ring({.photo_count = 16,
                                            .arc_rad = 2 * std::numbers::pi,
                                            .point_count = 300,
                                            .visible_angle_rad = 0.9,
                                            .mark_noise_px = 0.5,
                                            .seed = seed});
    const auto result = orient(input_of(ring));
    ASSERT_TRUE(result) << result.error().problem.sentence;
    ASSERT_EQ(result->solutions.size(), 1u);
    EXPECT_EQ(placed_photos(result->solutions[0]), 16);
    EXPECT_EQ(result->groups.size(), 1u);
    EXPECT_LT(error_mm(result->solutions[0], ring), kNoisyErrorMm);
  }
}

TEST(Orient, WorksOnPhotosFromAllAround) {
  const PhotoRing ring = make_photo_ring({.photo_count = 20,
                                          .layout = PhotoLayout::kAllAround,
                                          .point_count = 150,
                                          .mark_noise_px = 0.5});
  const auto result = orient(input_of(ring));
  ASSERT_TRUE(result) << result.error().problem.sentence;
  ASSERT_EQ(result->solutions.size(), 1u);
  EXPECT_EQ(placed_photos(result->solutions[0]), 20);
  EXPECT_EQ(placed_points(result->solutions[0]), 150);
  EXPECT_LT(error_mm(result->solutions[0], ring), kNoisyErrorMm);
}

TEST(Orient, OrientsAPlanarOriginalFromSixPhotos) {
  for (const double noise_px : {0.0, 0.5}) {
    for (const std::uint32_t seed : {1u, 2u, 3u, 4u, 5u}) {
      const PhotoRing ring = make_photo_ring({.photo_count = 6,
                                              .arc_rad = 2 * std::numbers::pi,
                                              .elevation_rad = 0.9,
                                              .point_count = 40,
                                              .shape = OriginalShape::kPlane,
                                              .mark_noise_px = noise_px,
                                              .seed = seed});
      const auto result = orient(input_of(ring));
      ASSERT_TRUE(result) << result.error().problem.sentence;
      ASSERT_EQ(result->solutions.size(), 1u);
      EXPECT_EQ(placed_photos(result->solutions[0]), 6);
      EXPECT_LT(error_mm(result->solutions[0], ring), noise_px > 0 ? kNoisyErrorMm : 1e-6);
    }
  }
}

TEST(Orient, OrientsTwoPhotosOfABody) {
  const PhotoRing ring =
      make_photo_ring({.photo_count = 2, .arc_rad = 0.5, .point_count = 120, .mark_noise_px = 0.5});
  const auto result = orient(input_of(ring));
  ASSERT_TRUE(result) << result.error().problem.sentence;
  ASSERT_EQ(result->solutions.size(), 1u) << result->ambiguity;
  EXPECT_EQ(placed_photos(result->solutions[0]), 2);
  EXPECT_LT(error_mm(result->solutions[0], ring), 2 * kNoisyErrorMm);
}

/// A plane from two photos whose second solution has all points before both cameras, too.
PhotoRing ambiguous_plane(double noise_px) {
  return make_photo_ring({.photo_count = 2,
                          .arc_rad = 0.5,
                          .elevation_rad = 0.9,
                          .point_count = 40,
                          .shape = OriginalShape::kPlane,
                          .mark_noise_px = noise_px,
                          .seed = 2});
}

TEST(Orient, GivesBothShapesThatTwoPhotosOfAPlaneAllow) {
  for (const double noise_px : {0.0, 0.5}) {
    const PhotoRing ring = ambiguous_plane(noise_px);
    const auto result = orient(input_of(ring));
    ASSERT_TRUE(result) << result.error().problem.sentence;
    ASSERT_EQ(result->solutions.size(), 2u);
    EXPECT_THAT(result->ambiguity, HasSubstr("add a third photo"));
    // One is the truth, the other is nothing like it; with noise the wrong one may well fit better.
    const double first = error_mm(result->solutions[0], ring),
                 second = error_mm(result->solutions[1], ring);
    EXPECT_LT(std::min(first, second), 1.5);
    EXPECT_GT(std::max(first, second), 15.0);
    for (const Orientation& solution : result->solutions) {
      for (std::size_t photo = 0; photo < 2; ++photo) {
        for (const auto& point : solution.points) {
          ASSERT_TRUE(point && solution.poses[photo]);
          EXPECT_GT((solution.poses[photo]->rotation_matrix() * *point +
                     solution.poses[photo]->translation)
                        .z(),
                    0.0);
        }
      }
    }
  }
}

TEST(Orient, NeverTakesTheWrongShapeOfAPlaneForTheOnlyOne) {
  for (std::uint32_t seed = 1; seed <= 25; ++seed) {
    const PhotoRing ring = make_photo_ring({.photo_count = 2,
                                            .arc_rad = 0.4,
                                            .elevation_rad = 1.1,
                                            .point_count = 25,
                                            .shape = OriginalShape::kPlane,
                                            .mark_noise_px = 0.5,
                                            .seed = seed});
    const auto result = orient(input_of(ring));
    ASSERT_TRUE(result) << result.error().problem.sentence;
    double nearest = std::numeric_limits<double>::infinity();
    for (const Orientation& solution : result->solutions)
      nearest = std::min(nearest, error_mm(solution, ring));
    EXPECT_LT(nearest, 4.0) << "seed " << seed;
  }
}

TEST(Orient, LeavesGrossBlundersAndSwappedNamesOut) {
  for (const std::uint32_t seed : {1u, 4u, 5u}) {
    const PhotoRing ring = make_photo_ring({.photo_count = 16,
                                            .arc_rad = 2 * std::numbers::pi,
                                            .point_count = 120,
                                            .mark_noise_px = 0.5,
                                            .blunder_share = 0.03,
                                            .swapped_pairs = 2,
                                            .seed = seed});
    const auto result = orient(input_of(ring));
    ASSERT_TRUE(result) << result.error().problem.sentence;
    ASSERT_EQ(result->solutions.size(), 1u);
    EXPECT_EQ(placed_photos(result->solutions[0]), 16);
    int wrong = 0, caught = 0;
    for (std::size_t i = 0; i < ring.marks.size(); ++i) {
      const bool left_out = std::binary_search(result->gross_marks.begin(),
                                               result->gross_marks.end(), static_cast<int>(i));
      if (ring.marks[i].wrong) {
        ++wrong;
        if (left_out) ++caught;
      } else {
        EXPECT_FALSE(left_out) << "a good mark of " << ring.point_names[ring.marks[i].point];
      }
    }
    // A blunder along the ray of the only other photo cannot be seen; nor one of a point that it
    // keeps unplaced.
    EXPECT_GE(caught, 0.75 * wrong);
    EXPECT_GT(wrong, 5);
  }
}

TEST(Orient, BearsMarksThatAreSixTimesWorseThanTheirSigma) {
  for (const std::uint32_t seed : {1u, 2u, 3u}) {
    const PhotoRing ring =
        make_photo_ring({.photo_count = 8, .point_count = 120, .mark_noise_px = 3.0, .seed = seed});
    const auto result = orient(input_of(ring));
    ASSERT_TRUE(result) << result.error().problem.sentence;
    ASSERT_EQ(result->solutions.size(), 1u);
    EXPECT_EQ(placed_photos(result->solutions[0]), 8);
    EXPECT_LT(error_mm(result->solutions[0], ring), 6 * kNoisyErrorMm);
  }
}

TEST(Orient, DoesNotDependOnTheOrderOfPhotosPointsAndMarks) {
  const PhotoRing ring = make_photo_ring({.photo_count = 10,
                                          .arc_rad = 4.0,
                                          .point_count = 100,
                                          .mark_noise_px = 0.5,
                                          .blunder_share = 0.01});
  const OrientationInput input = input_of(ring);
  const auto straight = orient(input);
  ASSERT_TRUE(straight);
  std::mt19937 random(5);
  std::vector<int> photo_at(input.photos.size()), point_at(input.point_names.size());
  std::iota(photo_at.begin(), photo_at.end(), 0);
  std::iota(point_at.begin(), point_at.end(), 0);
  std::shuffle(photo_at.begin(), photo_at.end(), random);
  std::shuffle(point_at.begin(), point_at.end(), random);
  OrientationInput shuffled = input;
  for (std::size_t i = 0; i < photo_at.size(); ++i) shuffled.photos[photo_at[i]] = input.photos[i];
  for (std::size_t i = 0; i < point_at.size(); ++i)
    shuffled.point_names[point_at[i]] = input.point_names[i];
  for (MarkToOrient& mark : shuffled.marks) {
    mark.photo = photo_at[mark.photo];
    mark.point = point_at[mark.point];
  }
  std::shuffle(shuffled.marks.begin(), shuffled.marks.end(), random);
  const auto other = orient(shuffled);
  ASSERT_TRUE(other);
  for (std::size_t i = 0; i < point_at.size(); ++i) {
    const auto &a = straight->solutions[0].points[i], &b = other->solutions[0].points[point_at[i]];
    ASSERT_EQ(a.has_value(), b.has_value());
    if (a) {
      EXPECT_LT((*a - *b).norm(), 1e-9);
    }
  }
  for (std::size_t i = 0; i < photo_at.size(); ++i) {
    const auto &a = straight->solutions[0].poses[i], &b = other->solutions[0].poses[photo_at[i]];
    ASSERT_EQ(a.has_value(), b.has_value());
    if (a) {
      EXPECT_LT((a->vector() - b->vector()).norm(), 1e-8);
    }
  }
}

TEST(Orient, NamesAPhotoThatNeedsMoreMarks) {
  PhotoRing ring = seen_by_all(6, 20);
  const std::vector<int> points = marked_points(ring);
  keep_marks(ring, [&](const auto& mark) {
    return mark.photo != 3 || mark.point == points[0] || mark.point == points[7];
  });
  const auto result = orient(input_of(ring));
  ASSERT_TRUE(result) << result.error().problem.sentence;
  EXPECT_EQ(placed_photos(result->solutions[0]), 5);
  EXPECT_FALSE(result->solutions[0].poses[3]);
  EXPECT_EQ(result->photo_lacks[3], "needs 2 more marks on points seen elsewhere");
  EXPECT_THAT(result->photo_lacks[2], IsEmpty());
}

TEST(Orient, NamesPhotosWithoutMarksAndPointsWithTooFew) {
  PhotoRing ring = seen_by_all(6, 20);
  const std::vector<int> points = marked_points(ring);
  keep_marks(ring, [&](const auto& mark) {
    if (mark.photo == 5 || mark.point == points[1]) return false;
    return mark.point != points[0] || mark.photo == 2;
  });
  const auto result = orient(input_of(ring));
  ASSERT_TRUE(result) << result.error().problem.sentence;
  EXPECT_THAT(result->photo_lacks[5], HasSubstr("has no marks"));
  EXPECT_EQ(result->point_lacks[points[0]], "is marked in one photo only: mark it in a second one");
  EXPECT_THAT(result->point_lacks[points[1]], HasSubstr("is not marked"));
}

/// Photos 0–3 and 4–7 see different points, but for `shared` ones; which photo of the second group
/// marks them?
template <typename MarkedBySecond>
PhotoRing two_groups(int shared, MarkedBySecond marked_by_second) {
  PhotoRing ring = seen_by_all(8, 30);
  const std::vector<int> points = marked_points(ring);
  const auto rank = [&](int point) {
    return static_cast<int>(std::lower_bound(points.begin(), points.end(), point) - points.begin());
  };
  keep_marks(ring, [&](const auto& mark) {
    const int number = rank(mark.point);
    const bool second_group = mark.photo >= 4;
    if (number < shared) return !second_group || marked_by_second(mark.photo, number);
    return (number % 2 == 1) == second_group;
  });
  return ring;
}

TEST(Orient, NeverGluesTwoGroupsThatShareTwoPoints) {
  const PhotoRing ring = two_groups(2, [](int, int) { return true; });
  const auto result = orient(input_of(ring));
  ASSERT_TRUE(result) << result.error().problem.sentence;
  ASSERT_EQ(result->groups.size(), 2u);
  EXPECT_EQ(result->groups[0].photos.size(), 4u);
  EXPECT_EQ(result->groups[1].photos.size(), 4u);
  EXPECT_EQ(placed_photos(result->solutions[0]), 4);
  for (const int photo : result->groups[1].photos) {
    EXPECT_THAT(result->photo_lacks[photo], HasSubstr("group of its own"));
    EXPECT_THAT(result->photo_lacks[photo], HasSubstr("only 2 points"));
  }
  EXPECT_LT(error_mm(result->solutions[0], ring), 1e-6);
}

TEST(Orient, NeverGluesTwoGroupsThatOnePairWithThreeCommonPointsConnects) {
  const PhotoRing ring = two_groups(3, [](int photo, int) { return photo == 4; });
  const auto result = orient(input_of(ring));
  ASSERT_TRUE(result) << result.error().problem.sentence;
  ASSERT_EQ(result->groups.size(), 2u);
  EXPECT_EQ(placed_photos(result->solutions[0]), 4);
}

TEST(Orient, JoinsTwoGroupsBySixPointsThatNoSinglePhotoSeesAll) {
  // Each photo of the second group marks three of the six: too few for a resection, together
  // enough.
  const PhotoRing ring =
      two_groups(6, [](int photo, int number) { return (photo < 6) == (number < 3); });
  const auto result = orient(input_of(ring));
  ASSERT_TRUE(result) << result.error().problem.sentence;
  EXPECT_EQ(result->groups.size(), 1u);
  EXPECT_EQ(placed_photos(result->solutions[0]), 8);
  EXPECT_LT(error_mm(result->solutions[0], ring), 1e-6);
}

TEST(Orient, OrientsTheLargerGroup) {
  PhotoRing ring = two_groups(0, [](int, int) { return false; });
  keep_marks(ring, [](const auto& mark) { return mark.photo != 1; });
  const auto result = orient(input_of(ring));
  ASSERT_TRUE(result) << result.error().problem.sentence;
  ASSERT_EQ(result->groups.size(), 2u);
  EXPECT_THAT(result->groups[0].photos, testing::ElementsAre(4, 5, 6, 7));
  EXPECT_THAT(result->groups[1].photos, testing::ElementsAre(0, 2, 3));
  EXPECT_THAT(result->photo_lacks[0], HasSubstr("shares no points"));
}

void expect_failure(const PhotoRing& ring, OrientationError error, const std::string& remedy) {
  const auto result = orient(input_of(ring));
  ASSERT_FALSE(result);
  EXPECT_EQ(result.error().error, error) << result.error().problem.sentence;
  EXPECT_THAT(result.error().problem.sentence, HasSubstr(remedy));
  EXPECT_EQ(result.error().problem.blame, calib::Blame::kSurvey);
}

TEST(Orient, RefusesPhotosFromOneSpot) {
  for (const std::uint32_t seed : {1u, 2u, 3u, 4u}) {
    expect_failure(make_photo_ring({.layout = PhotoLayout::kOneSpot,
                                    .point_count = 120,
                                    .mark_noise_px = 0.5,
                                    .blunder_share = seed % 2 == 0 ? 0.03 : 0.0,
                                    .seed = seed}),
                   OrientationError::kOneSpot, "Add photos taken from further to the side");
  }
}

TEST(Orient, RefusesPointsInOneLine) {
  for (const std::uint32_t seed : {1u, 2u, 3u, 4u}) {
    expect_failure(make_photo_ring({.shape = OriginalShape::kLine,
                                    .mark_noise_px = 0.5,
                                    .blunder_share = seed % 2 == 0 ? 0.02 : 0.0,
                                    .seed = seed}),
                   OrientationError::kPointsInLine, "mark points off that line");
  }
}

TEST(Orient, RefusesTwoPhotosWithFiveCommonPointsAndNamesThem) {
  PhotoRing ring = seen_by_all(2, 20);
  const std::vector<int> points = marked_points(ring);
  keep_marks(ring, [&](const auto& mark) { return mark.point <= points[4]; });
  expect_failure(ring, OrientationError::kTooFewCommonPoints,
                 "“photo_0001” and “photo_0002” come nearest with 5: mark 1 more point in both");
}

TEST(Orient, RefusesASinglePhoto) {
  PhotoRing ring = make_photo_ring({.photo_count = 3});
  keep_marks(ring, [](const auto& mark) { return mark.photo == 1; });
  expect_failure(ring, OrientationError::kTooFewPhotos, "mark the same points in a second one");
  keep_marks(ring, [](const auto&) { return false; });
  expect_failure(ring, OrientationError::kTooFewPhotos, "No photo has marks");
}

TEST(Orient, RefusesMarksWhoseNamesAreAllMixedUp) {
  PhotoRing ring = seen_by_all(2, 20);
  std::mt19937 random(1);
  std::vector<std::size_t> second;
  for (std::size_t i = 0; i < ring.marks.size(); ++i) {
    if (ring.marks[i].photo == 1) second.push_back(i);
  }
  for (std::size_t i = second.size() - 1; i > 0; --i) {
    std::swap(ring.marks[second[i]].position_px,
              ring.marks[second[random() % (i + 1)]].position_px);
  }
  expect_failure(ring, OrientationError::kContradiction, "names may be swapped");
}

TEST(Orient, StopsWhenCancelled) {
  const OrientationInput input =
      input_of(make_photo_ring({.photo_count = 16, .arc_rad = 6.0, .point_count = 150}));
  int asked = 0;
  const auto result = orient(input, {.cancelled = [&] { return ++asked > 20; }});
  ASSERT_FALSE(result);
  EXPECT_EQ(result.error().error, OrientationError::kCancelled);
}

TEST(Orient, OrientsAHundredPhotosOfTwoThousandPoints) {
  const PhotoRing ring = make_photo_ring({.photo_count = 100,
                                          .layout = PhotoLayout::kAllAround,
                                          .point_count = 2000,
                                          .marks_a_point = 6,
                                          .mark_noise_px = 0.5,
                                          .blunder_share = 0.01});
  const auto result = orient(input_of(ring));
  ASSERT_TRUE(result) << result.error().problem.sentence;
  ASSERT_EQ(result->solutions.size(), 1u);
  EXPECT_EQ(placed_photos(result->solutions[0]), 100);
  EXPECT_EQ(placed_points(result->solutions[0]), 2000);
  EXPECT_LT(error_mm(result->solutions[0], ring), kNoisyErrorMm);
}

}  // namespace
}  // namespace measure
