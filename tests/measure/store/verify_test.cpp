#include "measure/store/verify.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "calib/board/photo_hash.h"
#include "calib/file/camera_file.h"
#include "measure/edit/apply.h"
#include "measure/store/open_dossier.h"
#include "measure/store/results_file.h"
#include "tests/calib/file/scratch_folder.h"
#include "tests/measure/edit/small_dossier.h"
#include "tests/measure/store/full_reports.h"

namespace measure {
namespace {

namespace fs = std::filesystem;
using testing::Contains;
using testing::Field;
using testing::HasSubstr;
using testing::IsEmpty;
using testing_support::put;
using testing_support::ScratchFolder;

/// A folder in which everything is in order: one camera, one photo, no points.
class VerifyTest : public testing::Test {
 protected:
  void SetUp() override {
    fs::create_directory(folder_ / "cameras");
    fs::create_directory(folder_ / "photos");
    put(photo_, "pixels");
    ASSERT_TRUE(calib::write_camera(camera_, testing_support::small_camera()));
    enter(SetDossierName{"d"});
    enter(AddCamera{
        {"body", "cameras/body.json", *calib::sha256_of_file(camera_), CameraUse::kPrior}});
    enter(AddPhoto{
        {"a.jpg", "photos/a.jpg", *calib::sha256_of_file(photo_), {2400, 1600}, "body", 1, ""}});
    ASSERT_TRUE(write_dossier(folder_.path(), dossier_));
    ASSERT_TRUE(write_results(folder_.path(), dossier_, testing_support::full_report(), {}));
  }
  void enter(const Edit& edit) {
    const auto applied = apply(edit, dossier_);
    ASSERT_TRUE(applied) << applied.error().sentence;
  }
  [[nodiscard]] std::vector<Finding> findings() const { return verify(folder_.path(), dossier_); }

  ScratchFolder folder_;
  fs::path camera_ = folder_ / "cameras/body.json", photo_ = folder_ / "photos/a.jpg";
  Dossier dossier_;
};

auto fault(const std::string& words) {
  return Contains(testing::AllOf(Field(&Finding::severity, Severity::kFault),
                                 Field(&Finding::sentence, HasSubstr(words))));
}
auto notice(const std::string& words) {
  return Contains(testing::AllOf(Field(&Finding::severity, Severity::kNotice),
                                 Field(&Finding::sentence, HasSubstr(words))));
}

TEST_F(VerifyTest, FindsNothingWhereAllIsInOrder) { EXPECT_THAT(findings(), IsEmpty()); }

TEST_F(VerifyTest, FindsAnAlteredAndAMissingPhoto) {
  put(photo_, "other pixels");
  EXPECT_THAT(findings(), fault("is not the file that was added as photo \"a.jpg\""));
  fs::remove(photo_);
  EXPECT_THAT(findings(), fault("a.jpg: cannot be read"));
}

TEST_F(VerifyTest, FindsAnAlteredAndAMissingCamera) {
  calib::Camera other = testing_support::small_camera();
  other.image_size = {1200, 800};
  ASSERT_TRUE(calib::write_camera(camera_, other));
  EXPECT_THAT(findings(),
              testing::AllOf(fault("camera replace"), fault("was calibrated with 1200 x 800")));
  fs::remove(camera_);
  EXPECT_THAT(findings(), fault("body.json does not exist"));
}

TEST_F(VerifyTest, FindsAPhotoThatCalibratedItsOwnCamera) {
  calib::Camera camera = testing_support::small_camera();
  camera.photos = {{"a.jpg", *calib::sha256_of_file(photo_), true, "", 0.1}};
  ASSERT_TRUE(calib::write_camera(camera_, camera));
  EXPECT_THAT(findings(), notice("also served to calibrate"));
}

TEST_F(VerifyTest, FindsPointsWithTooFewMarksAndStaleResults) {
  enter(AddPoint{{"A", ""}});
  enter(AddPoint{{"B", ""}});
  enter(set_mark({"a.jpg", "B", {1, 1}, 0.5, MarkSource::kByHand, false}));
  EXPECT_THAT(findings(), testing::AllOf(notice("\"A\" has no mark"), notice("\"B\" has one mark"),
                                         notice("stale")));
}

TEST_F(VerifyTest, FindsEditsThatOnlyTheJournalHoldsAndADamagedJournal) {
  {
    auto open = OpenDossier::open_for_change(folder_.path());
    ASSERT_TRUE(open);
    ASSERT_TRUE(open->change(SetDossierName{"one"}));
    ASSERT_TRUE(open->change(SetDossierName{"two"}));
  }
  EXPECT_THAT(findings(), notice("journal.ndjson holds 2 edits"));
  const std::string journal = testing_support::contents_of(folder_ / "journal.ndjson");
  put(folder_ / "journal.ndjson", journal.substr(0, journal.size() - 5));
  EXPECT_THAT(findings(), testing::AllOf(notice("journal.ndjson holds 1 edit of"),
                                         notice("The last line of journal.ndjson is not whole")));
  put(folder_ / "journal.ndjson", testing_support::with(journal, "\"one\"", "\"own\""));
  EXPECT_THAT(findings(), fault("journal.ndjson, line 2 is damaged"));
  fs::remove(folder_ / "journal.ndjson");
  put(folder_ / "journal.torn-0123abcd", "half");
  EXPECT_THAT(findings(), notice("may be deleted"));
}

TEST_F(VerifyTest, FindsTheRemainsOfAnInterruptedSave) {
  put(folder_ / ".dossier.json.unfinished-Ab3dE6", "half");
  EXPECT_THAT(findings(), notice("interrupted save"));
}

}  // namespace
}  // namespace measure
