// Templates on paper, measured in pictures of the pages at 600 dots an inch. A pixel is 0.042 mm;
// what is asked is 0.1 mm.
#include "measure/sheet/template_pdf.h"

#include <gtest/gtest.h>

#include "tests/calib/file/scratch_folder.h"
#include "tests/measure/sheet/page_picture.h"
#include "tests/measure/sheet/workshop_drawing.h"

namespace measure {
namespace {

using Eigen::Vector2d;
using testing_support::kFactor;
using testing_support::PagePicture;
using testing_support::put;
using testing_support::run_outside;
using testing_support::ScratchFolder;

constexpr double kAllowed_mm = 0.1;

class TemplatePdfFile : public testing::Test {
 protected:
  void make(const TemplateDrawing& drawing, const TemplatePdfOptions& options = {}) {
    auto made = template_pdf(drawing, options);
    ASSERT_TRUE(made) << made.error().sentence;
    pdf_ = std::move(*made);
    put(folder_ / "t.pdf", pdf_.bytes);
    for (std::size_t i = 0; i < pdf_.pages.size(); ++i) {
      pictures_.emplace_back((folder_ / "t.pdf").string(), static_cast<int>(i) + 1);
      ASSERT_TRUE(pictures_.back().is_read());
    }
  }

  [[nodiscard]] std::size_t page_named(const std::string& name) const {
    for (std::size_t i = 0; i < pdf_.pages.size(); ++i) {
      if (pdf_.pages[i].name == name) {
        return i;
      }
    }
    ADD_FAILURE() << "no sheet " << name;
    return 0;
  }

  /// A sheet that shows the place, and what is near it.
  [[nodiscard]] std::size_t page_with(const Vector2d& place) const {
    for (std::size_t i = 0; i < pdf_.pages.size(); ++i) {
      const Vector2d at = on_page(i, place);
      const PageBox& window = pdf_.pages[i].window;
      if (pdf_.pages[i].true_size && (at.array() > window.low.array() + 2.0).all() &&
          (at.array() < window.high.array() - 2.0).all()) {
        return i;
      }
    }
    ADD_FAILURE() << "no sheet shows " << place.transpose();
    return 0;
  }

  /// Where a place of the drawing ought to lie on a page.
  [[nodiscard]] Vector2d on_page(std::size_t page, const Vector2d& place) const {
    return pdf_.pages[page].origin + Vector2d(place.x(), -place.y());
  }

  /// Where a line of the drawing really lies: found within 2 mm of `place`, looked for along
  /// `direction`; as a distance along it from `place`.
  [[nodiscard]] double found_off(std::size_t page, const Vector2d& place, const Vector2d& direction,
                                 double reach = 2.0) const {
    const Vector2d at = on_page(page, place), along(direction.x(), -direction.y());
    const auto line = pictures_[page].line(at - reach * along, at + reach * along);
    EXPECT_TRUE(line) << "no line near " << place.transpose();
    return line ? *line - reach : 1e3;
  }

