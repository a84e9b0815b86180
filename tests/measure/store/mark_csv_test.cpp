#include "measure/store/mark_csv.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "measure/edit/apply.h"
#include "tests/measure/edit/small_dossier.h"

namespace measure {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing_support::small_dossier;

auto read(std::string_view text, const MarkTableOptions& options = {}) {
  return read_mark_table(text, "marks.csv", small_dossier(), options);
}

TEST(MarkTable, ReadsQuotesByteOrderMarkAndWindowsLineEnds) {
  const auto marks = read(
      "\xEF\xBB\xBFphoto,point,x,y,sigma\r\n"
      "a.jpg,\"hatch, \"\"left\"\"\",12.5,-0.25,0.3\r\n"
      "\"a.jpg\",部品,1e2,7,\r\n"
      "\r\n"
      "a.jpg,last,1,2,0.5");
  ASSERT_TRUE(marks) << marks.error().sentence;
  ASSERT_EQ(marks->size(), 3u);
  EXPECT_EQ((*marks)[0].point, "hatch, \"left\"");
  EXPECT_EQ((*marks)[0].position_px, Eigen::Vector2d(12.5, -0.25));
  EXPECT_EQ((*marks)[0].sigma_px, 0.3);
  EXPECT_EQ((*marks)[0].source, MarkSource::kImported);
  EXPECT_EQ((*marks)[1].sigma_px, 0.5) << "an empty sigma is the usual one";
}

TEST(MarkTable, TakesColumnsInAnyOrder) {
  const auto marks = read("y,x,point,photo\n2,1,P,a.jpg\n");
  ASSERT_TRUE(marks) << marks.error().sentence;
  EXPECT_EQ(marks->front().position_px, Eigen::Vector2d(1, 2));
}

TEST(MarkTable, TakesHalfAPixelFromTablesThatCountFromTheCorner) {
  const auto marks =
      read("photo,point,x,y\na.jpg,P,0,2400\n", {.pixel_origin = PixelOrigin::kCorner});
  ASSERT_FALSE(marks) << "the photo is 1600 high";
  const auto inside =
      read("photo,point,x,y\na.jpg,P,0,1600\n", {.pixel_origin = PixelOrigin::kCorner});
  ASSERT_TRUE(inside) << inside.error().sentence;
  EXPECT_EQ(inside->front().position_px, Eigen::Vector2d(-0.5, 1599.5));
  EXPECT_FALSE(read("photo,point,x,y\na.jpg,P,0,1600\n"));
}

TEST(MarkTable, DemandsToBeToldHowTurnedPhotosWereMeasured) {
  const std::string table = "photo,point,x,y\n\"b, turned.jpg\",P,1500,2300\n";
  const auto unsaid = read(table);
  ASSERT_FALSE(unsaid);
  EXPECT_THAT(unsaid.error().sentence,
              AllOf(HasSubstr("b, turned.jpg"), HasSubstr("--as stored or --as shown")));
  EXPECT_FALSE(read(table, {.turned_photos = TurnedPhotos::kAsStored})) << "2300 lies below 1600";
  const auto shown = read(table, {.turned_photos = TurnedPhotos::kAsShown});
  ASSERT_TRUE(shown) << shown.error().sentence;
  EXPECT_EQ(shown->front().position_px, Eigen::Vector2d(2300, 99));
  // The corner of the shown photo's first pixel is a corner of the stored one, too.
  const auto corner =
      read("photo,point,x,y\n\"b, turned.jpg\",P,0,0\n",
           {.pixel_origin = PixelOrigin::kCorner, .turned_photos = TurnedPhotos::kAsShown});
  ASSERT_TRUE(corner) << corner.error().sentence;
  EXPECT_EQ(corner->front().position_px, Eigen::Vector2d(-0.5, 1599.5));
}

TEST(StoredFromShown, FollowsTheExifTable) {
  // CIPA DC-008, Orientation: where the 0th row and the 0th column of the stored photo lie when it
  // is shown. For a photo stored 3 wide and 2 high: where the stored pixel (0, 0) and (2, 0) stand
  // when shown.
  const calib::ImageSize stored{3, 2};
  struct Case {
    int orientation;
    Eigen::Vector2d first, right;
  };
  for (const Case& c : {Case{1, {0, 0}, {2, 0}}, Case{2, {2, 0}, {0, 0}}, Case{3, {2, 1}, {0, 1}},
                        Case{4, {0, 1}, {2, 1}}, Case{5, {0, 0}, {0, 2}}, Case{6, {1, 0}, {1, 2}},
                        Case{7, {1, 2}, {1, 0}}, Case{8, {0, 2}, {0, 0}}}) {
    EXPECT_EQ(stored_from_shown(c.first, c.orientation, stored), Eigen::Vector2d(0, 0))
        << c.orientation;
    EXPECT_EQ(stored_from_shown(c.right, c.orientation, stored), Eigen::Vector2d(2, 0))
        << c.orientation;
  }
}

struct BadTable {
  const char* name;
  std::string text;
  const char* says;
};

class RefusedTable : public testing::TestWithParam<BadTable> {};

TEST_P(RefusedTable, NamesFileLineAndItem) {
  const auto marks = read(GetParam().text);
  ASSERT_FALSE(marks);
  EXPECT_THAT(marks.error().sentence, AllOf(HasSubstr("marks.csv"), HasSubstr(GetParam().says)));
  EXPECT_EQ(marks.error().blame, calib::Blame::kInput);
}

const std::string kHead = "photo,point,x,y\n";

INSTANTIATE_TEST_SUITE_P(
    Cases, RefusedTable,
    testing::Values(
        BadTable{"Empty", "", "holds no marks"}, BadTable{"HeaderOnly", kHead, "holds no marks"},
        BadTable{"NoHeader", "a.jpg,P,1,2\n", "line 1 has the column \"a.jpg\""},
        BadTable{"NoX", "photo,point,y\n", "no column \"x\""},
        BadTable{"Twice", "photo,point,x,y,x\n", "twice"},
        BadTable{"DecimalComma", kHead + "a.jpg,P,1,5,2\n", "line 2 has 5 fields"},
        BadTable{"Word", kHead + "a.jpg,P,1,2\na.jpg,Q,left,2\n", "line 3 has \"left\" for x"},
        BadTable{"NaN", kHead + "a.jpg,P,nan,2\n", "\"nan\" for x"},
        BadTable{"Inf", kHead + "a.jpg,P,1,inf\n", "\"inf\" for y"},
        BadTable{"Blank", kHead + "a.jpg,P, 1,2\n", "\" 1\" for x"},
        BadTable{"Sigma", "photo,point,x,y,sigma\na.jpg,P,1,2,0\n", "for sigma"},
        BadTable{"Photo", kHead + "\"c\nd.jpg\",P,1,2\n", "line 2 names photo \"c\\x0Ad.jpg\""},
        BadTable{"Point", kHead + "a.jpg,,1,2\n", "line 2 cannot be used. A point name is empty"},
        BadTable{"Again", kHead + "a.jpg,P,1,2\n\na.jpg,P,1,2\n",
                 "line 4 marks point \"P\" in photo \"a.jpg\" a second time (first in line 2)"},
        BadTable{"Outside", kHead + "a.jpg,P,2400,2\n", "outside photo \"a.jpg\" of 2400 x 1600"},
        BadTable{"OpenQuote", kHead + "\"a.jpg,P,1,2\n", "line 2 opens a quote"},
        BadTable{"AfterQuote", kHead + "\"a\"b,P,1,2\n", "line 2 has text after a closing quote"},
        BadTable{"LoneReturn", kHead + "a.jpg,P,1,2\ra.jpg,Q,1,2\n",
                 "line 2 ends with a carriage return alone"},
        BadTable{"Latin1", kHead + "a.jpg,Gr\xFC\xDF,1,2\n", "UTF-8"},
        BadTable{"Utf16", std::string("\xFF\xFEp\0h\0", 6), "UTF-8"}),
    [](const auto& parameter) { return parameter.param.name; });

}  // namespace
}  // namespace measure
