#include "calib/board/checkerboard.h"

#include <limits>

#include <gtest/gtest.h>

namespace calib {
namespace {

TEST(Checkerboard, CountsCornersRowByRowFromZeroInMillimetres) {
  const auto at_mm = corner_positions_mm({4, 3, 12.5});
  ASSERT_EQ(at_mm.size(), 12U);
  EXPECT_EQ(at_mm[0], Eigen::Vector3d(0.0, 0.0, 0.0));
  EXPECT_EQ(at_mm[3], Eigen::Vector3d(37.5, 0.0, 0.0));
  EXPECT_EQ(at_mm[4], Eigen::Vector3d(0.0, 12.5, 0.0));
  EXPECT_EQ(at_mm[11], Eigen::Vector3d(37.5, 25.0, 0.0));
}

TEST(Checkerboard, RefusesCountsAndSquaresThatNoBoardHas) {
  EXPECT_FALSE((BoardSpec{3, 3, 0.5}).first_problem());
  EXPECT_FALSE((BoardSpec{20, 20, 10.0}).first_problem());
  for (const BoardSpec& board :
       {BoardSpec{2, 6, 25.0}, BoardSpec{9, 41, 25.0}, BoardSpec{-9, 6, 25.0}}) {
    ASSERT_TRUE(board.first_problem());
    EXPECT_NE(board.first_problem()->find("from 3 to 40"), std::string::npos);
  }
  for (const double square_mm : {0.0, -1.0, 20000.0, std::numeric_limits<double>::quiet_NaN(),
                                 std::numeric_limits<double>::infinity()}) {
    ASSERT_TRUE((BoardSpec{9, 6, square_mm}).first_problem());
  }
}

TEST(Checkerboard, KnowsWhenColoursTellUpFromDown) {
  EXPECT_TRUE((BoardSpec{9, 6, 25.0}).tells_up_from_down());
  EXPECT_FALSE((BoardSpec{9, 7, 25.0}).tells_up_from_down());
  EXPECT_FALSE((BoardSpec{8, 6, 25.0}).tells_up_from_down());
}

}  // namespace
}  // namespace calib
