#include "measure/store/dossier_file.h"

#include <algorithm>
#include <functional>
#include <sstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "calib/board/photo_hash.h"
#include "calib/file/camera_file.h"
#include "calib/file/versioned_json.h"
#include "measure/edit/apply.h"
#include "tests/calib/file/scratch_folder.h"
#include "tests/measure/edit/small_dossier.h"
#include "tests/measure/store/full_reports.h"

namespace measure {
namespace {

namespace fs = std::filesystem;
using calib::Json;
using testing::AllOf;
using testing::HasSubstr;
using testing_support::contents_of;
using testing_support::put;
using testing_support::ScratchFolder;
using testing_support::small_dossier;
using testing_support::snapshot;

Json json_of_file(const fs::path& file) { return Json::parse(contents_of(file)); }

TEST(DossierFile, GivesBackTheDossierItWasGiven) {
  const ScratchFolder folder;
  const Dossier dossier = small_dossier();
  ASSERT_TRUE(write_dossier(folder.path(), dossier));
  const auto again = read_dossier(folder.path());
  ASSERT_TRUE(again) << again.error().sentence;
  EXPECT_TRUE(*again == dossier);
  EXPECT_EQ(dossier_text(*again), contents_of(folder / "dossier.json"));
}

TEST(DossierFile, KeepsEachMarkInALineOfItsOwn) {
  const std::string text = dossier_text(small_dossier());
  EXPECT_THAT(
      text,
      HasSubstr(
          "\n    {\"photo\":\"a.jpg\",\"point\":\"A\",\"sigma_px\":0.03,\"source\":\"refined\","
          "\"x_px\":-0.5,\"y_px\":12.0},\n"));
  Dossier changed = small_dossier();
  ASSERT_TRUE(
      apply(set_mark({"a.jpg", "A", {5.25, 6.0}, 0.5, MarkSource::kByHand, false}), changed));
  std::istringstream before(text), after(dossier_text(changed));
  int different = 0;
  for (std::string a, b; std::getline(before, a) && std::getline(after, b);) {
    different += a != b ? 1 : 0;
  }
  EXPECT_EQ(different, 1);
}

TEST(DossierFile, KeepsKeysOfANewerMinorVersionWithTheItemsTheyBelongTo) {
  const ScratchFolder folder;
  Json json = Json::parse(dossier_text(small_dossier()));
  json["schema_version"]["minor"] = 3;
  json["parts"] = {{{"name", "hatch"}, {"donor", "kit 7"}}};
  json["original"]["humidity_percent"] = 40;
  const auto mark_of_photo = [](Json& file, const char* photo) -> Json& {
    return *std::find_if(file["marks"].begin(), file["marks"].end(), [&](const Json& mark) {
      return mark["point"] == "A" && mark["photo"] == photo;
    });
  };
  mark_of_photo(json, "a.jpg")["seen_by"] = "M";
  mark_of_photo(json, "b, turned.jpg")["seen_by"] = "N";
  json["dimensions"][0]["asked_by"] = {"the mould shop"};
  put(folder / "dossier.json", json.dump());
  auto dossier = read_dossier(folder.path());
  ASSERT_TRUE(dossier) << dossier.error().sentence;
  ASSERT_TRUE(apply(RemovePhoto{"b, turned.jpg"}, *dossier));
  ASSERT_TRUE(apply(AddPoint{{"0 first", ""}}, *dossier));
  ASSERT_TRUE(write_dossier(folder.path(), *dossier));
  Json saved = json_of_file(folder / "dossier.json");
  EXPECT_EQ(saved["schema_version"]["minor"], 3);
  EXPECT_EQ(saved["parts"], json["parts"]);
  EXPECT_EQ(saved["original"]["humidity_percent"], 40);
  EXPECT_EQ(mark_of_photo(saved, "a.jpg")["seen_by"], "M");
  EXPECT_EQ(saved["dimensions"][0]["asked_by"], json["dimensions"][0]["asked_by"]);
  EXPECT_THAT(saved.dump(), testing::Not(HasSubstr("\"N\"")));
}

TEST(DossierFile, RefusesANewerMajorVersionUntouched) {
  const ScratchFolder folder;
  Json json = Json::parse(dossier_text(small_dossier()));
  json["schema_version"]["major"] = 2;
  put(folder / "dossier.json", json.dump());
  const auto before = snapshot(folder.path());
  const auto dossier = read_dossier(folder.path());
  ASSERT_FALSE(dossier);
  EXPECT_THAT(dossier.error().sentence,
              AllOf(HasSubstr("dossier.json"), HasSubstr("newer"), HasSubstr("untouched")));
  EXPECT_EQ(snapshot(folder.path()), before);
}

TEST(DossierFile, SurvivesEveryTruncation) {
  const ScratchFolder folder;
  const std::string whole = dossier_text(small_dossier());
  for (std::size_t size = 0; size + 2 < whole.size(); size += 11) {
    put(folder / "dossier.json", whole.substr(0, size));
    const auto dossier = read_dossier(folder.path());
    ASSERT_FALSE(dossier) << size;
    ASSERT_THAT(dossier.error().sentence, AllOf(HasSubstr("dossier.json"), HasSubstr("copy")));
  }
}

/// Puts every kind of nonsense in place of every value of a file, one at a time.
void spoil_everywhere(Json& json, const std::function<void()>& try_it) {
  if (json.is_structured()) {
    for (Json& element : json) {
      spoil_everywhere(element, try_it);
    }
  }
  const Json kept = json;
  for (const Json& nonsense :
       {Json(nullptr), Json(true), Json(-1), Json(1e300), Json(18446744073709551615u), Json(""),
        Json("\u0001"), Json::array(), Json::object(), Json::array({Json::array()})}) {
    json = nonsense;
    try_it();
  }
  json = kept;
}

TEST(DossierFile, NeverThrowsAndNeverGivesWhatCannotBeSavedAgain) {
  const ScratchFolder folder;
  Json json = Json::parse(dossier_text(small_dossier()));
  int accepted = 0, refused = 0;
  spoil_everywhere(json, [&] {
    put(folder / "dossier.json", json.dump());
    const auto dossier = read_dossier(folder.path());
    if (!dossier) {
      ++refused;
      ASSERT_THAT(dossier.error().sentence, HasSubstr("dossier.json"));
      return;
    }
    ++accepted;
    ASSERT_TRUE(write_dossier(folder.path(), *dossier));
    const auto again = read_dossier(folder.path());
    ASSERT_TRUE(again) << again.error().sentence;
    ASSERT_TRUE(*again == *dossier);
  });
  EXPECT_GT(refused, 1000);
  EXPECT_GT(accepted, 50);
}

struct Contradiction {
  const char* name;
  std::function<void(Json&)> change;
  const char* says;
};

class ContradictoryDossier : public testing::TestWithParam<Contradiction> {};

TEST_P(ContradictoryDossier, IsRefusedWithItsItem) {
  const ScratchFolder folder;
  Json json = Json::parse(dossier_text(small_dossier()));
  GetParam().change(json);
  put(folder / "dossier.json", json.dump());
  const auto dossier = read_dossier(folder.path());
  ASSERT_FALSE(dossier);
  EXPECT_THAT(dossier.error().sentence,
              AllOf(HasSubstr("dossier.json, item "), HasSubstr(GetParam().says)));
}

INSTANTIATE_TEST_SUITE_P(
    Cases, ContradictoryDossier,
    testing::Values(
        Contradiction{"PhotoTwice", [](Json& j) { j["photos"].push_back(j["photos"][0]); },
                      "already"},
        Contradiction{"PointTwice", [](Json& j) { j["points"].push_back(j["points"][0]); },
                      "already"},
        Contradiction{"KindTwice", [](Json& j) { j["point_kinds"].push_back(j["point_kinds"][0]); },
                      "second time"},
        Contradiction{"MarkTwice", [](Json& j) { j["marks"].push_back(j["marks"][0]); },
                      "marked twice"},
        Contradiction{"MarkOutside", [](Json& j) { j["marks"][0]["x_px"] = 1e6; },
                      "outside the photo"},
        Contradiction{"MarkOfNothing", [](Json& j) { j["marks"][0]["point"] = "none"; },
                      "no point \"none\""},
        Contradiction{"BarOfNothing", [](Json& j) { j["bars"][0]["to"] = "none"; }, "bars[0]"},
        Contradiction{"BadSource", [](Json& j) { j["marks"][3]["source"] = "guessed"; },
                      "marks[3].source"},
        Contradiction{"NoUncertainty", [](Json& j) { j["original"].erase("temperature_u_C"); },
                      "temperature_u_C: is missing"},
        Contradiction{"NoName", [](Json& j) { j.erase("name"); }, "name: is missing"}),
    [](const auto& parameter) { return parameter.param.name; });

TEST(DossierFile, SaysThatAFolderIsNoDossier) {
  const ScratchFolder folder;
  EXPECT_THAT(read_dossier(folder.path()).error().sentence, HasSubstr("holds no dossier.json"));
  EXPECT_THAT(read_dossier(folder / "none").error().sentence, HasSubstr("is no folder"));
  put(folder / "dossier.json", calib::camera_text(testing_support::small_camera()));
  EXPECT_THAT(read_dossier(folder.path()).error().sentence, HasSubstr("is no dossier"));
}

TEST(CreateDossier, DoesNotOverwriteOne) {
  const ScratchFolder folder;
  ASSERT_TRUE(create_dossier(folder / "new/hauler", small_dossier()));
  const auto before = snapshot(folder.path());
  EXPECT_FALSE(create_dossier(folder / "new/hauler", Dossier{}));
  put(folder / "file", "");
  EXPECT_FALSE(create_dossier(folder / "file", small_dossier()));
  fs::remove(folder / "file");
  EXPECT_EQ(snapshot(folder.path()), before);
}

TEST(NameInDossier, IsRelativeInsideTheFolderAndUpToThreeLevelsUp) {
  const ScratchFolder folder;
  const fs::path home = folder / "a/b/c/d";
  fs::create_directories(home / "photos");
  EXPECT_EQ(name_in_dossier(home, home / "photos/a.jpg"), "photos/a.jpg");
  EXPECT_EQ(name_in_dossier(home, home / "../photos/a.jpg"), "../photos/a.jpg");
  EXPECT_EQ(name_in_dossier(home, folder / "a/photos/a.jpg"), "../../../photos/a.jpg");
  EXPECT_EQ(name_in_dossier(home, folder / "photos/a.jpg"),
            (fs::weakly_canonical(folder.path()) / "photos/a.jpg").string());
  EXPECT_TRUE(is_inside_dossier("photos/a.jpg"));
  EXPECT_FALSE(is_inside_dossier("../photos/a.jpg"));
  EXPECT_FALSE(is_inside_dossier("/photos/a.jpg"));
}

TEST(NameInDossier, IsAbsoluteWhereOnlyTheRootOfTheDiskIsShared) {
  EXPECT_EQ(name_in_dossier("/nowhere", "/elsewhere/a.jpg"), "/elsewhere/a.jpg");
  EXPECT_EQ(name_in_dossier("/nowhere/d", "/nowhere/a.jpg"), "../a.jpg");
}

TEST(PathOf, FindsFilesInsideBesideAndElsewhere) {
  const ScratchFolder folder;
  fs::create_directories(folder / "a/d");
  const fs::path whole = fs::weakly_canonical(folder.path());
  EXPECT_EQ(path_of(folder / "a/d", "photos/a.jpg"), folder / "a/d/photos/a.jpg");
  EXPECT_EQ(path_of(folder / "a/d", "/archive/a.jpg"), "/archive/a.jpg");
  EXPECT_EQ(path_of(folder / "a/d", "../../b/a.jpg"), whole / "b/a.jpg");
  // Through a link the way up is that of the folder it stands for, as when the name was made.
  fs::create_directory(folder / "links");
  fs::create_directory_symlink(folder / "a/d", folder / "links/d");
  EXPECT_EQ(path_of(folder / "links/d", "../p/a.jpg"), whole / "a/p/a.jpg");
  EXPECT_EQ(name_in_dossier(folder / "links/d", folder / "a/p/a.jpg"), "../p/a.jpg");
}

TEST(ReadCameras, RefusesAFileThatHasChanged) {
  const ScratchFolder folder;
  fs::create_directory(folder / "cameras");
  const fs::path file = folder / "cameras/body.json";
  ASSERT_TRUE(calib::write_camera(file, testing_support::small_camera()));
  Dossier dossier = small_dossier();
  ASSERT_TRUE(
      apply(SetCameraFile{"body", "cameras/body.json", *calib::sha256_of_file(file)}, dossier));
  const auto cameras = read_cameras(folder.path(), dossier);
  ASSERT_TRUE(cameras) << cameras.error().sentence;
  EXPECT_EQ(cameras->at("body").intrinsics.fx, 2512.5);
  calib::Camera changed = testing_support::small_camera();
  changed.intrinsics.fx += 1.0;
  ASSERT_TRUE(calib::write_camera(file, changed));
  EXPECT_THAT(read_cameras(folder.path(), dossier).error().sentence,
              HasSubstr("has changed since"));
}

TEST(DossierLock, HoldsOffASecondProgram) {
  const ScratchFolder folder;
  {
    const auto first = DossierLock::take(folder.path());
    ASSERT_TRUE(first);
    const auto second = DossierLock::take(folder.path());
    ASSERT_FALSE(second);
    EXPECT_THAT(second.error().sentence, HasSubstr("Another program"));
  }
  EXPECT_TRUE(DossierLock::take(folder.path()));
}

std::string numbered(std::string word, int number) { return word.append(std::to_string(number)); }

TEST(DossierFile, HoldsALargeSurvey) {
  // 100 photos, 2,000 points, 6 marks a point. Five times as much takes a second, but a minute
  // under sanitizers.
  Dossier dossier = small_dossier();
  EditGroup group;
  for (int i = 0; i < 100; ++i) {
    std::string hash = std::to_string(i);
    hash.insert(0, 64 - hash.size(), '0');
    group.edits.push_back(
        AddPhoto{{numbered("p", i), numbered("p", i), hash, {2400, 1600}, "body", 1, ""}});
  }
  SetMarks marks;
  for (int i = 0; i < 2000; ++i) {
    group.edits.push_back(AddPoint{{numbered("point ", i), ""}});
    for (int j = 0; j < 6; ++j) {
      marks.marks.push_back({numbered("p", (7 * i + 83 * j) % 100),
                             numbered("point ", i),
                             {0.1 * i, 0.1 * j},
                             0.5,
                             {},
                             false});
    }
  }
  group.edits.push_back(marks);
  ASSERT_TRUE(apply(group, dossier));
  const ScratchFolder folder;
  ASSERT_TRUE(write_dossier(folder.path(), dossier));
  const auto again = read_dossier(folder.path());
  ASSERT_TRUE(again) << again.error().sentence;
  EXPECT_TRUE(*again == dossier);
}

}  // namespace
}  // namespace measure
