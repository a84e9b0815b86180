// SVG and DXF as readers from outside see them: svgelements, lxml and ezdxf of Debian.
#include <clocale>

#include <gtest/gtest.h>

#include "measure/sheet/dxf_text.h"
#include "measure/sheet/template_dxf.h"
#include "measure/sheet/template_svg.h"
#include "tests/calib/file/scratch_folder.h"
#include "tests/measure/sheet/expected_drawing.h"
#include "tests/measure/sheet/outside_program.h"
#include "tests/measure/sheet/workshop_drawing.h"

namespace measure {
namespace {

using testing_support::put;
using testing_support::reader;
using testing_support::run_outside;
using testing_support::ScratchFolder;

class TemplateFiles : public testing::Test {
 protected:
  /// What a reader says of a file against the drawing it was made from.
  testing_support::ProgramEnd compared(const std::string& script, const std::string& contents,
                                       const TemplateDrawing& drawing) {
    put(folder_ / "file", contents);
    put(folder_ / "table", testing_support::expected_table(drawing));
    return run_outside(reader(script) + (folder_ / "file").string() + " " +
                       (folder_ / "table").string());
  }

  ScratchFolder folder_;
  TemplateDrawing drawing_ = testing_support::workshop_drawing();
};

TEST_F(TemplateFiles, AnSvgReadsBackWithinAThousandthOfAMillimetre) {
  const auto svg = template_svg(drawing_);
  ASSERT_TRUE(svg);
  const auto end = compared("read_svg.py", *svg, drawing_);
  EXPECT_EQ(end.code, 0) << end.said;
  RecordProperty("said", end.said);
}

TEST_F(TemplateFiles, ADxfReadsBackWithinAThousandthOfAMillimetre) {
  const auto dxf = template_dxf(drawing_);
  ASSERT_TRUE(dxf);
  const auto end = compared("read_dxf.py", *dxf, drawing_);
  EXPECT_EQ(end.code, 0) << end.said;
  RecordProperty("said", end.said);
}

TEST_F(TemplateFiles, TheReadersSeeAShiftOfTwoThousandths) {
  const auto svg = template_svg(drawing_);
  const auto dxf = template_dxf(drawing_);
  drawing_.points[3].at_mm.x() += 0.002;
  EXPECT_NE(compared("read_svg.py", *svg, drawing_).code, 0);
  EXPECT_NE(compared("read_dxf.py", *dxf, drawing_).code, 0);
}

TEST_F(TemplateFiles, TheSameDrawingGivesTheSameBytes) {
  EXPECT_EQ(*template_svg(drawing_), *template_svg(drawing_));
  EXPECT_EQ(*template_dxf(drawing_), *template_dxf(drawing_));
}

TEST_F(TemplateFiles, ADecimalCommaOfTheMachineChangesNoByte) {
  const auto svg = template_svg(drawing_);
  const auto dxf = template_dxf(drawing_);
  const std::string before = std::setlocale(LC_NUMERIC, nullptr);
  // One of our own making: few machines have it installed.
  ASSERT_EQ(run_outside("localedef -i de_DE -f UTF-8 " + (folder_ / "de_DE.UTF-8").string()).code,
            0);
  ::setenv("LOCPATH", folder_.path().c_str(), 1);
  ASSERT_NE(std::setlocale(LC_NUMERIC, "de_DE.UTF-8"), nullptr);
  ::unsetenv("LOCPATH");
  ASSERT_EQ(std::string(std::localeconv()->decimal_point), ",");
  const auto svg_there = template_svg(drawing_);
  const auto dxf_there = template_dxf(drawing_);
  std::setlocale(LC_NUMERIC, before.c_str());
  EXPECT_EQ(*svg, *svg_there);
  EXPECT_EQ(*dxf, *dxf_there);
}

TEST_F(TemplateFiles, ADrawingThatCannotBeDrawnGetsItsSentence) {
  TemplateDrawing empty;
  empty.title = "hull";
  ASSERT_FALSE(template_svg(empty));
  EXPECT_EQ(template_svg(empty).error().sentence,
            "drawing \"hull\" shows nothing: choose points, edges or circles that the survey has.");
  drawing_.unit = "free";
  ASSERT_FALSE(template_dxf(drawing_));
  EXPECT_NE(template_dxf(drawing_).error().sentence.find("enter a scale bar"), std::string::npos);
  drawing_.unit = "mm";
  drawing_.points[0].at_mm.x() = std::nan("");
  ASSERT_FALSE(template_svg(drawing_));
  EXPECT_NE(template_svg(drawing_).error().sentence.find("point \"bow\""), std::string::npos);
}

TEST(DxfText, EscapesAllThatIsNotAscii) {
  EXPECT_EQ(dxf_text("plain 7"), "plain 7");
  EXPECT_EQ(dxf_text("ü ± ⌀"), "\\U+00FC \\U+00B1 \\U+2300");
  EXPECT_EQ(dxf_text("\U0001F680"), "\\U+D83D\\U+DE80");
  EXPECT_EQ(dxf_text("a\nb"), "a b");
  EXPECT_EQ(dxf_text("\\U+0041"), "\\U+005CU+0041");
  EXPECT_EQ(dxf_text("100 %%c"), "100 %%c");
  EXPECT_EQ(dxf_drawn_text("100 %%c"), "100 %\\U+200B%c");
  EXPECT_EQ(dxf_text("\xFF\xC3"), "\\U+FFFD\\U+FFFD");
}

}  // namespace
}  // namespace measure
