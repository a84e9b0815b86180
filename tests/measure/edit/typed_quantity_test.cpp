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
