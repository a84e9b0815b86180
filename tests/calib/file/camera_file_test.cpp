#include "calib/file/camera_file.h"

#include <cmath>
#include <limits>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "calib/file/calibration_json.h"
#include "calib/file/versioned_json.h"
#include "tests/calib/file/scratch_folder.h"

namespace calib {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing_support::contents_of;
using testing_support::put;
using testing_support::ScratchFolder;
using testing_support::snapshot;
using testing_support::with;

/// Every field has a value that no other has; k3 is held.
Camera full_camera() {
  Camera camera;
  camera.name = "Körper 50 mm";
  camera.image_size = {2400, 1600};
  camera.intrinsics = {2512.123456789012,
                       2511.987654321098,
                       1199.1,
                       800.3,
                       -0.1234567890123456,
                       0.0987,
                       1e-4,
                       -2e-4,
                       0.0};
  camera.held[kK3] = true;
  IntrinsicMatrix root = IntrinsicMatrix::Zero();
  for (int i = 0; i < kK3; ++i) {
    for (int j = 0; j <= i; ++j) {
      root(i, j) = (i == j ? 1.0 : 0.3 / (1 + i + j)) * (i <= kCy ? 0.7 : 3e-4);
    }
  }
  camera.covariance = root * root.transpose();
  camera.lens_and_body = {"Maker", "Body", "50 mm", 50.0, 75.0};
  camera.date = "2026-11-25T12:00:00Z";
  camera.rms_px = 0.196;
  camera.sigma0 = 1.07;
  camera.redundancy = 1234;
  camera.photos = {{"a.jpg", std::string(64, 'a'), true, "", 0.19},
                   {"b.jpg", "", false, "is empty", std::nullopt}};
  camera.board = BoardRecord{9, 6, 25.0, true, 0.31, 0.02};
  camera.warnings = {"Only frontal views: tilt the board."};
  return camera;
}

TEST(CameraFile, GivesBackEveryFieldItWasGiven) {
  const ScratchFolder folder;
  const Camera camera = full_camera();
  ASSERT_TRUE(write_camera(folder / "c.json", camera));
  const auto again = read_camera(folder / "c.json");
  ASSERT_TRUE(again) << again.error().sentence;
  EXPECT_EQ(again->name, camera.name);
  EXPECT_EQ(again->image_size, camera.image_size);
  EXPECT_EQ(again->intrinsics.vector(), camera.intrinsics.vector());
  EXPECT_EQ(again->held, camera.held);
  EXPECT_EQ(again->lens_and_body, camera.lens_and_body);
  EXPECT_EQ(again->date, camera.date);
  EXPECT_EQ(again->rms_px, camera.rms_px);
  EXPECT_EQ(again->sigma0, camera.sigma0);
  EXPECT_EQ(again->redundancy, camera.redundancy);
  ASSERT_EQ(again->photos.size(), 2u);
  EXPECT_EQ(again->photos[0].sha256, camera.photos[0].sha256);
  EXPECT_EQ(again->photos[1].reason, camera.photos[1].reason);
  EXPECT_EQ(again->board->flatness_u_mm, camera.board->flatness_u_mm);
  EXPECT_EQ(again->warnings, camera.warnings);
  // sd and correlation take a root, a division and two products: some units in the last place.
  for (int i = 0; i < kIntrinsicCount; ++i) {
    for (int j = 0; j < kIntrinsicCount; ++j) {
      const double scale = std::sqrt(camera.covariance(i, i) * camera.covariance(j, j));
      EXPECT_NEAR(again->covariance(i, j), camera.covariance(i, j), 4e-16 * scale * 4)
          << i << ' ' << j;
    }
  }
  EXPECT_EQ(again->covariance(kK3, kK3), 0.0);
  // Written again, read again: nothing drifts.
  EXPECT_EQ(camera_text(*again), camera_text(*read_camera(folder / "c.json")));
}

TEST(CameraFile, KeepsKeysOfANewerMinorVersion) {
  const ScratchFolder folder;
  std::string text = camera_text(full_camera());
  text = with(text, "\"minor\":0", "\"minor\":4");
  text = with(text, "\"name\": ", "\"shutter\": {\"kind\": [1, 2]}, \"name\": ");
  text = with(text, "\"file\": \"a.jpg\"", "\"file\": \"a.jpg\",\"weather\":\"fog\"");
  put(folder / "c.json", text);
  const auto camera = read_camera(folder / "c.json");
  ASSERT_TRUE(camera) << camera.error().sentence;
  ASSERT_TRUE(write_camera(folder / "c.json", *camera));
  const Json json = Json::parse(contents_of(folder / "c.json"));
  EXPECT_EQ(json["shutter"]["kind"], Json({1, 2}));
  EXPECT_EQ(json["photos"][0]["weather"], "fog");
  EXPECT_EQ(json["schema_version"]["minor"], 4);
}

TEST(CameraFile, RefusesANewerMajorVersionUntouched) {
  const ScratchFolder folder;
  put(folder / "c.json", with(camera_text(full_camera()), "\"major\":1", "\"major\":2"));
  const auto before = snapshot(folder.path());
  const auto camera = read_camera(folder / "c.json");
  ASSERT_FALSE(camera);
  EXPECT_THAT(camera.error().sentence,
              AllOf(HasSubstr("c.json"), HasSubstr("newer"), HasSubstr("update")));
  EXPECT_EQ(snapshot(folder.path()), before);
}

struct Spoilt {
  const char* name;
  std::string from, to;
  std::string says;
};

class SpoiltCamera : public testing::TestWithParam<Spoilt> {};

TEST_P(SpoiltCamera, IsRefusedWithFileItemAndRemedy) {
  const ScratchFolder folder;
  put(folder / "c.json", with(camera_text(full_camera()), GetParam().from, GetParam().to));
  const auto camera = read_camera(folder / "c.json");
  ASSERT_FALSE(camera);
  EXPECT_THAT(camera.error().sentence,
              AllOf(HasSubstr("c.json"), HasSubstr(GetParam().says), HasSubstr("from a copy")));
  EXPECT_EQ(camera.error().blame, Blame::kInput);
}

INSTANTIATE_TEST_SUITE_P(
    Items, SpoiltCamera,
    testing::Values(
        Spoilt{"Focal", "\"fx_px\": 2512.123456789012", "\"fx_px\": -1",
               "intrinsics.fx_px: must be above 0"},
        Spoilt{"Text", "\"cx_px\": 1199.1", "\"cx_px\": \"left\"", "cx_px: is not a number"},
        Spoilt{"Overflow", "\"cx_px\": 1199.1", "\"cx_px\": 1e999", "too large"},
        Spoilt{"NaN", "\"cx_px\": 1199.1", "\"cx_px\": NaN", "no JSON (line"},
        Spoilt{"Width", "\"width\":2400", "\"width\":2400.5", "width: must be a whole number"},
        Spoilt{"HugeWidth", "\"width\":2400", "\"width\":99999999999999999999", "width"},
        Spoilt{"Twice", "\"name\": ", "\"name\": \"other\", \"name\": ", "stands twice"},
        Spoilt{"Held", "\"held\": [\"k3\"]", "\"held\": [\"k9\"]", "which is none of"},
        Spoilt{"NeitherFreeNorHeld", "\"held\": [\"k3\"]", "\"held\": []",
               "neither as free nor as held"},
        Spoilt{"Hash", std::string(64, 'a'), "abc", "SHA-256"},
        Spoilt{"List", "\"photos\": [", "\"photos\": 7, \"pictures\": [", "photos: is not a list"}),
    [](const auto& parameter) { return parameter.param.name; });

/// A camera file whose correlation matrix (of all but k3) is what the test makes of it.
std::string text_with_correlation(const std::function<void(Json&)>& change) {
  Json json = Json::parse(camera_text(full_camera()));
  change(json["uncertainty"]);
  return json.dump();
}

TEST(CameraFile, RefusesAMatrixThatIsNoCorrelation) {
  const ScratchFolder folder;
  const auto refused = [&](const std::function<void(Json&)>& change) {
    put(folder / "c.json", text_with_correlation(change));
    const auto camera = read_camera(folder / "c.json");
    return camera ? std::string("accepted") : camera.error().sentence;
  };
  EXPECT_THAT(refused([](Json& u) { u["correlation"][0][1] = 0.9; }), HasSubstr("symmetrical"));
  EXPECT_THAT(refused([](Json& u) { u["correlation"][2][2] = 1.1; }), HasSubstr("diagonal"));
  EXPECT_THAT(refused([](Json& u) { u["correlation"].erase(0); }), HasSubstr("8 rows"));
  EXPECT_THAT(refused([](Json& u) { u["sd"]["k1"] = 0; }), HasSubstr("above 0"));
  EXPECT_THAT(refused([](Json& u) { u["sd"]["k1"] = 1e200; }), HasSubstr("too large"));
  // Each pair may be correlated so, but not all three at once.
  EXPECT_THAT(
      refused([](Json& u) {
        for (const auto& [i, j, r] : {std::tuple(0, 1, 0.99), {1, 2, 0.99}, {0, 2, -0.99}}) {
          u["correlation"][i][j] = r;
          u["correlation"][j][i] = r;
        }
      }),
      HasSubstr("positive semi-definite"));
}

TEST(CameraFile, SurvivesEveryTruncationAndDeepNesting) {
  const ScratchFolder folder;
  const std::string whole = camera_text(full_camera());
  for (std::size_t size = 0; size + 2 < whole.size(); size += 7) {
    put(folder / "c.json", whole.substr(0, size));
    const auto camera = read_camera(folder / "c.json");
    ASSERT_FALSE(camera) << size;
    ASSERT_THAT(camera.error().sentence, HasSubstr("c.json"));
  }
  for (const char* brackets : {"[", "{\"a\":"}) {
    std::string deep;
    for (int i = 0; i < 200'000; ++i) {
      deep += brackets;
    }
    put(folder / "c.json", deep);
    EXPECT_THAT(read_camera(folder / "c.json").error().sentence, HasSubstr("nested deeper"));
  }
}

TEST(CameraFile, DoesNotSaveACameraThatCouldNotBeReadAgain) {
  const ScratchFolder folder;
  put(folder / "c.json", "old");
  Camera camera = full_camera();
  camera.intrinsics.fx = std::numeric_limits<double>::quiet_NaN();
  const auto written = write_camera(folder / "c.json", camera);
  ASSERT_FALSE(written);
  EXPECT_EQ(written.error().blame, Blame::kOurs);
  EXPECT_EQ(contents_of(folder / "c.json"), "old");
}

TEST(CalibrationJson, SaysNullAndNeverNaN) {
  Camera camera = full_camera();
  camera.sigma0 = std::numeric_limits<double>::quiet_NaN();
  const Json json = Json::parse(calibration_json(camera));
  EXPECT_TRUE(json["sigma0"].is_null());
  EXPECT_TRUE(json["parameters"]["k3"]["u"].is_null());
  EXPECT_EQ(json["parameters"]["k3"]["held"], true);
  EXPECT_EQ(json["photos"][1]["reason"], "is empty");
}

}  // namespace
}  // namespace calib
