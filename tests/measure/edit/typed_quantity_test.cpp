#include "measure/edit/typed_quantity.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace measure {
namespace {

using testing::HasSubstr;

TEST(ParseLength, KnowsTheUnitsOfAWorkshop) {
  for (const auto& [text, length_mm] : {std::pair("25mm", 25.0),
                                        {"2.5cm", 25.0},
                                        {"0.3m", 300.0},
                                        {"1in", 25.4},
                                        {"0.02 mm", 0.02},
                                        {"20um", 0.02},
                                        {"20µm", 0.02},
                                        {"1e2mm", 100.0},
                                        {"-3mm", -3.0},
                                        {"32\"", 812.8}}) {
    const auto length = parse_length(text);
    ASSERT_TRUE(length) << text;
    EXPECT_DOUBLE_EQ(length->value(), length_mm) << text;
  }
}

TEST(ParseLength, RefusesWhatCouldMeanAnything) {
  for (const auto& [text, says] : {std::pair("300", "no unit"),
                                   {"25,4mm", "decimal comma"},
                                   {"mm", "no length"},
                                   {"", "no length"},
                                   {"nanmm", "no length"},
                                   {"infmm", "no length"},
                                   {"1e999mm", "no length"},
                                   {"5furlong", "not known"},
                                   {"5MM", "not known"},
                                   {"+5mm", "no length"},
                                   {"0x10mm", "not known"}}) {
    const auto length = parse_length(text);
    ASSERT_FALSE(length) << text;
    EXPECT_THAT(length.error().sentence, HasSubstr(says)) << text;
  }
}

TEST(ParseLength, TakesInchesInFractionsAndFeet) {
  for (const auto& [text, inches] : {std::pair("3/8\"", 0.375),
                                     {"3/8in", 0.375},
                                     {"11 13/16 in", 11.8125},
                                     {"11 13/16\"", 11.8125},
                                     {"-1 1/2 in", -1.5},
                                     {"1 ft", 12.0},
                                     {"2'", 24.0},
                                     {"1 ft 3 3/8 in", 15.375},
                                     {"1' 3.5\"", 15.5},
                                     {"0 ft 3/8 in", 0.375},
                                     {"-1 ft 6 in", -18.0},
                                     {"1 1/2 ft", 18.0}}) {
    const auto length = parse_length(text);
    ASSERT_TRUE(length) << text << ": " << length.error().sentence;
    EXPECT_DOUBLE_EQ(length->value(), inches * 25.4) << text;
  }
}

TEST(ParseLength, RefusesFractionsThatAreNone) {
  for (const auto& [text, says] : {std::pair("3/0 in", "fraction that is none"),
                                   {"1.5 1/2 in", "fraction that is none"},
                                   {"1 3/2 in", "fraction that is none"},
                                   {"3/ in", "fraction that is none"},
                                   {"3/8/2 in", "not known"},
                                   {"3/8 mm", "for inches and feet"},
                                   {"3/8", "no unit"},
                                   {"1 ft 13 in", "feet and inches"},
                                   {"1 ft 3 mm", "feet and inches"},
                                   {"1 ft -3 in", "feet and inches"},
                                   {"1 ft 3 in 2 in", "feet and inches"},
                                   {"3 in 1 ft", "not known"},
                                   {"1/2/3", "not known"}}) {
    const auto length = parse_length(text);
    ASSERT_FALSE(length) << text;
    EXPECT_THAT(length.error().sentence, HasSubstr(says)) << text;
  }
}

TEST(ParseLength, TakesADecimalCommaWhereItIsShownHowItWasRead) {
  EXPECT_DOUBLE_EQ(parse_length("25,4 mm", DecimalSign::kPointOrComma)->value(), 25.4);
  EXPECT_DOUBLE_EQ(parse_length("25.4 mm", DecimalSign::kPointOrComma)->value(), 25.4);
  EXPECT_DOUBLE_EQ(parse_length("11 13/16 in", DecimalSign::kPointOrComma)->value(), 300.0375);
  for (const char* bad : {"1,234.5 mm", "1.234,5 mm", "1,2,3 mm"}) {
    const auto length = parse_length(bad, DecimalSign::kPointOrComma);
    ASSERT_FALSE(length) << bad;
    EXPECT_THAT(length.error().sentence, HasSubstr("two decimal signs")) << bad;
  }
  EXPECT_DOUBLE_EQ(*parse_number("0,05", DecimalSign::kPointOrComma), 0.05);
  EXPECT_FALSE(parse_number("0,05"));
  EXPECT_FALSE(parse_number("1,0.5", DecimalSign::kPointOrComma));
  EXPECT_DOUBLE_EQ(parse_ratio("1:43,5", DecimalSign::kPointOrComma)->denominator, 43.5);
}

TEST(ParseRatio, ReadsTheDenominator) {
  EXPECT_DOUBLE_EQ(parse_ratio("1:48")->denominator, 48.0);
  EXPECT_DOUBLE_EQ(parse_ratio("1:43.5")->denominator, 43.5);
  EXPECT_DOUBLE_EQ(parse_ratio("2:1")->denominator, 0.5);
  for (const char* bad :
       {"48", "1:", ":48", "1:0", "1:-48", "1:nan", "1/48", "1:48:2", "1e-320:1e308"}) {
    EXPECT_FALSE(parse_ratio(bad)) << bad;
  }
}

TEST(ParseGrid, ReadsColumnsAndRows) {
  EXPECT_EQ(*parse_grid("9x6"), std::pair(9, 6));
  for (const char* bad : {"9", "x6", "9x", "9x6x2", "-9x6", "9.5x6", "99999999999x6", "0x6"}) {
    EXPECT_FALSE(parse_grid(bad)) << bad;
  }
}

}  // namespace
}  // namespace measure
