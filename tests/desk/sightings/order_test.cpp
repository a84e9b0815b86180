#include "tools/desk/sightings/order.h"

#include <gtest/gtest.h>

#include "tools/desk/sightings/refiner.h"

namespace desk {
namespace {

measure::Dossier with_points(std::vector<std::string> names) {
  measure::Dossier dossier;
  for (std::string& name : names) dossier.points.push_back({std::move(name), ""});
  return dossier;
}

measure::Mark mark(const std::string& photo, const std::string& point, bool set_aside = false) {
  measure::Mark made;
  made.photo = photo;
  made.point = point;
  made.set_aside = set_aside;
  return made;
}

TEST(NextName, CountsTheLastNumberOn) {
  EXPECT_EQ(next_name(with_points({}), "T09"), "T10");
  EXPECT_EQ(next_name(with_points({}), "T99"), "T100");
  EXPECT_EQ(next_name(with_points({}), "rim bolt 3, left"), "rim bolt 4, left");
}

TEST(NextName, PutsANumberBehindAWordThatHasNone) {
  EXPECT_EQ(next_name(with_points({"nose"}), "nose"), "nose 2");
}

TEST(NextName, SkipsNamesThatAreTaken) {
  EXPECT_EQ(next_name(with_points({"P1", "P2", "P4"}), "P1"), "P3");
}

TEST(NextName, BeginsWithOneWhereNothingWasNamed) {
  EXPECT_EQ(next_name(with_points({}), ""), "P1");
}

TEST(Neighbour, GoesRoundTheListOfPoints) {
  const auto dossier = with_points({"a", "b", "c"});
  EXPECT_EQ(neighbour(dossier, "c", 1), "a");
  EXPECT_EQ(neighbour(dossier, "a", -1), "c");
  EXPECT_EQ(neighbour(dossier, "", 1), "a");
  EXPECT_EQ(neighbour(with_points({}), "", 1), "");
}

TEST(NextLacking, FindsThePointWithFewerThanTwoMarksInUse) {
  auto dossier = with_points({"a", "b", "c"});
  dossier.marks = {mark("1", "a"), mark("1", "b"), mark("1", "c"),
                   mark("2", "a"), mark("2", "b"), mark("2", "c", true)};
  EXPECT_EQ(next_lacking(dossier, "a"), "c");
}

TEST(NextLacking, ElseTheOneWithTheFewest) {
  auto dossier = with_points({"a", "b", "c"});
  dossier.marks = {mark("1", "a"), mark("1", "b"), mark("1", "c"), mark("2", "a"),
                   mark("2", "b"), mark("2", "c"), mark("3", "b")};
  EXPECT_EQ(next_lacking(dossier, "a"), "c");
}

RefineAnswer answer_at(double x, double y, double sigma_px) {
  RefineAnswer answer;
  answer.mark.position_px = {x, y};
  answer.mark.covariance_px2 = sigma_px * sigma_px * Eigen::Matrix2d::Identity();
  return answer;
}

TEST(Disagreement, RefusesWhatLiesBeyondTheEllipse) {
  const Prediction prediction{{100, 100}, Eigen::Vector2d(4.0, 0.01).asDiagonal()};
  // 5 px along the long axis (2 px) is within 99.9 %, across it (0.1 px) is not.
  EXPECT_EQ(disagreement(prediction, answer_at(105, 100, 0.05)), "");
  EXPECT_NE(disagreement(prediction, answer_at(100, 105, 0.05)), "");
}

}  // namespace
}  // namespace desk
