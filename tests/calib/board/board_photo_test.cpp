#include "calib/board/board_photo.h"

#include <gtest/gtest.h>
#include <opencv2/imgcodecs.hpp>

#include "calib/board/photo_hash.h"
#include "tests/calib/board/test_folder.h"
#include "tests/support/analytic_board.h"

namespace calib {
namespace {

class BoardPhotoFile : public testing_support::TestFolder {};

TEST_F(BoardPhotoFile, ComesWithCornersHashAndNameOrWithItsReason) {
  testing_support::AnalyticBoardSpec spec;
  spec.size = {1200, 800};
  spec.camera = {.fx = 1200.0, .fy = 1200.0, .cx = 599.5, .cy = 399.5};
  spec.fill = 0.8;
  const auto path = folder_ / "board 1 \u00fc.jpg";
  cv::imwrite(path.string(), testing_support::make_analytic_board(spec).pixels);
  const auto photo = read_board_photo(path, spec.board);
  EXPECT_EQ(photo.file, "board 1 \u00fc.jpg");
  EXPECT_EQ(photo.sha256, *sha256_of_file(path));
  ASSERT_TRUE(photo.found) << photo.reason();
  EXPECT_TRUE(photo.reason().empty());
  EXPECT_EQ(photo.found->size, (ImageSize{1200, 800}));

  const auto bad = read_board_photo(write("bad.jpg", "no photo"), spec.board);
  EXPECT_FALSE(bad.found);
  ASSERT_TRUE(bad.refusal);
  EXPECT_EQ(bad.refusal->kind, PhotoRefusalKind::kUnreadable);
  EXPECT_NE(bad.reason().find("bad.jpg: is no JPEG, PNG or TIFF"), std::string::npos)
      << bad.reason();

  const auto stopped = read_board_photo(path, spec.board, [] { return true; });
  ASSERT_TRUE(stopped.refusal);
  EXPECT_EQ(stopped.refusal->kind, PhotoRefusalKind::kCancelled);
}

}  // namespace
}  // namespace calib
