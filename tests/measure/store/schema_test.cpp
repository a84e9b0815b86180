// Every file and every --json output, full of all it can hold, against the schema that ships with
// it.
#include <array>
#include <cstdio>
#include <sstream>

#include <gtest/gtest.h>
#include <sys/wait.h>

#include "calib/file/calibration_json.h"
#include "calib/file/camera_file.h"
#include "calib/file/versioned_json.h"
#include "measure/store/dossier_file.h"
#include "measure/store/files_json.h"
#include "measure/store/forms_json.h"
#include "measure/store/open_dossier.h"
#include "measure/store/results_file.h"
#include "measure/store/sheet_json.h"
#include "measure/store/survey_json.h"
#include "tests/calib/file/scratch_folder.h"
#include "tests/measure/edit/small_dossier.h"
#include "tests/measure/sheet/workshop_drawing.h"
#include "tests/measure/store/full_reports.h"

namespace measure {
namespace {

using testing_support::put;
using testing_support::ScratchFolder;

/// What check_schema.py says about a file; empty where it follows its schema and holds no key
/// beyond it.
///
/// @param schema  relative to the sources, or a whole path.
std::string schema_fault(const std::filesystem::path& schema, const std::filesystem::path& file) {
  const std::filesystem::path source = SCANTLING_SOURCE;
  const std::string command = std::string(SCANTLING_PYTHON) + " " +
                              (source / "tests/measure/store/check_schema.py").string() + " " +
                              (source / schema).string() + " " + file.string() + " 2>&1";
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

TEST(Schema, DescribesEveryLineOfTheJournal) {
  const ScratchFolder folder;
  ASSERT_TRUE(write_dossier(folder.path(), testing_support::small_dossier()));
  std::string journal;
  {
    auto open = OpenDossier::open_for_change(folder.path());
    ASSERT_TRUE(open);
    for (const Edit& edit : testing_support::changing_edits()) {
      ASSERT_TRUE(open->change(edit)) << describe(edit);
      ASSERT_TRUE(open->undo() && open->redo() && open->undo());
    }
    const Mark mark = open->dossier().marks.front();
    ASSERT_TRUE(open->change(set_mark(mark)));
    ASSERT_TRUE(open->change_further(set_mark(mark), {mark.photo, mark.point}));
    journal = testing_support::contents_of(folder / "journal.ndjson");
    ASSERT_NE(journal.find("\"joins\":0"), std::string::npos);
  }
  // The line that a save puts there goes with the journal: it is made from what it would say.
  auto contents = journal_from_text(journal, "journal.ndjson");
  ASSERT_TRUE(contents);
  Journal twin(folder.path(), *contents, "");
  const JournalLine save{"2026-11-25T17:00:00Z", JournalSave{testing_support::hash_of('a')}};
  ASSERT_TRUE(twin.append({&save, 1}));
  std::istringstream lines(testing_support::contents_of(folder / "journal.ndjson"));
  std::string all = "[";
  for (std::string line; std::getline(lines, line);) {
    all += (all.size() > 1 ? ",\n" : "") + line;
  }
  put(folder / "lines", all + "]");
  // Its own schema for a list of lines, so that one start of the checker does for all.
  std::string schema = testing_support::contents_of(std::string(SCANTLING_SOURCE) +
                                                    "/measure/store/schema/journal.schema.json");
  put(folder / "schema.json", "{\"type\":\"array\",\"items\":" + schema + "}");
  EXPECT_EQ(schema_fault(folder / "schema.json", folder / "lines"), "");
}

TEST(Schema, DescribesEveryOutputForMachines) {
  const ScratchFolder folder;
  const auto report = testing_support::full_report();
  put(folder / "adjust", adjust_json(report, testing_support::small_dossier()));
  put(folder / "set_aside",
      adjust_json(report, testing_support::small_dossier(),
                  {{{"a.jpg", "A", "", 7.5}},
                   {{"a.jpg", "B", "", 4.0}, {"a.jpg", "", "rim", 4.5, {120.5, 80.25}}}}));
  put(folder / "dimensions", dimensions_json(testing_support::full_dimensions(),
                                             testing_support::full_comparisons(), report));
  put(folder / "shapes", forms_json(testing_support::full_forms(), report));
  put(folder / "coordinates", coordinates_json(testing_support::full_coordinates(), true, report));
  put(folder / "explain", explanation_json(testing_support::full_explanation()));
  put(folder / "calibration", calib::calibration_json(testing_support::small_camera()));
  EXPECT_EQ(schema_fault("measure/store/schema/adjust.schema.json", folder / "adjust"), "");
  EXPECT_EQ(schema_fault("measure/store/schema/adjust.schema.json", folder / "set_aside"), "");
  EXPECT_EQ(schema_fault("measure/store/schema/dimensions.schema.json", folder / "dimensions"), "");
  put(folder / "stock_answer", stock_json("deck plate", StockKind::kSheet, "", "mine",
                                          testing_support::full_stock(), {"A sentence."}));
  put(folder / "stock_of_one", stock_json("deck plate", StockKind::kSheet, "brass", "mine",
                                          testing_support::full_stock(), {}));
  EXPECT_EQ(schema_fault("measure/store/schema/stock_answer.schema.json", folder / "stock_of_one"),
            "");
  put(folder / "files",
      files_json({"out/a.pdf", "out/b Ø \xff.html"}, "A sentence.", {"Another."}));
  put(folder / "files_of_data", files_json({"out/data/survey.json"}, "", {}));
  EXPECT_EQ(schema_fault("measure/store/schema/files.schema.json", folder / "files_of_data"), "");
  for (const std::string name : {"shapes", "coordinates", "explain", "stock_answer", "files"}) {
    EXPECT_EQ(schema_fault("measure/store/schema/" + name + ".schema.json", folder / name), "");
  }
  EXPECT_EQ(schema_fault("calib/file/schema/calibration.schema.json", folder / "calibration"), "");
}

TEST(Schema, DescribesWhatLeavesForTheWorkshop) {
  const ScratchFolder folder;
  ShapeList shapes = testing_support::workshop_shapes();
  const auto dimensions = testing_support::full_dimensions();
  const auto without = sheet_json(shapes, dimensions);
  ASSERT_TRUE(without);
  shapes.points_covariance =
      Eigen::MatrixXd::Identity(static_cast<Eigen::Index>(3 * shapes.points.size()),
                                static_cast<Eigen::Index>(3 * shapes.points.size()));
  const auto with = sheet_json(scaled(shapes, 0.5, "replica 1:72"), dimensions);
  ASSERT_TRUE(with);
  EXPECT_EQ(*with, *sheet_json(scaled(shapes, 0.5, "replica 1:72"), dimensions));
  put(folder / "without", *without);
  put(folder / "with", *with);
  EXPECT_EQ(schema_fault("measure/store/schema/sheet.schema.json", folder / "without"), "");
  EXPECT_EQ(schema_fault("measure/store/schema/sheet.schema.json", folder / "with"), "");
  // And it says what it was given.
  const auto read = calib::parse_json(*with, "with");
  ASSERT_TRUE(read);
  EXPECT_EQ(read->at("circles").at(0).at("covariance").at(6).at(6), 0.25 * 0.25);
  EXPECT_EQ(read->at("points").at(0).at("position").at(0), 350.0);
  EXPECT_EQ(read->at("points_covariance").at(1).at(1), 0.25);
  EXPECT_TRUE(read->at("points").at(8).at("covariance").is_null());
  shapes.points_covariance = Eigen::MatrixXd::Identity(3, 3);
  EXPECT_FALSE(sheet_json(shapes, dimensions));
}

TEST(Schema, DescribesTheShippedStockTable) {
  EXPECT_EQ(schema_fault("measure/store/schema/stock.schema.json",
                         std::string(SCANTLING_SOURCE) + "/measure/store/stock/common_sizes.json"),
            "");
}

TEST(Schema, RefusesAKeyThatItDoesNotDescribe) {
  const ScratchFolder folder;
  put(folder / "d", testing_support::with(dossier_text(testing_support::small_dossier()),
                                          "\"x_px\"", "\"x_pixels\""));
  EXPECT_NE(schema_fault("measure/store/schema/dossier.schema.json", folder / "d"), "");
}

}  // namespace
}  // namespace measure
