#include "measure/sheet/photo_choice.h"

#include <random>
#include <set>

#include <gtest/gtest.h>

namespace measure {
namespace {

TEST(ChooseViews, TakesThePhotoThatShowsMost) {
  // Photo 1 shows all three well; photo 0 shows the first a little better.
  const auto chosen =
      choose_views({{0, 0, 1.0}, {0, 1, 0.9}, {1, 1, 0.8}, {2, 1, 0.8}, {2, 0, 0.2}}, 3, 2);
  ASSERT_EQ(chosen.size(), 1u);
  EXPECT_EQ(chosen[0].photo, 1u);
  EXPECT_EQ(chosen[0].dimensions, (std::vector<std::size_t>{0, 1, 2}));
}

TEST(ChooseViews, LeavesOutWhatNoPhotoShows) {
  const auto chosen = choose_views({{0, 0, 1.0}, {1, 0, 0.0}}, 3, 1);
  ASSERT_EQ(chosen.size(), 1u);
  EXPECT_EQ(chosen[0].dimensions, (std::vector<std::size_t>{0}));
  EXPECT_TRUE(choose_views({}, 3, 2).empty());
}

TEST(ChooseViews, ShowsEveryDimensionOnceInAPhotoThatShowsItWellAndNoPictureIsCrowded) {
  std::mt19937 random(11);
  std::uniform_real_distribution<double> score(0, 1);
  for (int round = 0; round < 40; ++round) {
    const std::size_t dimensions = 1 + random() % 120, photos = 1 + random() % 25;
    std::vector<ViewScore> scores;
    std::vector<double> best(dimensions, 0);
    std::vector<std::vector<double>> of(photos, std::vector<double>(dimensions, 0));
    for (std::size_t d = 0; d < dimensions; ++d) {
      for (std::size_t p = 0; p < photos; ++p) {
        const double its = score(random);
        if (its < 0.5) continue;
        scores.push_back({d, p, its});
        of[p][d] = its;
        best[d] = std::max(best[d], its);
      }
    }
    std::set<std::size_t> shown;
    for (const ChosenView& view : choose_views(scores, dimensions, photos)) {
      EXPECT_LE(view.dimensions.size(), PhotoChoiceOptions{}.most_dimensions);
      for (const std::size_t d : view.dimensions) {
        EXPECT_TRUE(shown.insert(d).second) << "twice";
        EXPECT_GE(of[view.photo][d], 0.3 * best[d]);
      }
    }
    for (std::size_t d = 0; d < dimensions; ++d) EXPECT_EQ(shown.contains(d), best[d] > 0);
  }
}

}  // namespace
}  // namespace measure
