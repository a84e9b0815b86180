// Every file and every --json output, full of all it can hold, against the schema that ships with
// it.
#include <array>
#include <cstdio>

#include <gtest/gtest.h>
#include <sys/wait.h>

#include "calib/file/calibration_json.h"
#include "calib/file/camera_file.h"
#include "measure/store/dossier_file.h"
#include "measure/store/results_file.h"
#include "measure/store/survey_json.h"
#include "tests/calib/file/scratch_folder.h"
#include "tests/measure/edit/small_dossier.h"
#include "tests/measure/store/full_reports.h"

namespace measure {
namespace {

using testing_support::put;
using testing_support::ScratchFolder;

/// What check_schema.py says about a file; empty where it follows its schema and holds no key
/// beyond it.
std::string schema_fault(const std::string& schema, const std::filesystem::path& file) {
  const std::string source = SCANTLING_SOURCE;
  const std::string command = std::string(SCANTLING_PYTHON) + " " + source +
                              "/tests/measure/store/check_schema.py " + source + "/" + schema +
                              " " + file.string() + " 2>&1";
  FILE* pipe = ::popen(command.c_str(), "r");
  std::string said;
  std::array<char, 4096> part{};
  while (pipe != nullptr && std::fgets(part.data(), part.size(), pipe) != nullptr) {
    said += part.data();
  }
  const int status = pipe != nullptr ? ::pclose(pipe) : -1;
  return WIFEXITED(status) && WEXITSTATUS(status) == 0 ? "" : "check_schema.py failed: " + said;
}

TEST(Schema, DescribesEveryFileThatIsWritten) {
  const ScratchFolder folder;
  const Dossier dossier = testing_support::small_dossier();
  ASSERT_TRUE(write_dossier(folder.path(), dossier));
  ASSERT_TRUE(write_results(folder.path(), dossier, testing_support::full_report(),
                            testing_support::full_dimensions()));
  ASSERT_TRUE(calib::write_camera(folder / "camera.json", testing_support::small_camera()));
  EXPECT_EQ(schema_fault("measure/store/schema/dossier.schema.json", folder / "dossier.json"), "");
  EXPECT_EQ(schema_fault("measure/store/schema/results.schema.json", folder / "results.json"), "");
  EXPECT_EQ(schema_fault("calib/file/schema/camera.schema.json", folder / "camera.json"), "");
  // An empty dossier follows it, too.
  Dossier empty;
  empty.name = "empty";
  ASSERT_TRUE(write_dossier(folder.path(), empty));
  EXPECT_EQ(schema_fault("measure/store/schema/dossier.schema.json", folder / "dossier.json"), "");
}

TEST(Schema, DescribesEveryOutputForMachines) {
  const ScratchFolder folder;
  const auto report = testing_support::full_report();
  put(folder / "adjust", adjust_json(report, testing_support::small_dossier()));
  put(folder / "set_aside", adjust_json(report, testing_support::small_dossier(),
                                        {{{"a.jpg", "A", 7.5}}, {{"a.jpg", "B", 4.0}}}));
  put(folder / "dimensions", dimensions_json(testing_support::full_dimensions(),
                                             testing_support::full_comparisons(), report));
  put(folder / "calibration", calib::calibration_json(testing_support::small_camera()));
  EXPECT_EQ(schema_fault("measure/store/schema/adjust.schema.json", folder / "adjust"), "");
  EXPECT_EQ(schema_fault("measure/store/schema/adjust.schema.json", folder / "set_aside"), "");
  EXPECT_EQ(schema_fault("measure/store/schema/dimensions.schema.json", folder / "dimensions"), "");
  EXPECT_EQ(schema_fault("calib/file/schema/calibration.schema.json", folder / "calibration"), "");
}

TEST(Schema, RefusesAKeyThatItDoesNotDescribe) {
  const ScratchFolder folder;
  put(folder / "d", testing_support::with(dossier_text(testing_support::small_dossier()),
                                          "\"x_px\"", "\"x_pixels\""));
  EXPECT_NE(schema_fault("measure/store/schema/dossier.schema.json", folder / "d"), "");
}

}  // namespace
}  // namespace measure
