#include "measure/sheet/label_place.h"

#include <random>

#include <gtest/gtest.h>

namespace measure {
namespace {

const PageBox kPage{{10.0, 10.0}, {200.0, 287.0}};

struct Scene {
  std::vector<LabelBox> labels;
  std::vector<PageSegment> lines;
  std::vector<PageBox> blocked;
};

/// Labels crowded in the middle of an A4 page, over lines, each anchor under a symbol.
Scene crowded_scene(int count, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> spread(0.0, 1.0);
  std::uniform_real_distribution<double> width(6.0, 20.0);
  Scene scene;
  for (int i = 0; i < count; ++i) {
    LabelBox label;
    label.anchor = {105.0 + 35.0 * spread(random), 148.0 + 55.0 * spread(random)};
    label.anchor = label.anchor.cwiseMax(kPage.low).cwiseMin(kPage.high);
    label.size = {width(random), 2.5};
    label.gap = 0.5;
    scene.labels.push_back(label);
    const Eigen::Vector2d symbol = Eigen::Vector2d::Constant(0.5);
    scene.blocked.push_back({label.anchor - symbol, label.anchor + symbol});
    if (i > 0 && i % 3 == 0) {
      scene.lines.push_back({scene.labels[scene.labels.size() - 2].anchor, label.anchor});
    }
  }
  return scene;
}

TEST(PlaceLabels, FindsRoomForThreeHundredLabelsOnAPageAndNoneOverlaps) {
  const Scene scene = crowded_scene(300, 7);
  const auto placed = place_labels(scene.labels, scene.lines, scene.blocked, {.frame = kPage});
  ASSERT_EQ(placed.size(), 300u);
  for (std::size_t i = 0; i < placed.size(); ++i) {
    ASSERT_TRUE(placed[i].placed) << i;
    EXPECT_TRUE((placed[i].box.low.array() >= kPage.low.array() - 1e-9).all() &&
                (placed[i].box.high.array() <= kPage.high.array() + 1e-9).all());
    EXPECT_LT((placed[i].box.high - placed[i].box.low - scene.labels[i].size).norm(), 1e-9);
    for (std::size_t j = 0; j < i; ++j) {
      EXPECT_FALSE(overlap(placed[i].box, placed[j].box)) << i << " on " << j;
    }
    for (const PageBox& symbol : scene.blocked) {
      EXPECT_FALSE(overlap(placed[i].box, symbol));
    }
  }
}

TEST(PlaceLabels, KeepsOffEveryLineWhereAskedTo) {
  const Scene scene = crowded_scene(120, 11);
  const auto placed = place_labels(scene.labels, scene.lines, scene.blocked,
                                   {.frame = kPage, .keep_off_lines = true});
  int crossed_otherwise = 0;
  for (const PlacedLabel& label :
       place_labels(scene.labels, scene.lines, scene.blocked, {.frame = kPage})) {
    crossed_otherwise += label.lines_crossed;
  }
  EXPECT_GT(crossed_otherwise, 0);  // or the scene would prove nothing
  for (const PlacedLabel& label : placed) {
    ASSERT_TRUE(label.placed);
    for (const PageSegment& line : scene.lines) {
      EXPECT_FALSE(crosses(line, label.box));
    }
  }
}

TEST(PlaceLabels, LeavesOutWhatFindsNoPlaceNearEnough) {
  Scene scene = crowded_scene(120, 11);
  for (std::size_t i = 0; i < scene.labels.size(); i += 2) {
    scene.labels[i].longest_leader = 4.0;
  }
  const auto placed = place_labels(scene.labels, scene.lines, scene.blocked,
                                   {.frame = kPage, .keep_off_lines = true});
  int left_out = 0;
  for (std::size_t i = 0; i < placed.size(); ++i) {
    left_out += placed[i].placed ? 0 : 1;
    ASSERT_TRUE(placed[i].placed || i % 2 == 0) << i;
    if (placed[i].placed && placed[i].leader && i % 2 == 0) {
      EXPECT_LE((placed[i].leader_to - scene.labels[i].anchor).norm(), 4.0 + 1e-9);
    }
  }
  EXPECT_GT(left_out, 0);
  EXPECT_LT(left_out, 60);
}

TEST(PlaceLabels, GivesTheSamePlacesAgain) {
  const Scene scene = crowded_scene(120, 3);
  const auto first = place_labels(scene.labels, scene.lines, scene.blocked, {.frame = kPage});
  const auto second = place_labels(scene.labels, scene.lines, scene.blocked, {.frame = kPage});
  for (std::size_t i = 0; i < first.size(); ++i) {
    EXPECT_EQ(first[i].box, second[i].box);
  }
}

TEST(PlaceLabels, PutsALoneLabelBesideItsAnchorWithoutALeader) {
  const std::vector<LabelBox> labels = {{.anchor = {100, 100}, .size = {12, 2.5}, .gap = 0.5}};
  const auto placed = place_labels(labels, {}, {}, {.frame = kPage});
  ASSERT_TRUE(placed[0].placed);
  EXPECT_FALSE(placed[0].leader);
  EXPECT_LT((placed[0].leader_to - labels[0].anchor).norm(), 2.5);
}

TEST(PlaceLabels, TakesTheWantedSide) {
  for (const Eigen::Vector2d& side : {Eigen::Vector2d(-1, 0), Eigen::Vector2d(0, 3)}) {
    const std::vector<LabelBox> labels = {
        {.anchor = {100, 100}, .size = {12, 2.5}, .gap = 0.5, .wanted_side = side}};
    const auto placed = place_labels(labels, {}, {}, {.frame = kPage});
    const Eigen::Vector2d centre = 0.5 * (placed[0].box.low + placed[0].box.high);
    EXPECT_GT((centre - labels[0].anchor).normalized().dot(side.normalized()), 0.99);
  }
}

TEST(PlaceLabels, KeepsOffDrawnLines) {
  const std::vector<LabelBox> labels = {{.anchor = {100, 100}, .size = {12, 2.5}}};
  // A fan of lines to the right, where it would stand else.
  std::vector<PageSegment> lines;
  for (int i = -8; i <= 8; ++i) {
    lines.push_back({{100, 100}, {130, 100.0 + 3.0 * i}});
  }
  const auto placed = place_labels(labels, lines, {}, {.frame = kPage});
  EXPECT_EQ(placed[0].lines_crossed, 0);
  EXPECT_LT(placed[0].box.high.x(), 101.0);
}

TEST(PlaceLabels, DrawsALeaderWhereTheAnchorIsWalledIn) {
  const std::vector<LabelBox> labels = {{.anchor = {100, 100}, .size = {12, 2.5}}};
  const std::vector<PageBox> blocked = {{{80, 90}, {120, 110}}};
  const auto placed = place_labels(labels, {}, blocked, {.frame = kPage});
  ASSERT_TRUE(placed[0].placed);
  EXPECT_TRUE(placed[0].leader);
  EXPECT_FALSE(overlap(placed[0].box, blocked[0]));
}

TEST(PlaceLabels, SaysWhereAFrameHasNoRoom) {
  const std::vector<LabelBox> labels = {{.anchor = {5, 5}, .size = {8, 3}},
                                        {.anchor = {5, 5}, .size = {8, 3}},
                                        {.anchor = {5, 5}, .size = {12, 3}}};
  const auto placed = place_labels(labels, {}, {}, {.frame = {{0, 0}, {10, 4}}});
  EXPECT_EQ(placed[0].placed + placed[1].placed, 1);
  EXPECT_FALSE(placed[2].placed);
}

TEST(Crosses, CountsNoTouchOfABorder) {
  const PageBox box{{0, 0}, {2, 1}};
  EXPECT_TRUE(crosses(PageSegment{{-1, 0.5}, {3, 0.5}}, box));
  EXPECT_TRUE(crosses(PageSegment{{0.5, 0.5}, {0.6, 0.5}}, box));
  EXPECT_FALSE(crosses(PageSegment{{-1, 1}, {3, 1}}, box));
  EXPECT_FALSE(crosses(PageSegment{{-1, 1}, {0, 2}}, box));
  EXPECT_FALSE(crosses(PageSegment{{3, 0.5}, {4, 0.5}}, box));
  EXPECT_TRUE(crosses(PageSegment{{0, 0}, {2, 2}}, PageSegment{{0, 2}, {2, 0}}));
  EXPECT_FALSE(crosses(PageSegment{{0, 0}, {2, 2}}, PageSegment{{2, 2}, {4, 0}}));
}

}  // namespace
}  // namespace measure
