#include "measure/store/stock_file.h"

#include <gtest/gtest.h>

#include "tests/calib/file/scratch_folder.h"

namespace measure {
namespace {

using testing_support::put;
using testing_support::ScratchFolder;

std::string table_with(const std::string& groups) {
  return R"({"file_kind": "scantling stock table", "schema_version": {"major": 1, "minor": 0},)"
         R"("name": "mine", "groups": [)" +
         groups + "]}";
}

std::string sentence(const std::string& groups) {
  const auto table = stock_table_from_text(table_with(groups), "mine.json");
  return table ? "" : table.error().sentence;
}

TEST(StockFile, ReadsNumbersFractionsAndOwnUncertainties) {
  const auto table = stock_table_from_text(
      table_with(R"({"kind": "rod", "material": "brass", "unit": "in", "u": 0.001,
                     "sizes": ["1/32", "1 1/4", "0.020", 0.5, {"size": "3/64", "u": 0.002}]})"),
      "mine.json");
  ASSERT_TRUE(table) << table.error().sentence;
  ASSERT_EQ(table->sizes.size(), 5u);
  EXPECT_EQ(table->name, "mine");
  EXPECT_NEAR(table->sizes[0].size_mm, 0.79375, 1e-12);
  EXPECT_EQ(table->sizes[0].text, "1/32 in");
  EXPECT_NEAR(table->sizes[0].u_mm, 0.0254, 1e-12);
  EXPECT_NEAR(table->sizes[1].size_mm, 31.75, 1e-12);
  EXPECT_EQ(table->sizes[2].text, "0.020 in");
  EXPECT_EQ(table->sizes[3].text, "0.5 in");
  EXPECT_NEAR(table->sizes[4].u_mm, 0.0508, 1e-12);
}

TEST(StockFile, EveryFaultGetsItsSentence) {
  EXPECT_EQ(
      sentence(R"({"kind": "sheet", "material": "m", "u": 0, "sizes": [1]})"),
      "mine.json, item groups[0] has no unit: write \"unit\": \"mm\" or \"unit\": \"in\" into it.");
  EXPECT_EQ(sentence(R"({"kind": "sheet", "material": "m", "unit": "cm", "u": 0, "sizes": [1]})"),
            "mine.json, item groups[0].unit is \"cm\": units of stock are \"mm\" and \"in\".");
  EXPECT_EQ(sentence(R"({"kind": "plank", "material": "m", "unit": "mm", "u": 0, "sizes": [1]})"),
            "mine.json, item groups[0].kind is \"plank\": kinds of stock are sheet, strip, rod and "
            "tube.");
  EXPECT_EQ(sentence(R"({"kind": "rod", "material": "m", "unit": "mm", "u": 0, "sizes": [1, 0]})"),
            "mine.json, item groups[0].sizes[1] is 0: a size must be above 0.");
  EXPECT_EQ(sentence(R"({"kind": "rod", "material": "m", "unit": "mm", "u": 0, "sizes": ["1/0"]})"),
            "mine.json, item groups[0].sizes[0] is \"1/0\": write a number, or a fraction such as "
            "\"1/32\".");
  EXPECT_EQ(sentence(R"({"kind": "rod", "material": "m", "unit": "in", "u": 0,
                         "sizes": ["1/8", 0.125]})"),
            "mine.json, item groups[0].sizes[1] is the size 0.125 in of m rod a second time, after "
            "groups[0].sizes[0]: remove one of them.");
  EXPECT_NE(sentence(R"({"kind": "rod", "material": "m", "unit": "mm", "u": -1, "sizes": [1]})"),
            "");
  EXPECT_NE(sentence(R"({"kind": "rod", "unit": "mm", "u": 0, "sizes": [1]})"), "");
  EXPECT_EQ(sentence(""), "mine.json holds no size: add a group with its sizes.");
  EXPECT_FALSE(stock_table_from_text("{", "mine.json"));
  EXPECT_FALSE(read_stock_table("/nowhere/at/all.json"));
}

TEST(StockFile, TheShippedTableHasEveryKindInBothUnits) {
  const auto table = read_stock_table(std::string(SCANTLING_SOURCE) + "/measure/store/stock/" +
                                      kCommonStockFileName);
  ASSERT_TRUE(table) << table.error().sentence;
  for (const StockKind kind :
       {StockKind::kSheet, StockKind::kStrip, StockKind::kRod, StockKind::kTube}) {
    int metric = 0, inch = 0;
    for (const StockSize& size : table->sizes) {
      if (size.kind == kind) {
        (size.text.ends_with(" mm") ? metric : inch) += 1;
        EXPECT_GT(size.u_mm, 0.0);
        EXPECT_LT(size.size_mm, 30.0);
      }
    }
    EXPECT_GE(metric, 5) << stock_word(kind);
    EXPECT_GE(inch, 5) << stock_word(kind);
  }
  const auto answer = nearest_stock(
      *table,
      {.value_mm = 0.76, .u_mm = 0.01, .kind = StockKind::kSheet, .material = "polystyrene"});
  ASSERT_TRUE(answer);
  EXPECT_FALSE(answer->none_of_these);
}

}  // namespace
}  // namespace measure
