#include "measure/refine/refine_mark.h"

#include <gtest/gtest.h>
#include <opencv2/core.hpp>

#include "tests/measure/refine/error_sums.h"
#include "tests/measure/refine/marked_by_hand.h"
#include "tests/support/analytic_board.h"
#include "tests/support/analytic_marks.h"

namespace measure {
namespace {

TEST(RefineWhereTrusted, PicksTheShapeThatIsThere) {
  cv::RNG random(3);
  for (std::uint32_t seed = 1; seed <= 12; ++seed) {
    testing_support::CornerSpec corner;
    corner.first_deg = 30.0 * seed;
    corner.development.seed = seed;
    const auto as_corner =
        refine_where_trusted({make_corner(corner)}, marked_by_hand(random, corner.apex_px, 2.0));
    ASSERT_TRUE(as_corner.mark) << as_corner.why_not("corner");
    EXPECT_EQ(as_corner.mark->shape, MarkShape::kCorner);
    EXPECT_LT((as_corner.mark->position_px - corner.apex_px).norm(), 0.3);

    testing_support::DiscSpec disc;
    disc.tilt_towards_deg = 30.0 * seed;
    disc.development.seed = seed;
    RefineOptions options;
    options.camera = disc.camera;
    const auto as_round = refine_where_trusted(
        {make_disc(disc).pixels}, marked_by_hand(random, disc.centre_px, 2.0), options);
    ASSERT_TRUE(as_round.mark) << as_round.why_not("disc");
    EXPECT_EQ(as_round.mark->shape, MarkShape::kRound);

    testing_support::QuarteredTargetSpec target;
    target.roll_deg = 15.0 * seed;
    target.seed = seed;
    const auto as_cross = refine_where_trusted({make_quartered_target(target)},
                                               marked_by_hand(random, target.centre_px, 3.0));
    ASSERT_TRUE(as_cross.mark) << as_cross.why_not("target");
    EXPECT_EQ(as_cross.mark->shape, MarkShape::kCross);

    testing_support::CrossingSpec lines;
    lines.lines = true;
    lines.first_deg = 14.0 * seed;
    lines.second_deg = lines.first_deg + 80.0;
    lines.development.seed = seed;
    const auto as_crossing = refine_where_trusted({make_crossing(lines)},
                                                  marked_by_hand(random, lines.crossing_px, 2.0));
    ASSERT_TRUE(as_crossing.mark) << as_crossing.why_not("lines");
    EXPECT_EQ(as_crossing.mark->shape, MarkShape::kCrossing);
  }
}

TEST(RefineWhereTrusted, LeavesAPlainFaceAndAStraightEdgeAndSaysWhy) {
  const cv::Mat flat(120, 120, CV_8UC1, cv::Scalar(90));
  const auto nothing = refine_where_trusted({flat}, {60.0, 60.0});
  EXPECT_FALSE(nothing.mark);
  EXPECT_EQ(nothing.tried.size(), 4U);
  const auto sentence = nothing.why_not("Mark \"A\" in front.jpg");
  EXPECT_EQ(sentence.find("Mark \"A\" in front.jpg"), 0U);
  for (const char* word : {"cross", "round", "corner", "crossing", "by hand"}) {
    EXPECT_NE(sentence.find(word), std::string::npos) << sentence;
  }
  testing_support::CornerSpec edge;
  edge.opening_deg = 179.5;
  const auto straight = refine_where_trusted({make_corner(edge)}, edge.apex_px);
  EXPECT_FALSE(straight.mark);
}

TEST(RefineWhereTrusted, TakesAMatchWhereNoShapeIsTrusted) {
  testing_support::MatchSpec spec;
  spec.photo.seed = 9;
  const auto pair = make_match(spec);
  const PatternView pattern{{pair.pattern}, spec.pattern_px};
  const auto chosen = refine_where_trusted({pair.photo}, spec.place_px, {}, &pattern);
  ASSERT_TRUE(chosen.mark) << chosen.why_not("paint");
  EXPECT_EQ(chosen.mark->shape, MarkShape::kMatch);
  EXPECT_LT((chosen.mark->position_px - spec.place_px).norm(), 0.1);
}

// Texture without marks: what is found there by chance would be a lie with a small σ.
TEST(RefineWhereTrusted, SeldomTrustsTexture) {
  const cv::Mat texture = testing_support::make_texture({1200, 800});
  cv::RNG random(3);
  constexpr int kTries = 300;
  int found[4] = {};
  for (int i = 0; i < kTries; ++i) {
    const auto chosen = refine_where_trusted(
        {texture}, {random.uniform(60.0, 1140.0), random.uniform(60.0, 740.0)});
    if (chosen.mark) {
      ++found[static_cast<int>(chosen.mark->shape)];
    }
  }
  std::printf("  of %d places: corners %d, rounds %d, crossings %d, crosses %d\n", kTries, found[0],
              found[1], found[2], found[3]);
  // The picture's tiles have 2,400 true corners in its 960,000 pixels: one within 6 px of every
  // third place, many cut by other tiles.
  EXPECT_LE(found[0] + found[2], kTries / 3);
  EXPECT_LE(found[1], kTries / 50);
}

TEST(MarkRefusals, EachHasASentenceWithNameAndRemedy) {
  for (const auto refusal :
       {MarkRefusal::kLeavesPhoto, MarkRefusal::kLowContrast, MarkRefusal::kSaturated,
        MarkRefusal::kOtherShape, MarkRefusal::kWouldJump, MarkRefusal::kOneDirection,
        MarkRefusal::kAmbiguous, MarkRefusal::kTooSmall, MarkRefusal::kHidden, MarkRefusal::kUnlike,
        MarkRefusal::kPatternLeavesPicture, MarkRefusal::kNotPrecise}) {
    for (const auto shape : {MarkShape::kCorner, MarkShape::kRound, MarkShape::kCrossing,
                             MarkShape::kCross, MarkShape::kMatch}) {
      const auto sentence = describe(refusal, shape, "Mark A7 in hauler_03.jpg");
      EXPECT_EQ(sentence.find("Mark A7 in hauler_03.jpg "), 0U);
      EXPECT_NE(sentence.find(": "), std::string::npos);
      EXPECT_EQ(shape_of(word_of(shape)), shape);
    }
    EXPECT_FALSE(short_reason(refusal).empty());
  }
}

TEST(RefineOptions, JudgeThemselves) {
  EXPECT_FALSE(RefineOptions{}.first_problem());
  RefineOptions options;
  options.radius_px = 0.0;
  EXPECT_TRUE(options.first_problem());
  options = {};
  options.half_window_px = 100.0;
  EXPECT_TRUE(options.first_problem());
  options = {};
  options.curve.exponent = std::nan("");
  EXPECT_TRUE(options.first_problem());
  options = {};
  options.face_normal = Eigen::Vector3d::Zero();
  EXPECT_TRUE(options.first_problem());
}

}  // namespace
}  // namespace measure
