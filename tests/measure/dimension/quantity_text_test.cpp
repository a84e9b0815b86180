#include "measure/dimension/quantity_text.h"

#include <cmath>
#include <numbers>

#include <gtest/gtest.h>

namespace measure {
namespace {

// JCGM 100:2008, 7.2.6: U to two significant digits, the value to the same place.
TEST(LengthText, RoundsUToTwoDigitsAndTheValueToItsPlace) {
  EXPECT_EQ(length_text(123.4567, 0.1234, TextUnit::kMm).joined(), "123.46 ± 0.12 mm");
  EXPECT_EQ(length_text(123.4567, 0.00996, TextUnit::kMm).joined(), "123.457 ± 0.010 mm");
  EXPECT_EQ(length_text(123456.7, 1234, TextUnit::kMm).joined(), "123500 ± 1200 mm");
  EXPECT_EQ(length_text(0.04, 0.012, TextUnit::kCm).joined(), "0.0040 ± 0.0012 cm");
}

TEST(LengthText, NeverPrintsAMinusBeforeZero) {
  EXPECT_EQ(length_text(-0.001, 0.12, TextUnit::kMm).joined(), "0.00 ± 0.12 mm");
  EXPECT_EQ(length_text(-1.234, 0.12, TextUnit::kMm).joined(), "-1.23 ± 0.12 mm");
}

// Common practice, no source: an original is spoken of by its length in inches.
TEST(LengthText, SaysThatA32InchOriginalIs8128Millimetres) {
  EXPECT_EQ(length_text(32 * 25.4, 0.1, TextUnit::kMm).value, "812.80");
  EXPECT_EQ(length_text(812.8, 0.1, TextUnit::kInchFraction).value, "32");
  EXPECT_EQ(length_text(812.8, 0.1, TextUnit::kFootInch).value, "2 ft 8");
  EXPECT_EQ(length_text(1524.0, 0.1, TextUnit::kFootInch).value, "5 ft 0");
}

TEST(LengthText, ReducesFractionsAndCarriesThemOver) {
  EXPECT_EQ(length_text(25.4 * 3.25, 0.1, TextUnit::kInchFraction).value, "3 1/4");
  EXPECT_EQ(length_text(25.4 * 0.5, 0.1, TextUnit::kInchFraction, 64).value, "1/2");
  EXPECT_EQ(length_text(25.4 * 11.9999, 0.1, TextUnit::kFootInch).value, "1 ft 0");
  EXPECT_EQ(length_text(-25.4 * 1.75, 0.1, TextUnit::kInchFraction).value, "-1 3/4");
  EXPECT_EQ(length_text(25.4 * 1.016, 0.1, TextUnit::kInchFraction, 16).value, "1");
  EXPECT_EQ(length_text(25.4, 0.254, TextUnit::kInchFraction).joined(), "1 ± 0.010 in");
}

TEST(AngleText, IsInDegrees) {
  EXPECT_EQ(angle_text(std::numbers::pi / 2, 0.12 * std::numbers::pi / 180).joined(),
            "90.00 ± 0.12 °");
}

TEST(ResultText, ShowsAnIntervalWhereOneStands) {
  DimensionResult result;
  result.value = 0.1;
  result.U = 0.1;
  result.interval = {0.0, 0.23};
  EXPECT_EQ(result_text(result, TextUnit::kMm), "0.00 … 0.23 mm (95.45 %)");
}

TEST(ComparedTexts, ShowAsManyDigitsAsTellThemApart) {
  const auto said = [](const ComparedTexts& texts) {
    return texts.first + " " + texts.second + " " + texts.unit;
  };
  EXPECT_EQ(said(compared_lengths(0.1004, 0.1, TextUnit::kMm)), "0.1004 0.1000 mm");
  EXPECT_EQ(said(compared_lengths(0.13, 0.1, TextUnit::kMm)), "0.13 0.10 mm");
  EXPECT_EQ(said(compared_lengths(0.100000001, 0.1, TextUnit::kMm)), "0.100000001 0.100000000 mm");
  EXPECT_EQ(said(compared_lengths(12.0, 0.1, TextUnit::kMm)), "12 0.10 mm");
  EXPECT_EQ(said(compared_lengths(0.0996, 0.0995, TextUnit::kCm)), "0.00996 0.00995 cm");
  EXPECT_EQ(said(compared_lengths(2.56, 2.54, TextUnit::kInchFraction)), "0.101 0.100 in");
  EXPECT_EQ(said(compared_angles(0.003502, 0.0035)), "0.2006 0.2005 °");
}

}  // namespace
}  // namespace measure
