#include "measure/edit/apply.h"

#include <algorithm>
#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "measure/edit/name_rules.h"
#include "measure/edit/warnings.h"
#include "tests/measure/edit/small_dossier.h"

namespace measure {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;
using testing::SizeIs;
using testing_support::changing_edits;
using testing_support::hash_of;
using testing_support::small_dossier;
using testing_support::small_dossier_edits;

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

TEST(Apply, ReturnsTheEditThatGivesBackTheSameDossier) {
  Dossier dossier;
  dossier.name = "before its first edit";
  std::vector<std::pair<Dossier, Edit>> undo;
  for (const Edit& edit : small_dossier_edits()) {
    const Dossier before = dossier;
    auto inverse = apply(edit, dossier);
    ASSERT_TRUE(inverse) << describe(edit) << ": " << inverse.error().sentence;
    EXPECT_FALSE(dossier == before) << describe(edit);
    undo.emplace_back(before, std::move(*inverse));
  }
  const Dossier full = dossier;
  for (auto step = undo.rbegin(); step != undo.rend(); ++step) {
    const auto redo = apply(step->second, dossier);
    ASSERT_TRUE(redo) << redo.error().sentence;
    EXPECT_TRUE(dossier == step->first) << describe(step->second);
  }
  for (const Edit& edit : changing_edits()) {
    Dossier changed = full;
    const auto inverse = apply(edit, changed);
    ASSERT_TRUE(inverse) << describe(edit) << ": " << inverse.error().sentence;
    EXPECT_FALSE(changed == full) << describe(edit);
    const Dossier after = changed;
    const auto redo = apply(*inverse, changed);
    ASSERT_TRUE(redo) << redo.error().sentence;
    EXPECT_TRUE(changed == full) << describe(edit);
    ASSERT_TRUE(apply(*redo, changed));
    EXPECT_TRUE(changed == after) << describe(edit);
  }
}

struct Refused {
  const char* name;
  Edit edit;
  const char* says;
};

class RefusedEdit : public testing::TestWithParam<Refused> {};

TEST_P(RefusedEdit, SaysWhyAndChangesNothing) {
  Dossier dossier = small_dossier();
  const auto applied = apply(GetParam().edit, dossier);
  ASSERT_FALSE(applied);
  EXPECT_THAT(applied.error().sentence, HasSubstr(GetParam().says));
  EXPECT_EQ(applied.error().blame, calib::Blame::kInput);
  EXPECT_TRUE(dossier == small_dossier());
}

ScaleBar bar(double length_mm, double u_mm) {
  return {"new", "A", "B", length_mm, u_mm, 0, "", {}, {}, false};
}

INSTANTIATE_TEST_SUITE_P(
    Cases, RefusedEdit,
    testing::Values(
        Refused{"EmptyName", AddPoint{{"", ""}}, "empty"},
        Refused{"Control", AddPoint{{"a\tb", ""}}, "control"},
        Refused{"Utf8", AddPoint{{"a\xC3", ""}}, "UTF-8"},
        Refused{"Space", AddPoint{{" a", ""}}, "space"},
        Refused{"PointTwice", AddPoint{{"A", ""}}, "already"},
        Refused{"NoKind", AddPoint{{"E", "none"}}, "no point kind \"none\""},
        Refused{"PhotoTwice",
                AddPhoto{{"a.jpg", "x/a.jpg", hash_of('e'), {2400, 1600}, "body", 1, ""}},
                "already"},
        Refused{"SamePicture",
                AddPhoto{{"d.jpg", "d.jpg", hash_of('a'), {2400, 1600}, "body", 1, ""}},
                "same picture"},
        Refused{"NoCamera", AddPhoto{{"d.jpg", "d.jpg", hash_of('e'), {2400, 1600}, "none", 1, ""}},
                "no camera \"none\""},
        Refused{"NoSuchPhoto", set_mark({"none", "A", {1, 1}, 0.5, {}, false}),
                "no photo \"none\""},
        Refused{"NoSuchPoint", set_mark({"a.jpg", "none", {1, 1}, 0.5, {}, false}),
                "no point \"none\""},
        Refused{"Outside", set_mark({"a.jpg", "A", {2399.51, 1}, 0.5, {}, false}),
                "outside the photo of 2400 x 1600"},
        Refused{"OutsideAbove", set_mark({"a.jpg", "A", {5, -0.51}, 0.5, {}, false}), "outside"},
        Refused{"NaN", set_mark({"a.jpg", "A", {kNaN, 1}, 0.5, {}, false}), "finite"},
        Refused{"Sigma", set_mark({"a.jpg", "A", {1, 1}, 0.0, {}, false}), "sigma above 0"},
        Refused{
            "MarkedTwice",
            SetMarks{{{"a.jpg", "A", {1, 1}, 1, {}, false}, {"a.jpg", "A", {2, 2}, 1, {}, false}}},
            "twice"},
        Refused{"NoMark", RemoveMarks{{{"a.jpg", "none"}}}, "no mark of point \"none\""},
        Refused{"BarLength", AddBar{bar(0.0, 0.1)}, "length above 0"},
        Refused{"BarNaN", AddBar{bar(kNaN, 0.1)}, "length above 0"},
        Refused{"BarExact", AddBar{bar(10, 0)}, "above 0"},
        Refused{"BarOnePoint", AddBar{{"new", "A", "A", 10, 0.1, 0, "", {}, {}, false}},
                "two different points"},
        Refused{"BarCommon", AddBar{{"new", "A", "B", 10, 0.1, 0.1, "", {}, {}, false}},
                "certificate"},
        Refused{"BarTwice", AddBar{{"front", "A", "B", 10, 0.1, 0, "", {}, {}, false}}, "already"},
        Refused{"BarExpansion",
                AddBar{{"new", "A", "B", 10, 0.1, 0, "", Uncertain{1e-5, 1e-6}, {}, false}},
                "temperature"},
        Refused{"PointOfBar", RemovePoint{"A"}, "needed by scale bar"},
        Refused{"PointOfDimension", RemovePoint{"部品 \"7\""}, "needed by dimension \"pipe\""},
        Refused{"CameraOfPhoto", RemoveCamera{"body"}, "needed by photo"},
        Refused{"DimensionTwice", AddDimension{{"length", Distance{"A", "B"}}, {}}, "already"},
        Refused{"DimensionPoint", AddDimension{{"new", Distance{"A", "none"}}, {}},
                "no point \"none\""},
        Refused{"DimensionSame", AddDimension{{"new", Distance{"A", "A"}}, {}}, "twice"},
        Refused{"AngleSame", AddDimension{{"new", Angle{"A", "A", "B"}}, {}}, "twice"},
        Refused{"PlaneOfTwo", AddDimension{{"new", OffsetFromPlane{"A", {"B", "C, left"}}}, {}},
                "three or more"},
        Refused{"PlaneSame", AddDimension{{"new", OffsetFromPlane{"A", {"B", "B", "C, left"}}}, {}},
                "twice"},
        Refused{"RenameToTaken", RenamePoint{"A", "B"}, "already"},
        Refused{"RenameToItself", RenamePoint{"A", "A"}, "already"},
        Refused{"RenameNone", RenamePoint{"none", "Z"}, "no point \"none\""},
        Refused{"RenameEmpty", RenamePoint{"A", ""}, "empty"},
        Refused{"RenameDimensionToTaken", RenameDimension{"rail", "pipe"}, "asked already"},
        Refused{"RenameDimensionNone", RenameDimension{"none", "Z"}, "no dimension \"none\""},
        Refused{"ToleranceZero", SetTolerance{"length", 0.0}, "above 0"},
        Refused{"ToleranceNaN", SetTolerance{"length", kNaN}, "above 0"},
        Refused{"ToleranceOfAngle", SetTolerance{"flare", 0.1}, "is an angle"},
        Refused{"ToleranceOfNewAngle", AddDimension{{"new", Angle{"A", "B", "D"}, 0.1}, {}},
                "is an angle"},
        Refused{"HiddenWhereMarked", SetHidden{{{"a.jpg", "D"}, {"a.jpg", "A"}}, true},
                "has a mark"},
        Refused{"HiddenNoPhoto", SetHidden{{{"none", "D"}}, true}, "no photo \"none\""},
        Refused{"HiddenNoPoint", SetHidden{{{"a.jpg", "none"}}, true}, "no point \"none\""},
        Refused{"NotHidden", SetHidden{{{"a.jpg", "D"}, {"a.jpg", "A"}}, false},
                "nothing is to be taken back"},
        Refused{"PhotoCameraNone", SetPhotoCamera{"a.jpg", "none"}, "no camera \"none\""},
        Refused{"EpochControl", SetPhotoEpoch{"a.jpg", "a\n"}, "control"},
        Refused{"Ratio", SetScales{ScaleRatio{0, 0}, {}}, "ratio like 1:48"},
        Refused{"RatioU", SetScales{ScaleRatio{48, 48}, {}}, "smaller than"},
        Refused{"ReplicaAlone", SetScales{std::nullopt, {ScaleRatio{72, 0}}},
                "needs the model scale"},
        Refused{"Cold", SetTemperature{Uncertain{-300, 1}}, "absolute zero"},
        Refused{"GroupFailsLate",
                EditGroup{{RemovePhoto{"a.jpg"}, AddPoint{{"E", ""}}, RemoveBar{"front"},
                           RemovePoint{"none"}}},
                "no point \"none\""}),
    [](const auto& parameter) { return parameter.param.name; });

TEST(Apply, TakesAMarkOnTheVeryEdgeOfTheLastPixel) {
  Dossier dossier = small_dossier();
  EXPECT_TRUE(apply(set_mark({"a.jpg", "A", {2399.5, 1599.5}, 0.5, {}, false}), dossier));
  EXPECT_TRUE(apply(set_mark({"a.jpg", "A", {-0.5, -0.5}, 0.5, {}, false}), dossier));
}

TEST(Apply, KeepsListsSortedWhateverTheOrderOfEdits) {
  const Dossier dossier = small_dossier();
  EXPECT_TRUE(std::is_sorted(dossier.points.begin(), dossier.points.end(),
                             [](const Point& a, const Point& b) { return a.name < b.name; }));
  EXPECT_TRUE(
      std::is_sorted(dossier.marks.begin(), dossier.marks.end(), [](const Mark& a, const Mark& b) {
        return std::tie(a.photo, a.point) < std::tie(b.photo, b.point);
      }));
  ASSERT_THAT(dossier.dimensions, SizeIs(5));
  EXPECT_EQ(dossier.dimensions.front().name, "flare");
}

TEST(Apply, RenamesAPointWhereverItStands) {
  Dossier dossier = small_dossier();
  ASSERT_TRUE(apply(RenamePoint{"A", "Z"}, dossier));
  EXPECT_EQ(dossier.find_point("A"), nullptr);
  EXPECT_TRUE(std::none_of(dossier.marks.begin(), dossier.marks.end(),
                           [](const Mark& mark) { return mark.point == "A"; }));
  EXPECT_EQ(std::count_if(dossier.marks.begin(), dossier.marks.end(),
                          [](const Mark& mark) { return mark.point == "Z"; }),
            2);
  for (const ScaleBar& bar : dossier.bars) {
    EXPECT_EQ(bar.from, "Z");
  }
  for (const AskedDimension& dimension : dossier.dimensions) {
    EXPECT_EQ(names_of(dimension.kind).front(), "Z");
  }
  ASSERT_TRUE(apply(RenamePoint{"D", "0"}, dossier));
  EXPECT_EQ(dossier.hidden, (std::vector<Hidden>{{"a.jpg", "0"}, {"b, turned.jpg", "0"}}));
}

TEST(Apply, TakesAMarkAsProofThatAPointIsVisible) {
  Dossier dossier = small_dossier();
  ASSERT_TRUE(apply(set_mark({"a.jpg", "D", {5, 5}, 0.5, {}, false}), dossier));
  EXPECT_EQ(dossier.hidden, (std::vector<Hidden>{{"b, turned.jpg", "D"}}));
}

TEST(Warnings, PointOutBarsThatContradictEachOther) {
  Dossier dossier = small_dossier();
  const Edit edit = AddBar{{"again", "B", "A", 300.5, 0.02, 0.01, "cert 7", {}, {}, false}};
  ASSERT_TRUE(apply(edit, dossier));
  ASSERT_THAT(warnings_after(edit, dossier), SizeIs(1));
  EXPECT_THAT(warnings_after(edit, dossier).front(), HasSubstr("\"again\" and \"front\""));
  // 3.29 · √2 · 0.02 mm = 0.093 mm: what one certificate gives both bars cancels out.
  for (const auto& [length_mm, count] : {std::pair(300.09, 0u), std::pair(300.10, 1u)}) {
    Dossier near = small_dossier();
    const Edit bar_edit =
        AddBar{{"again", "B", "A", length_mm, 0.02, 0.01, "cert 7", {}, {}, false}};
    ASSERT_TRUE(apply(bar_edit, near));
    EXPECT_THAT(warnings_after(bar_edit, near), SizeIs(count));
  }
}

TEST(NameRules, TakeAnyScriptAndRefuseWhatIsNoText) {
  for (const char* good :
       {"A", "a b", "Größe", "部品", "e\u0301", "\U0001F680", "[x,y]", "-3", "\"q\""}) {
    EXPECT_FALSE(name_problem(good, "point")) << good;
  }
  for (const char* bad :
       {"", "a\x7F", "\xC0\xAF", "\xED\xA0\x80", "\xF4\x90\x80\x80", "a\u0085", "a\u2028", "a "}) {
    EXPECT_TRUE(name_problem(bad, "point")) << bad;
  }
  EXPECT_EQ(in_quotes("a\nb\xFF"), "\"a\\x0Ab\\xFF\"");
}

}  // namespace
}  // namespace measure
