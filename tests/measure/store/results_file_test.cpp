#include "measure/store/results_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "measure/edit/apply.h"
#include "measure/store/survey_json.h"
#include "tests/calib/file/scratch_folder.h"
#include "tests/measure/edit/small_dossier.h"
#include "tests/measure/store/full_reports.h"

namespace measure {
namespace {

using testing_support::full_dimensions;
using testing_support::full_report;
using testing_support::put;
using testing_support::ScratchFolder;
using testing_support::small_dossier;

TEST(ResultsFile, KnowsWhatItWasComputedFrom) {
  const ScratchFolder folder;
  Dossier dossier = small_dossier();
  EXPECT_EQ(results_state(folder.path(), dossier), ResultsState::kNone);
  ASSERT_TRUE(write_results(folder.path(), dossier, full_report(), full_dimensions()));
  EXPECT_EQ(results_state(folder.path(), dossier), ResultsState::kCurrent);
  for (const Edit& edit : testing_support::changing_edits()) {
    Dossier changed = small_dossier();
    const auto inverse = apply(edit, changed);
    ASSERT_TRUE(inverse);
    // How good a dimension is to be, and where nothing was seen, changes no number.
    const bool matters = !std::holds_alternative<SetTolerance>(edit.what) &&
                         !std::holds_alternative<SetHidden>(edit.what);
    EXPECT_EQ(is_stale(folder.path(), changed), matters) << describe(edit);
    ASSERT_TRUE(apply(*inverse, changed));
    EXPECT_FALSE(is_stale(folder.path(), changed)) << describe(edit);
  }
}

TEST(ResultsFile, IsNotStaleBecauseAPhotoHasMoved) {
  const Dossier dossier = small_dossier();
  Dossier moved = dossier;
  moved.photos.front().file = "elsewhere/a.jpg";
  EXPECT_EQ(fingerprint(moved), fingerprint(dossier));
}

TEST(ResultsFile, IsSaidToBeUnreadableWhereItIs) {
  const ScratchFolder folder;
  for (const char* text :
       {"", "{", "{}",
        "{\"file_kind\":\"scantling results\",\"schema_version\":{\"major\":1,\"minor\":0}}"}) {
    put(folder / "results.json", text);
    EXPECT_EQ(results_state(folder.path(), small_dossier()), ResultsState::kUnreadable) << text;
  }
}

TEST(SurveyJson, GivesNoNumberWhereThereIsAProblemAndNeverNaN) {
  const std::string text = dimensions_json(full_dimensions(), {}, full_report()) +
                           adjust_json(full_report(), small_dossier());
  for (const char* word : {"nan", "NaN", "inf,", "Infinity"}) {
    EXPECT_EQ(text.find(word), std::string::npos) << word;
  }
}

TEST(SurveyJson, GivesABarThatNothingChecksNoError) {
  const std::string text = adjust_json(full_report(), small_dossier());
  // Keys are sorted: the checked bar comes with its error, the single one without.
  EXPECT_THAT(text, testing::HasSubstr(R"("checked":false,"contradicts":false,"error_mm":null)"));
  EXPECT_THAT(text, testing::HasSubstr(R"("checked":true,"contradicts":false,"error_mm":0.004)"));
}

TEST(SurveyJson, TellsWhatWasSetAsideRoundByRoundAndNothingWhereNothingWas) {
  EXPECT_THAT(adjust_json(full_report(), small_dossier(), {{{"a.jpg", "A", "", 7.5}}}),
              testing::HasSubstr(R"("set_aside":[[{"photo":"a.jpg","point":"A","w":7.5}]])"));
  EXPECT_THAT(adjust_json(full_report(), small_dossier()),
              testing::Not(testing::HasSubstr("\"set_aside\"")));
}

}  // namespace
}  // namespace measure