  ScratchFolder folder_;
  TemplatePdf pdf_;
  std::vector<PagePicture> pictures_;
};

TEST_F(TemplatePdfFile, EverySheetHasTwoControlLinesOfAHundredMillimetres) {
  for (const calib::Paper& paper :
       {calib::Paper{"A4", 210.0, 297.0}, calib::Paper{"Letter", 215.9, 279.4}}) {
    pictures_.clear();
    make(testing_support::workshop_drawing(), {.paper = paper});
    ASSERT_GE(pdf_.pages.size(), 3u);
    for (std::size_t i = 0; i < pdf_.pages.size(); ++i) {
      EXPECT_NEAR(std::min(pictures_[i].width_mm(), pictures_[i].height_mm()), paper.width_mm, 0.1);
      for (const PageSegment& line : {pdf_.pages[i].level_line, pdf_.pages[i].upright_line}) {
        const Vector2d along = (line.to - line.from).normalized();
        const Vector2d beside = 1.0 * Vector2d(-along.y(), along.x());  // where only the ticks are
        const auto ticks =
            pictures_[i].lines(line.from - 1.5 * along + beside, line.to + 1.5 * along + beside);
        ASSERT_EQ(ticks.size(), 2u) << pdf_.pages[i].name;
        EXPECT_NEAR(ticks[1] - ticks[0], 100.0, kAllowed_mm);
        // And the line itself runs from one to the other.
        EXPECT_GT(pictures_[i].dark(0.5 * (line.from + line.to)), 0.5);
      }
    }
  }
}

TEST_F(TemplatePdfFile, EdgesAndCirclesMeasureRight) {
  make(testing_support::workshop_drawing());
  // The panel, 100 × 80 mm on the original.
  const std::size_t first = page_named("A1");
  const double foot = found_off(first, kFactor * Vector2d(90, 40), {0, 1});
  const double top = found_off(first, kFactor * Vector2d(90, 120), {0, 1});
  EXPECT_NEAR(kFactor * 80.0 + top - foot, kFactor * 80.0, kAllowed_mm);
  EXPECT_NEAR(foot, 0.0, kAllowed_mm);
  EXPECT_NEAR(found_off(first, kFactor * Vector2d(80, 100), {1, 0}), 0.0, kAllowed_mm);
  // The hatch, a circle of 60 mm: rim at 40 places, off the centre lines.
  Eigen::MatrixXd rows(40, 3);
  Eigen::VectorXd radii(40);
  for (int i = 0; i < 40; ++i) {
    const double angle = 2.0 * M_PI * (i + 0.5) / 40.0;
    const Vector2d out(std::cos(angle), std::sin(angle));
    const Vector2d place = kFactor * (Vector2d(450, 130) + 60.0 * out);
    radii[i] = kFactor * 60.0 + found_off(page_with(place), place, out, 0.8);
    rows.row(i) << out.x(), out.y(), 1.0;
  }
  // Radius seen from the nominal centre: cos·dx + sin·dy + r.
  const Eigen::VectorXd fit = rows.householderQr().solve(radii);
  EXPECT_NEAR(fit[0], 0.0, kAllowed_mm);
  EXPECT_NEAR(fit[1], 0.0, kAllowed_mm);
  EXPECT_NEAR(2.0 * fit[2], 60.0, kAllowed_mm);
}

TEST_F(TemplatePdfFile, ALengthMeasuresRightAcrossTwoSeams) {
  make(testing_support::workshop_drawing());
  // As the maker does it: sheets are joined where the registration crosses say.
  const auto cross_x = [&](std::size_t page, const Vector2d& cross) {
    // Beside the level arm and inside the ring: only the upright arm is there.
    return on_page(page, cross).x() + found_off(page, cross + Vector2d(0.0, 0.75), {1, 0}, 0.7);
  };
  const std::size_t a1 = page_named("A1"), a2 = page_named("A2"), a3 = page_named("A3");
  const double y = kFactor * 100.0;
  // Each of the two seams has three crosses; the lowest of both are clear of other lines.
  const std::vector<Vector2d> crosses = pdf_.registration_crosses_mm;
  ASSERT_EQ(crosses.size(), 6u);
  const Vector2d seam1 = crosses[0], seam2 = crosses[3];
  ASSERT_LT(seam1.x(), seam2.x());
  const double left = cross_x(a1, seam1) - (on_page(a1, {0.0, y}).x() +
                                            found_off(a1, kFactor * Vector2d(0, 200), {1, 0}));
  const double middle = cross_x(a2, seam2) - cross_x(a2, seam1);
  const double right = on_page(a3, {kFactor * 700.0, y}).x() +
                       found_off(a3, kFactor * Vector2d(700, 200), {1, 0}) - cross_x(a3, seam2);
  EXPECT_NEAR(left + middle + right, 350.0, kAllowed_mm);
}

TEST_F(TemplatePdfFile, OneSheetIsEnoughForASmallDrawing) {
  TemplateDrawing small;
  small.title = "plate";
  small.edges = {{"edge", {0, 0}, {80, 0}}, {"rise", {80, 0}, {80, 60}}};
  make(small);
  ASSERT_EQ(pdf_.pages.size(), 1u);
  EXPECT_TRUE(pdf_.pages[0].true_size);
  const double off = found_off(0, {80, 40}, {1, 0});
  EXPECT_NEAR(off, 0.0, kAllowed_mm);
  EXPECT_TRUE(pdf_.registration_crosses_mm.empty());
}

TEST_F(TemplatePdfFile, NothingIsDrawnWhereThePrinterCannot) {
  make(testing_support::workshop_drawing());
  for (const PagePicture& page : pictures_) {
    double darkest = 0.0;
    for (double at = 0.1; at < page.width_mm(); at += 0.1) {
      for (const double in : {0.5, 3.0, 6.0, 7.5}) {
        darkest = std::max({darkest, page.dark({at, in}), page.dark({at, page.height_mm() - in})});
      }
    }
    for (double at = 0.1; at < page.height_mm(); at += 0.1) {
      for (const double in : {0.5, 3.0, 6.0, 7.5}) {
        darkest = std::max({darkest, page.dark({in, at}), page.dark({page.width_mm() - in, at})});
      }
    }
    EXPECT_EQ(darkest, 0.0);
  }
}

TEST_F(TemplatePdfFile, EverySheetSaysItsNameAndToMeasureTheLines) {
  make(testing_support::workshop_drawing());
  const auto text = run_outside("pdftotext -layout " + (folder_ / "t.pdf").string() + " -");
  ASSERT_EQ(text.code, 0);
  std::size_t sentences = 0;
  for (std::size_t at = 0;
       (at = text.said.find("measure both 100 mm lines", at)) != std::string::npos; ++at) {
    ++sentences;
  }
  EXPECT_EQ(sentences, pdf_.pages.size());
  for (const TemplatePage& page : pdf_.pages) {
    if (page.true_size) {
      EXPECT_NE(text.said.find("Sheet " + page.name), std::string::npos);
    }
  }
}

TEST(TemplatePdf, TheSameDrawingGivesTheSameBytesAndNoDate) {
  const TemplateDrawing drawing = testing_support::workshop_drawing();
  const auto first = template_pdf(drawing), second = template_pdf(drawing);
  ASSERT_TRUE(first && second);
  EXPECT_EQ(first->bytes, second->bytes);
  const ScratchFolder folder;
  put(folder / "t.pdf", first->bytes);
  const auto undated = run_outside("pdfinfo " + (folder / "t.pdf").string());
  EXPECT_EQ(undated.code, 0);
  EXPECT_EQ(undated.said.find("CreationDate"), std::string::npos) << undated.said;
  TemplatePdfOptions options;
  options.date = "2026-11-25T12:00:00Z";
  const auto dated = template_pdf(drawing, options);
  ASSERT_TRUE(dated);
  put(folder / "t.pdf", dated->bytes);
  const auto info = run_outside("TZ=UTC pdfinfo -isodates " + (folder / "t.pdf").string());
  EXPECT_NE(info.said.find("2026-11-25T12:00:00Z"), std::string::npos) << info.said;
}

TEST(TemplatePdf, WhatCannotBePrintedGetsItsSentence) {
  TemplateDrawing drawing = testing_support::workshop_drawing();
  const auto small = template_pdf(drawing, {.paper = {"100x100mm", 100.0, 100.0}});
  ASSERT_FALSE(small);
  EXPECT_NE(small.error().sentence.find("too small"), std::string::npos);
  drawing.edges.push_back({"far", {0, 0}, {9e4, 9e4}});
  const auto large = template_pdf(drawing);
  ASSERT_FALSE(large);
  EXPECT_NE(large.error().sentence.find("sheets of A4: choose a smaller scale"), std::string::npos);
  drawing.edges.pop_back();
  const auto cancelled = template_pdf(drawing, {.cancelled = [] { return true; }});
  ASSERT_FALSE(cancelled);
}

TEST(TemplatePdf, LeavesOutSheetsWithNothingOnThem) {
  TemplateDrawing corner;
  corner.title = "angle";
  corner.edges = {{"foot", {0, 0}, {700, 0}}, {"rise", {0, 0}, {0, 900}}};
  const auto pdf = template_pdf(corner);
  ASSERT_TRUE(pdf);
  int sheets = 0;
  for (const TemplatePage& page : pdf->pages) {
    sheets += page.true_size ? 1 : 0;
  }
  // Only one column and one row of the grid hold a line.
  EXPECT_GE(sheets, 6);
  EXPECT_LE(sheets, 9);
}

}  // namespace
}  // namespace measure
