// Places gathered for a shape follow what happens to them elsewhere in the desk.
#include "tools/desk/shapes/place_list.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/desk_dossier.h"

namespace testing_support {
namespace {

using testing::ElementsAre;

class PlaceListTest : public testing::Test {
 protected:
  PlaceListTest()
      : desk_(SimulatedSurveySpec{}, [](measure::Dossier& dossier) {
          dossier.dimensions.clear();  // nothing holds the points
        }) {}
  void change(const measure::Edit& edit) { EXPECT_TRUE(desk_.session->change(edit)); }

  DeskDossier desk_;
  desk::PlaceList list_{desk_.session.get(), "places"};
};

TEST_F(PlaceListTest, PairsStayTogetherWhereAPointIsRenamedOrRemoved) {
  list_.set_in_pairs(true);
  for (const char* name : {"P15", "P16", "P17", "P18", "P19", "P20"}) list_.take(name);
  change(measure::RenamePoint{"P15", "stern, left"});
  EXPECT_THAT(list_.names(), ElementsAre("stern, left", "P16", "P17", "P18", "P19", "P20"));
  change(measure::RemovePoint{"P17"});
  EXPECT_THAT(list_.names(), ElementsAre("stern, left", "P16", "P19", "P20"));
  list_.take("P21");  // half a pair
  change(measure::RemovePoint{"P19"});
  EXPECT_THAT(list_.names(), ElementsAre("stern, left", "P16", "P21"));
}

TEST_F(PlaceListTest, SinglePlacesGoAlone) {
  for (const char* name : {"P15", "P16", "P17"}) list_.take(name);
  change(measure::RemovePoint{"P16"});
  EXPECT_THAT(list_.names(), ElementsAre("P15", "P17"));
}

}  // namespace
}  // namespace testing_support
