#include "calib/board/judge_set.h"

#include <algorithm>

#include <gtest/gtest.h>

namespace calib {
namespace {

FoundBoard board_at(const Eigen::Vector2d& first_px, ImageSize size = {3000, 2000},
                    BoardSpec board = {9, 6, 25.0}) {
  FoundBoard found;
  found.board = board;
  found.size = size;
  for (const auto& at_mm : corner_positions_mm(board)) {
    BoardCorner corner;
    corner.position_px = first_px + 4.0 * at_mm.head<2>();
    corner.covariance_px2 = Eigen::Matrix2d::Identity() * 1e-4;
    corner.square_px = 100.0;
    found.corners.push_back(corner);
  }
  return found;
}

TEST(JudgeSet, KeepsDifferentViewsOfOneSize) {
  const auto a = board_at({200.0, 300.0}), b = board_at({220.0, 300.0}),
             c = board_at({900.0, 700.0});
  const auto verdicts =
      judge_set(std::vector<SetPhoto>{{"a", &a}, {"b", &b}, {"none", nullptr}, {"c", &c}});
  EXPECT_TRUE(
      std::none_of(verdicts.begin(), verdicts.end(), [](const auto& v) { return v.has_value(); }));
}

TEST(JudgeSet, RefusesAnotherSizeAndSaysWhenAPhotoWasTurned) {
  const auto a = board_at({200.0, 300.0}), b = board_at({400.0, 300.0});
  const auto small = board_at({200.0, 300.0}, {1500, 1000}),
             turned = board_at({200.0, 300.0}, {2000, 3000});
  const auto verdicts = judge_set(
      std::vector<SetPhoto>{{"small", &small}, {"a", &a}, {"turned", &turned}, {"b", &b}});
  ASSERT_TRUE(verdicts[0]);
  EXPECT_EQ(verdicts[0]->kind, PhotoRefusalKind::kAnotherSize);
  EXPECT_NE(describe(*verdicts[0], "small").find("1500x1000 in place of 3000x2000"),
            std::string::npos);
  EXPECT_FALSE(verdicts[1]);
  ASSERT_TRUE(verdicts[2]);
  EXPECT_NE(describe(*verdicts[2], "turned").find("turned"), std::string::npos);
  EXPECT_FALSE(verdicts[3]);
}

TEST(JudgeSet, RefusesTheSameViewAndNamesTheOther) {
  const auto a = board_at({200.0, 300.0}), again = board_at({202.0, 298.0});
  const auto verdicts = judge_set(std::vector<SetPhoto>{{"a.jpg", &a}, {"again.jpg", &again}});
  EXPECT_FALSE(verdicts[0]);
  ASSERT_TRUE(verdicts[1]);
  EXPECT_EQ(verdicts[1]->kind, PhotoRefusalKind::kSameView);
  EXPECT_NE(describe(*verdicts[1], "again.jpg").find("just as a.jpg"), std::string::npos);
}

TEST(JudgeSet, SeesThroughTheOrderOfABoardThatLooksTheSameWhenTurned) {
  const BoardSpec board{7, 7, 25.0};
  const auto a = board_at({200.0, 300.0}, {3000, 2000}, board);
  auto half = a, quarter = a;
  std::reverse(half.corners.begin(), half.corners.end());
  for (int row = 0; row < 7; ++row) {
    for (int column = 0; column < 7; ++column) {
      quarter.corners[static_cast<std::size_t>(row * 7 + column)] =
          a.corners[static_cast<std::size_t>((6 - column) * 7 + row)];
    }
  }
  for (const auto& turned : {half, quarter}) {
    const auto verdicts = judge_set(std::vector<SetPhoto>{{"a", &a}, {"b", &turned}});
    ASSERT_TRUE(verdicts[1]);
    EXPECT_EQ(verdicts[1]->kind, PhotoRefusalKind::kSameView);
  }
}

TEST(JudgeSet, ListsMixedBodiesLensesAndFocalLengths) {
  LensAndBody near{"Kestrel Works", "K-3", "Macro 60 mm", 60.0, std::nullopt};
  LensAndBody far = near;
  far.focal_length_mm = 85.0;
  const LensAndBody silent;
  EXPECT_FALSE(
      mixed_cameras(std::vector<PhotoCamera>{{"a.jpg", near}, {"b.jpg", near}, {"c.jpg", silent}}));
  const auto mixed =
      mixed_cameras(std::vector<PhotoCamera>{{"a.jpg", near}, {"b.jpg", far}, {"c.jpg", near}});
  ASSERT_TRUE(mixed);
  EXPECT_EQ(mixed->blame, Blame::kInput);
  for (const std::string words : {"2 cameras", "60 mm: a.jpg, c.jpg", "85 mm: b.jpg"}) {
    EXPECT_NE(mixed->sentence.find(words), std::string::npos) << mixed->sentence;
  }
}

}  // namespace
}  // namespace calib
