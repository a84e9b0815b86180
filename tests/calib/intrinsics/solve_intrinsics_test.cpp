#include "calib/intrinsics/solve_intrinsics.h"

#include <algorithm>
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/board_simulation.h"

namespace calib {
namespace {

using testing::HasSubstr;
using testing_support::BoardSimulation;
using testing_support::simulate_board;

Result<IntrinsicsSolution, Problem> solve(const BoardSimulation& board,
                                          const SolveIntrinsicsOptions& options = {}) {
  return solve_intrinsics(board.nominal_mm, board.sets, board.size, options);
}

double u(const IntrinsicsSolution& solution, int k) { return std::sqrt(solution.covariance(k, k)); }

/// (value − truth)/u of one parameter.
double z(const IntrinsicsSolution& solution, const Intrinsics& truth, int k) {
  return (solution.intrinsics.vector()[k] - truth.vector()[k]) / u(solution, k);
}

bool says(const IntrinsicsSolution& solution, const std::string& words) {
  return std::any_of(
      solution.warnings.begin(), solution.warnings.end(),
      [&](const std::string& warning) { return warning.find(words) != std::string::npos; });
}

TEST(SolveIntrinsics, RecoversTheCameraFromExactCorners) {
  const BoardSimulation board = simulate_board({.noise_px = 0.0});
  for (const BoardShape shape : {BoardShape::kPerfect, BoardShape::kPrior, BoardShape::kFree}) {
    const auto solution = solve(board, {.shape = shape});
    ASSERT_TRUE(solution) << solution.error().sentence;
    // Exact corners leave what the solver's tolerance leaves.
    EXPECT_NEAR(solution->intrinsics.fx, board.camera.fx, 1e-4);
    EXPECT_NEAR(solution->intrinsics.fy, board.camera.fy, 1e-4);
    EXPECT_NEAR(solution->intrinsics.cx, board.camera.cx, 1e-4);
    EXPECT_NEAR(solution->intrinsics.cy, board.camera.cy, 1e-4);
    EXPECT_NEAR(solution->intrinsics.k1, board.camera.k1, 1e-5);
    EXPECT_LT(solution->rms_px, 1e-5);
  }
}

TEST(SolveIntrinsics, TakesAnyFlatPatternWithPointsMissing) {
  // 64 squares with four corners each, none on a common grid, turned and shifted at random: 256
  // points.
  std::mt19937 random(7);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  std::vector<Eigen::Vector3d> pattern_mm;
  for (int square = 0; square < 64; ++square) {
    const Eigen::Vector2d at(square % 8 * 25.0 + 5 * uniform(random),
                             square / 8 * 25.0 + 5 * uniform(random));
    const double turn = uniform(random);
    for (int corner = 0; corner < 4; ++corner) {
      const double angle = turn + corner * 1.5707963267948966;
      pattern_mm.emplace_back(at.x() + 8 * std::cos(angle), at.y() + 8 * std::sin(angle), 0.0);
    }
  }
  BoardSimulation board = simulate_board({.photo_count = 6, .pattern_mm = pattern_mm});
  for (std::size_t p = 0; p < board.sets.size(); ++p) {  // every photo lacks others of them
    auto& corners = board.sets[p].corners;
    std::shuffle(corners.begin(), corners.end(), random);
    corners.resize(corners.size() * 3 / 4);
  }
  for (const BoardShape shape : {BoardShape::kPerfect, BoardShape::kPrior, BoardShape::kFree}) {
    const auto solution = solve(board, {.shape = shape});
    ASSERT_TRUE(solution) << solution.error().sentence;
    for (int k = 0; k < kIntrinsicCount; ++k) {
      EXPECT_LT(std::abs(z(*solution, board.camera, k)), 4.0) << kIntrinsicNames[k];
    }
  }
}

TEST(SolveIntrinsics, IsIndependentOfTheOrderOfPhotosAndCorners) {
  BoardSimulation board = simulate_board();
  const auto first = solve(board);
  ASSERT_TRUE(first);
  std::mt19937 random(3);
  std::shuffle(board.sets.begin(), board.sets.end(), random);
  for (auto& set : board.sets) std::shuffle(set.corners.begin(), set.corners.end(), random);
  const auto second = solve(board);
  ASSERT_TRUE(second);
  for (int k = 0; k < kIntrinsicCount; ++k) {
    // A millionth of the uncertainty: two ways to the same minimum.
    EXPECT_LT(std::abs(first->intrinsics.vector()[k] - second->intrinsics.vector()[k]),
              1e-4 * u(*first, k));
    EXPECT_NEAR(u(*first, k) / u(*second, k), 1.0, 1e-4);
  }
}

TEST(SolveIntrinsics, IsIndependentOfTheUnitOfTheBoardWhenItIsPerfect) {
  BoardSimulation board = simulate_board();
  const auto in_mm = solve(board, {.shape = BoardShape::kPerfect});
  for (auto& point : board.nominal_mm) point /= 25.4;
  const auto in_inches = solve(board, {.shape = BoardShape::kPerfect});
  ASSERT_TRUE(in_mm && in_inches);
  for (int k = 0; k < kIntrinsicCount; ++k) {
    EXPECT_LT(std::abs(in_mm->intrinsics.vector()[k] - in_inches->intrinsics.vector()[k]),
              1e-4 * u(*in_mm, k));
    EXPECT_NEAR(u(*in_mm, k) / u(*in_inches, k), 1.0, 1e-4);
  }
}

TEST(SolveIntrinsics, SaysTheSameOfAFreeBoardWhicheverDistanceSetsItsScale) {
  const BoardSimulation board = simulate_board();
  SolveIntrinsicsOptions options{.shape = BoardShape::kFree};
  options.scale = ScaleDistance{0, 8, 200.0};
  const auto first = solve(board, options);
  options.scale = ScaleDistance{45, 20, 90.138781886599733};
  const auto second = solve(board, options);
  ASSERT_TRUE(first && second);
  EXPECT_EQ(first->board.datum_defect, 6) << first->board.datum;
  for (int k = 0; k < kIntrinsicCount; ++k) {
    EXPECT_LT(std::abs(first->intrinsics.vector()[k] - second->intrinsics.vector()[k]),
              1e-3 * u(*first, k));
    EXPECT_NEAR(u(*first, k) / u(*second, k), 1.0, 1e-3);
  }
}

TEST(SolveIntrinsics, FindsTheBowOfABoardThatItWouldElseBlameOnTheCamera) {
  const BoardSimulation board = simulate_board({.noise_px = 0.05, .sigma_px = 0.05, .bow_mm = 0.5});
  const auto solved = solve(board);
  ASSERT_TRUE(solved);
  for (int k = 0; k < kIntrinsicCount; ++k) {
    EXPECT_LT(std::abs(z(*solved, board.camera, k)), 3.5) << kIntrinsicNames[k];
  }
  // The corners of the board's long sides lie 0.5 mm below its middle: so far from flat, and the
  // noise on top.
  EXPECT_NEAR(solved->board.flatness_mm, 0.5, 0.1);
  EXPECT_GT(solved->board.flatness_u_mm, 0.0);
  EXPECT_LT(solved->board.flatness_u_mm, 0.05);
  EXPECT_LT(solved->sigma0, 1.2);

  const auto believed = solve(board, {.shape = BoardShape::kPerfect});
  ASSERT_TRUE(believed);
  EXPECT_GT(std::abs(z(*believed, board.camera, kCy)), 4.0);
  EXPECT_TRUE(says(*believed, "not flat"));
}

TEST(SolveIntrinsics, LeavesOutAndNamesOutlyingCornersAndNoOthers) {
  BoardSimulation board = simulate_board();
  struct Blunder {
    std::size_t photo, corner;
    Eigen::Vector2d shift_px;
  };
  for (const Blunder& b :
       {Blunder{1, 10, {1.2, 0.0}}, Blunder{4, 30, {-8.0, 5.0}}, Blunder{9, 3, {0.0, 40.0}}}) {
    board.sets[b.photo].corners[b.corner].position_px += b.shift_px;
  }
  std::swap(board.sets[6].corners[20].position_px, board.sets[6].corners[21].position_px);
  const auto solution = solve(board);
  ASSERT_TRUE(solution) << solution.error().sentence;
  std::vector<std::string> left_out;
  for (std::size_t p = 0; p < solution->photos.size(); ++p) {
    for (std::size_t c = 0; c < solution->photos[p].corners.size(); ++c) {
      if (solution->photos[p].corners[c].left_out)
        left_out.push_back(std::to_string(p) + ":" + std::to_string(c));
    }
  }
  EXPECT_THAT(left_out, testing::ElementsAre("1:10", "4:30", "6:20", "6:21", "9:3"));
  EXPECT_TRUE(says(*solution, "photo_10.jpg: left out"));
  for (int k = 0; k < kIntrinsicCount; ++k) EXPECT_LT(std::abs(z(*solution, board.camera, k)), 4.0);
}

TEST(SolveIntrinsics, SeesThatTheLensWasRefocusedAndEnlargesTheUncertainties) {
  const auto steady = solve(simulate_board({.noise_px = 0.05, .sigma_px = 0.05}));
  const auto refocused =
      solve(simulate_board({.noise_px = 0.05, .sigma_px = 0.05, .refocus = 0.02}));
  ASSERT_TRUE(steady && refocused);
  EXPECT_FALSE(says(*steady, "focal length differs"));
  EXPECT_TRUE(says(*refocused, "focal length differs"));
  EXPECT_TRUE(says(*refocused, "times worse than they were found"));
  EXPECT_GT(refocused->sigma0, 2.0);
  EXPECT_GT(u(*refocused, kFx), 2 * u(*steady, kFx));
}

TEST(SolveIntrinsics, RefusesPhotosThatAllLookStraightOn) {
  for (const int photos : {2, 12}) {
    for (const double noise_px : {0.0, 0.1}) {
      const auto solution = solve(simulate_board({.photo_count = photos,
                                                  .noise_px = noise_px,
                                                  .least_tilt_deg = 0.0,
                                                  .largest_tilt_deg = 0.0}));
      ASSERT_FALSE(solution);
      EXPECT_THAT(solution.error().sentence,
                  HasSubstr("focal length and distance cannot be told apart"));
      EXPECT_THAT(solution.error().sentence, HasSubstr("tilted by 30 to 45 degrees"));
      EXPECT_EQ(solution.error().blame, Blame::kSurvey);
    }
  }
}

TEST(SolveIntrinsics, WarnsOfNearlyFrontalViewsAndOfFewPhotosAndOfOneSidedTilt) {
  const auto frontal = solve(simulate_board({.least_tilt_deg = 5.0, .largest_tilt_deg = 12.0}));
  ASSERT_TRUE(frontal) << frontal.error().sentence;
  EXPECT_TRUE(says(*frontal, "nearly straight on"));
  const auto few = solve(simulate_board({.photo_count = 4}));
  ASSERT_TRUE(few);
  EXPECT_TRUE(says(*few, "only 4 photos"));
  EXPECT_FALSE(says(*few, "nearly straight on"));
  BoardSimulation one_sided = simulate_board({.photo_count = 60});
  std::vector<CornerSet> kept;
  for (std::size_t p = 0; p < one_sided.sets.size(); ++p) {
    const Eigen::Vector3d normal = one_sided.poses[p].rotation_matrix().col(2);
    if (std::abs(normal.y()) < 0.1) kept.push_back(one_sided.sets[p]);
  }
  one_sided.sets = kept;
  const auto leaning = solve(one_sided);
  ASSERT_TRUE(leaning) << leaning.error().sentence;
  EXPECT_TRUE(says(*leaning, "in one direction only: take one more from about 40 degrees above"));
}

TEST(SolveIntrinsics, NamesTheCornersOfTheFrameWithoutABoard) {
  BoardSimulation board = simulate_board({.photo_count = 20});
  for (auto& set : board.sets) {
    std::erase_if(set.corners, [&](const Corner& corner) {
      return corner.position_px.x() > 0.7 * board.size.width &&
             corner.position_px.y() < 0.3 * board.size.height;
    });
  }
  const auto solution = solve(board);
  ASSERT_TRUE(solution);
  EXPECT_TRUE(says(*solution, "in the upper right of the frame") || says(*solution, "upper right"));
}

TEST(SolveIntrinsics, HoldsWhatThePhotosDoNotDetermineAndSaysSo) {
  // A small board in the middle of the frame sees next to no distortion.
  const BoardSimulation board = simulate_board(
      {.photo_count = 4, .noise_px = 0.3, .sigma_px = 0.3, .least_tilt_deg = 30.0, .fill = 0.35});
  const auto solution = solve(board);
  ASSERT_TRUE(solution) << solution.error().sentence;
  EXPECT_TRUE(solution->held[kK3]);
  EXPECT_EQ(solution->intrinsics.k3, 0.0);
  EXPECT_EQ(solution->covariance.row(kK3).norm(), 0.0);
  EXPECT_FALSE(solution->held[kFx]);
  EXPECT_TRUE(says(*solution, "k3 is held at 0"));
}

TEST(SolveIntrinsics, KeepsGivenParametersAtTheirValues) {
  const BoardSimulation board = simulate_board({.photo_count = 1});
  SolveIntrinsicsOptions options;
  options.free.fill(false);
  options.start = board.camera;
  options.shape = BoardShape::kPerfect;
  const auto solution = solve(board, options);
  ASSERT_TRUE(solution) << solution.error().sentence;
  EXPECT_EQ(solution->intrinsics.vector(), board.camera.vector());
  EXPECT_EQ(solution->covariance.norm(), 0.0);
  // One photo's pose from 54 corners of 0.1 px: far below a millimetre at half a metre.
  EXPECT_LT((solution->photos[0].pose.translation - board.poses[0].translation).norm(), 0.5);
}

TEST(SolveIntrinsics, RefusesInputWithoutSenseInASentence) {
  const BoardSimulation good = simulate_board();
  const auto sentence = [](const BoardSimulation& board,
                           const SolveIntrinsicsOptions& options = {}) {
    const auto solution = solve(board, options);
    return solution ? std::string("no problem") : solution.error().sentence;
  };
  BoardSimulation board = good;
  board.sets.resize(1);
  EXPECT_THAT(sentence(board), HasSubstr("at least 2 photos"));
  board = good;
  board.sets[3].corners.resize(3);
  EXPECT_THAT(sentence(board), HasSubstr("photo_4.jpg: needs at least 4 corners"));
  board = good;
  board.sets[2].corners[5].point = 54;
  EXPECT_THAT(sentence(board), HasSubstr("photo_3.jpg: a corner names point 54"));
  board = good;
  board.sets[2].corners[5].point = board.sets[2].corners[6].point;
  EXPECT_THAT(sentence(board), HasSubstr("is given twice"));
  board = good;
  board.sets[0].corners[0].position_px.x() = std::nan("");
  EXPECT_THAT(sentence(board), HasSubstr("photo_1.jpg: point 0 has no usable position"));
  board = good;
  std::erase_if(board.sets[7].corners, [](const Corner& corner) { return corner.point >= 9; });
  EXPECT_THAT(sentence(board),
              HasSubstr("photo_8.jpg: needs at least 4 corners that are not in one line"));
  board = good;
  for (auto& point : board.nominal_mm) point.y() = 0;
  EXPECT_THAT(sentence(board), HasSubstr("in one line"));
  EXPECT_THAT(sentence(good, {.prior = {.in_plane_mm = 0.0}}), HasSubstr("must be above 0"));
  EXPECT_THAT(sentence(good, {.threads = 0}), HasSubstr("thread"));
  SolveIntrinsicsOptions held_focal;
  held_focal.free[kFx] = false;
  EXPECT_THAT(sentence(good, held_focal), HasSubstr("needs a start value"));
  EXPECT_THAT(sentence(good, {.cancelled = [] { return true; }}), HasSubstr("cancelled"));
}

TEST(SolveIntrinsics, SurvivesCornersWithoutAnyRelationToTheBoard) {
  BoardSimulation board = simulate_board({.photo_count = 5});
  std::mt19937 random(11);
  std::uniform_real_distribution<double> x(0, 1999), y(0, 1332);
  for (auto& set : board.sets) {
    for (auto& corner : set.corners) corner.position_px = {x(random), y(random)};
  }
  const auto solution = solve(board);
  if (!solution) {
    EXPECT_FALSE(solution.error().sentence.empty());
  } else {
    EXPECT_TRUE(solution->intrinsics.vector().allFinite());
    EXPECT_TRUE(says(*solution, "times worse") || says(*solution, "do not fit"));
  }
}

TEST(SolveIntrinsics, StatesTheFocalLengthOfALongLensAndOfAWideOne) {
  for (const double focal_px : {1000.0, 12000.0}) {
    Intrinsics camera{.fx = focal_px,
                      .fy = focal_px,
                      .cx = 1000.0,
                      .cy = 667.0,
                      .k1 = focal_px > 5000 ? 0.1 : -0.25,
                      .k2 = focal_px > 5000 ? 0.0 : 0.06};
    const BoardSimulation board = simulate_board({.camera = camera});
    const auto solution = solve(board);
    ASSERT_TRUE(solution) << solution.error().sentence;
    EXPECT_LT(std::abs(z(*solution, camera, kFx)), 4.0);
    EXPECT_LT(std::abs(solution->intrinsics.fx / focal_px - 1), 0.01);
  }
}

}  // namespace
}  // namespace calib
