#include "calib/board/board_pdf.h"

#include <cmath>
#include <cstdlib>

#include <gtest/gtest.h>
#include <opencv2/imgcodecs.hpp>

#include "calib/board/find_board.h"
#include "tests/calib/board/test_folder.h"

namespace calib {
namespace {

class BoardPdf : public testing_support::TestFolder {
 protected:
  // The page as grey pixels, `per_mm` of them to a millimetre.
  cv::Mat rendered(const std::filesystem::path& pdf, int per_mm) const {
    const std::string tool = SCANTLING_PDFTOPPM;
    EXPECT_TRUE(std::filesystem::exists(tool))
        << "pdftoppm is missing: install Debian's poppler-utils";
    const auto dpi = std::to_string(25.4 * per_mm);
    const auto target = (folder_ / "page").string();
    const std::string command =
        tool + " -r " + dpi + " -gray -singlefile -png '" + pdf.string() + "' '" + target + "'";
    EXPECT_EQ(std::system(command.c_str()), 0);
    return cv::imread(target + ".png", cv::IMREAD_GRAYSCALE);
  }
};

TEST_F(BoardPdf, HasSquaresOfExactlyTheSizeAskedFor) {
  constexpr int kPerMm = 20;
  const BoardSpec board{9, 6, 25.0};
  const auto sheet = write_board_pdf(folder_ / "board.pdf", board, *paper_named("A4"));
  ASSERT_TRUE(sheet) << sheet.error().sentence;
  EXPECT_DOUBLE_EQ(sheet->width_mm, 297.0);
  const auto page = rendered(folder_ / "board.pdf", kPerMm);
  // A PDF page is given in points, pdftoppm rounds it up to whole pixels.
  EXPECT_NEAR(page.cols, 297 * kPerMm, 1);
  EXPECT_NEAR(page.rows, 210 * kPerMm, 1);
  const auto found = find_board(page, board);
  ASSERT_TRUE(found) << describe(found.error(), "the printed board");
  const auto at_mm = corner_positions_mm(board);
  for (std::size_t i = 0; i < at_mm.size(); ++i) {
    const Eigen::Vector2d expected_mm = sheet->first_corner_mm + at_mm[i].head<2>();
    const Eigen::Vector2d measured_mm =
        (found->corners[i].position_px + Eigen::Vector2d::Constant(0.5)) / kPerMm;
    // A tenth of a millimetre is asked for; a fifth of a rendered pixel is what the finder can
    // tell.
    EXPECT_LT((measured_mm - expected_mm).norm(), 0.01) << "corner " << i;
  }
}

TEST_F(BoardPdf, HasAControlLineOf100Millimetres) {
  constexpr int kPerMm = 20;
  const auto sheet = write_board_pdf(folder_ / "board.pdf", {6, 4, 20.0}, *paper_named("letter"));
  ASSERT_TRUE(sheet) << sheet.error().sentence;
  EXPECT_DOUBLE_EQ((sheet->control_line_to_mm - sheet->control_line_from_mm).norm(), 100.0);
  const auto page = rendered(folder_ / "board.pdf", kPerMm);
  // Darkness across the ticks, above the line itself: its two centres of gravity are the tick's
  // middles.
  const int row = static_cast<int>((sheet->control_line_from_mm.y() - 1.0) * kPerMm);
  const auto middle_mm = [&](double x_mm) {
    double sum = 0.0, weight = 0.0;
    for (int x = static_cast<int>((x_mm - 1.0) * kPerMm);
         x <= static_cast<int>((x_mm + 1.0) * kPerMm); ++x) {
      const double dark = 255.0 - page.at<unsigned char>(row, x);
      sum += dark * (x + 0.5) / kPerMm;
      weight += dark;
    }
    return sum / weight;
  };
  EXPECT_NEAR(middle_mm(sheet->control_line_from_mm.x()), sheet->control_line_from_mm.x(), 0.03);
  EXPECT_NEAR(middle_mm(sheet->control_line_to_mm.x()) - middle_mm(sheet->control_line_from_mm.x()),
              100.0, 0.03);
}

TEST_F(BoardPdf, KeepsWhiteAroundTheBoardOnEveryPaper) {
  for (const std::string name :
       {"A4", "a3", "A2", "A1", "Letter", "tabloid", "300x420mm", "120x150"}) {
    const auto paper = paper_named(name);
    ASSERT_TRUE(paper) << paper.error().sentence;
    for (const BoardSpec& board : {BoardSpec{4, 3, 12.0}, BoardSpec{3, 4, 12.0}}) {
      const auto sheet = lay_out_board(board, *paper);
      ASSERT_TRUE(sheet) << sheet.error().sentence;
      EXPECT_GE(sheet->first_corner_mm.minCoeff(), 12.0 + 5.0);
      EXPECT_LE(sheet->first_corner_mm.x() + board.inner_columns * 12.0 + 5.0,
                sheet->width_mm + 1e-9);
      EXPECT_LT(sheet->first_corner_mm.y() + board.inner_rows * 12.0 + 5.0,
                sheet->control_line_from_mm.y());
      EXPECT_LT(sheet->control_line_to_mm.x() + 5.0, sheet->width_mm);
    }
  }
}

TEST_F(BoardPdf, SaysWhatFitsWhenTheBoardDoesNot) {
  const auto refused = write_board_pdf(folder_ / "board.pdf", {9, 6, 30.0}, *paper_named("A4"));
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().blame, Blame::kInput);
  for (const std::string words : {"does not fit A4", "squares up to 25", "30 mm fit Tabloid"}) {
    EXPECT_NE(refused.error().sentence.find(words), std::string::npos) << refused.error().sentence;
  }
  EXPECT_FALSE(std::filesystem::exists(folder_ / "board.pdf"));
  const auto huge = lay_out_board({9, 6, 200.0}, *paper_named("A1"));
  ASSERT_FALSE(huge);
  EXPECT_NE(huge.error().sentence.find("need a sheet of"), std::string::npos)
      << huge.error().sentence;
}

TEST_F(BoardPdf, RefusesPapersAndPlacesThatDoNotExist) {
  for (const std::string name : {"A9", "", "210", "210x", "x297", "210x297cm", "-210x297mm",
                                 "1x1mm", "9999x100mm", "nanxnan", "210x297mm!"}) {
    EXPECT_FALSE(paper_named(name)) << name;
  }
  const auto refused =
      write_board_pdf(folder_ / "none" / "board.pdf", {9, 6, 20.0}, *paper_named("A4"));
  ASSERT_FALSE(refused);
  EXPECT_NE(refused.error().sentence.find("board.pdf"), std::string::npos)
      << refused.error().sentence;
}

}  // namespace
}  // namespace calib
