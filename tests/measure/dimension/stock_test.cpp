#include "measure/dimension/stock.h"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

namespace measure {
namespace {

StockTable small_table() {
  return {"small",
          {{StockKind::kSheet, "polystyrene", "0.5 mm", 0.5, 0.0},
           {StockKind::kSheet, "polystyrene", "0.75 mm", 0.75, 0.0},
           {StockKind::kSheet, "polystyrene", "0.8 mm", 0.8, 0.0},
           {StockKind::kRod, "brass", "1/32 in", 25.4 / 32, 0.01}}};
}

double probability(const StockAnswer& answer, const std::string& text) {
  for (const StockCandidate& candidate : answer.candidates) {
    if (candidate.text == text) {
      return candidate.probability;
    }
  }
  return -1.0;
}

TEST(NearestStock, GivesTheProbabilitiesOfNormalDensities) {
  // By hand: 0.766 ± 0.02: z = 0.8 and 1.7; φ(0.8) = 0.289692, φ(1.7) = 0.094049 (tables of the
  // normal density, from memory); 0.5 mm is 13.3 away and weighs nothing.
  const auto answer =
      nearest_stock(small_table(), {.value_mm = 0.766, .u_mm = 0.02, .kind = StockKind::kSheet});
  ASSERT_TRUE(answer);
  EXPECT_NEAR(probability(*answer, "0.75 mm"), 0.289692 / (0.289692 + 0.094049), 2e-6);
  EXPECT_NEAR(probability(*answer, "0.8 mm"), 0.094049 / (0.289692 + 0.094049), 2e-6);
  EXPECT_FALSE(answer->none_of_these);
  EXPECT_EQ(answer->sentence, "0.75 mm sheet 75 %, 0.8 mm 25 %");
}

TEST(NearestStock, GivesTheProbabilitiesOfStudentDensities) {
  // Two degrees of freedom: density ∝ (2 + t²)^(−3/2), so the ratio needs no table.
  const auto answer = nearest_stock(
      small_table(),
      {.value_mm = 0.766, .u_mm = 0.02, .effective_dof = 2.0, .kind = StockKind::kSheet});
  ASSERT_TRUE(answer);
  const auto density = [](double t) { return std::pow(2.0 + t * t, -1.5); };
  const double a = density(0.8), b = density(1.7), c = density(13.3);
  EXPECT_NEAR(probability(*answer, "0.75 mm"), a / (a + b + c), 1e-12);
  EXPECT_NEAR(probability(*answer, "0.5 mm"), c / (a + b + c), 1e-12);
}

TEST(NearestStock, AddsTheMaterialsOwnUncertainty) {
  // u² = 0.03² + 0.04²; the narrow density of the exact size is higher where both are near.
  const StockTable table{"two",
                         {{StockKind::kRod, "brass", "1 mm", 1.0, 0.04},
                          {StockKind::kRod, "brass", "1.1 mm", 1.1, 0.0}}};
  const auto answer =
      nearest_stock(table, {.value_mm = 1.05, .u_mm = 0.03, .kind = StockKind::kRod});
  ASSERT_TRUE(answer);
  const double wide = std::exp(-0.5) / 0.05;
  const double narrow = std::exp(-0.5 * 2.7777777777777777) / 0.03;
  EXPECT_NEAR(probability(*answer, "1 mm"), wide / (wide + narrow), 1e-12);
}

TEST(NearestStock, CountsASizeOfTwoMaterialsOnce) {
  StockTable table = small_table();
  table.sizes.push_back({StockKind::kSheet, "brass", "0.8 mm", 0.8, 0.0});
  const auto answer =
      nearest_stock(table, {.value_mm = 0.775, .u_mm = 0.02, .kind = StockKind::kSheet});
  ASSERT_TRUE(answer);
  EXPECT_NEAR(probability(*answer, "0.75 mm"), 0.5, 1e-9);
  ASSERT_EQ(answer->candidates.size(), 3u);
  const auto brass = nearest_stock(
      table, {.value_mm = 0.775, .u_mm = 0.02, .kind = StockKind::kSheet, .material = "brass"});
  EXPECT_EQ(brass->candidates.size(), 1u);
  EXPECT_EQ(brass->sentence, "0.8 mm sheet 100 %");
}

TEST(NearestStock, SaysThatItIsNoneBeyond3Point29) {
  const auto ask = [](double value, double dof) {
    return *nearest_stock(
        small_table(),
        {.value_mm = value, .u_mm = 0.01, .effective_dof = dof, .kind = StockKind::kSheet});
  };
  constexpr double kMany = std::numeric_limits<double>::infinity();
  EXPECT_FALSE(ask(0.8 + 0.0328, kMany).none_of_these);
  EXPECT_TRUE(ask(0.8 + 0.0330, kMany).none_of_these);
  EXPECT_EQ(ask(0.85, kMany).sentence,
            "none of these sizes: the nearest, 0.8 mm sheet, is 5.0 standard uncertainties away");
  // With few degrees of freedom u itself is not well known: t of 99.9 % is 6.869 for ν = 5.
  EXPECT_FALSE(ask(0.85, 5.0).none_of_these);
  EXPECT_TRUE(ask(0.8 + 0.0688, 5.0).none_of_these);
}

TEST(NearestStock, TakesAnExactValueAtItsWord) {
  const auto same = nearest_stock(small_table(), {.value_mm = 0.75, .kind = StockKind::kSheet});
  ASSERT_TRUE(same);
  EXPECT_EQ(probability(*same, "0.75 mm"), 1.0);
  EXPECT_EQ(same->sentence, "0.75 mm sheet 100 %");
  const auto other = nearest_stock(small_table(), {.value_mm = 0.76, .kind = StockKind::kSheet});
  ASSERT_TRUE(other);
  EXPECT_TRUE(other->none_of_these);
}

TEST(NearestStock, StaysFiniteFarAway) {
  const auto far =
      nearest_stock(small_table(), {.value_mm = 5e5, .u_mm = 1e-3, .kind = StockKind::kSheet});
  ASSERT_TRUE(far);
  EXPECT_TRUE(far->none_of_these);
  double sum = 0.0;
  for (const StockCandidate& candidate : far->candidates) {
    EXPECT_TRUE(std::isfinite(candidate.probability));
    sum += candidate.probability;
  }
  EXPECT_NEAR(sum, 1.0, 1e-12);
}

TEST(NearestStock, ProbabilitiesAreKeptInSimulation) {
  // Of many pieces cut from stock at random, a share p of those answered "p" is what was answered:
  // the mean probability given to the true size equals its expectation, Σ p² over the candidates.
  const StockTable table = small_table();
  std::uint64_t state = 12345;
  const auto uniform = [&] {  // a linear congruential generator: Knuth, MMIX (from memory)
    state = state * 6364136223846793005ull + 1442695040888963407ull;
    return (static_cast<double>(state >> 11) + 0.5) / 9007199254740992.0;
  };
  double given = 0.0, expected = 0.0;
  constexpr int kRuns = 20000;
  for (int i = 0; i < kRuns; ++i) {
    const auto& truth = table.sizes[static_cast<std::size_t>(3.0 * uniform())];
    const double normal =
        std::sqrt(-2.0 * std::log(uniform())) * std::cos(6.283185307179586 * uniform());
    const auto answer = nearest_stock(
        table,
        {.value_mm = truth.size_mm + 0.03 * normal, .u_mm = 0.03, .kind = StockKind::kSheet});
    given += probability(*answer, truth.text);
    for (const StockCandidate& candidate : answer->candidates) {
      expected += candidate.probability * candidate.probability;
    }
  }
  // Standard deviation of the difference of means: below 0.5/√20000 = 0.0035.
  EXPECT_NEAR(given / kRuns, expected / kRuns, 0.012);
}

TEST(NearestStock, RefusesWhatIsNoLength) {
  EXPECT_FALSE(nearest_stock(small_table(), {.value_mm = -1.0, .kind = StockKind::kSheet}));
  EXPECT_FALSE(nearest_stock(small_table(), {.value_mm = std::nan(""), .kind = StockKind::kSheet}));
  const auto none = nearest_stock(small_table(), {.value_mm = 1.0, .kind = StockKind::kTube});
  ASSERT_FALSE(none);
  EXPECT_EQ(none.error().sentence,
            "the stock table \"small\" has no tube: add its sizes, or ask for another kind.");
}

}  // namespace
}  // namespace measure
