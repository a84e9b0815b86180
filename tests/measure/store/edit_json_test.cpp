#include "measure/store/edit_json.h"

#include <set>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/measure/edit/small_dossier.h"

namespace measure {
namespace {

using testing::HasSubstr;

TEST(EditLine, GivesBackEveryKindOfEdit) {
  std::vector<Edit> edits = testing_support::small_dossier_edits();
  for (Edit& edit : testing_support::changing_edits()) {
    edits.push_back(std::move(edit));
  }
  edits.push_back(RemoveKind{"moulded edge"});
  edits.push_back(RemovePoint{"A"});
  edits.push_back(SetPhotoCamera{"a.jpg", "body"});
  edits.push_back(RemoveCamera{"body"});
  edits.push_back(RenameShape{"edge", "keel"});
  edits.push_back(RemoveShape{"edge"});
  edits.push_back(SetShapeKind{"edge", "moulded edge"});
  edits.push_back(
      SetShapeMarks{{{"a.jpg", "tube", {5, 7.25}, 2, 0.5, MarkSource::kRefined, true}}});
  edits.push_back(RemoveShapeMarks{{{"a.jpg", "tube", 5, 7.25}}});
  edits.push_back(SetShapeMarkAside{{"a.jpg", "tube", 5, 7.25}, true});
  edits.push_back(SetAxes{AxesNames{"deck", "keel", "A"}});
  edits.push_back(SetAxes{std::nullopt});
  for (const ShapeOrigin& origin : std::initializer_list<ShapeOrigin>{
           SeenEdge{}, SeenCircle{}, SeenCylinder{}, LineThrough{{"A", "B"}},
           PlaneThrough{{"A", "B", "D"}}, CircleThrough{{"A", "B", "D"}}, SphereThrough{{"A"}},
           CylinderThrough{{"A"}}, ConeThrough{{"A"}}, Crossing{"e", "f"}, MidPlane{"e", "f"},
           ParallelPlane{"e", "A", std::nullopt}, ParallelPlane{"e", "", -1.25},
           MirrorPlane{{{"A", "B"}, {"C", "D"}}}}) {
    edits.push_back(AddShape{{"shape", origin, ""}, 3});
  }
  for (const DimensionKind& kind : std::initializer_list<DimensionKind>{
           AngleBetween{"e", "f"}, Gap{"e", "f"}, Radius{"r"}, Diameter{"r"}, ConeAngle{"c"},
           ChainLength{{"A", "B"}}, ArcLength{"r", "A", "B", ""}, ArcLength{"r", "A", "B", "C"},
           RowPitch{{"A", "B", "C"}}, RowDeparture{{"A", "B", "C"}}, OutlineArea{{"A", "B", "C"}},
           Coordinate{"A", "y"}, MirrorDeparture{"m", "A", "B"}, OffsetFromLine{"A", "e", ""},
           OffsetFromPlane{"A", {"deck"}}, DistanceAlong{"A", "B", "e", ""}}) {
    edits.push_back(AddDimension{{"asked", kind}, std::nullopt});
  }
  std::set<std::size_t> kinds;
  for (const Edit& edit : edits) {
    const std::string line = edit_line(edit);
    EXPECT_EQ(line.find('\n'), std::string::npos);
    const auto again = edit_from_line(line, "journal");
    ASSERT_TRUE(again) << line << ": " << again.error().sentence;
    EXPECT_TRUE(*again == edit) << line;
    kinds.insert(edit.what.index());
  }
  EXPECT_EQ(kinds.size(), std::variant_size_v<EditKind>) << "an edit kind is not tested";
}

TEST(EditLine, RefusesWhatIsNoEdit) {
  for (const char* line :
       {"", "{}", "[]", "7", "{\"edit\":\"explode\"}", "{\"edit\":\"add_point\"}",
        "{\"edit\":\"set_marks\",\"marks\":[{\"photo\":\"a\"}]}",
        "{\"edit\":\"add_point\",\"point\":"}) {
    const auto edit = edit_from_line(line, "journal.ndjson, line 17");
    ASSERT_FALSE(edit) << line;
    EXPECT_THAT(edit.error().sentence, HasSubstr("journal.ndjson, line 17"));
  }
  std::string deep;
  for (int i = 0; i < 10'000; ++i) {
    deep += "{\"edit\":\"group\",\"edits\":[";
  }
  EXPECT_THAT(edit_from_line(deep, "journal").error().sentence, HasSubstr("nested deeper"));
}

}  // namespace
}  // namespace measure
