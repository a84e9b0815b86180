// Quantiles and formulas of uncertainty against published tables.
#include <cmath>
#include <limits>

#include <gtest/gtest.h>

#include "calib/adjust/budget.h"
#include "calib/adjust/distributions.h"

namespace calib::adjust {
namespace {

// JCGM 100:2008, Table G.2, p = 95.45 % (from memory, recomputed), printed to 0.01.
TEST(StudentFactor, AgreesWithTableG2OfTheGum) {
  const std::pair<double, double> table[] = {{1, 13.97}, {2, 4.53},  {3, 3.31},  {4, 2.87},
                                             {5, 2.65},  {6, 2.52},  {8, 2.37},  {10, 2.28},
                                             {15, 2.18}, {20, 2.13}, {50, 2.05}, {100, 2.03}};
  for (const auto& [nu, factor] : table)
    EXPECT_NEAR(student_factor(kCoverageProbability, nu), factor, 0.0051) << nu;
  EXPECT_NEAR(student_factor(kCoverageProbability, std::numeric_limits<double>::infinity()), 2.0,
              5e-5);
}

// JCGM 100:2008, Table G.2, p = 95 % and 99 % (from memory, recomputed).
TEST(StudentFactor, AgreesWithTableG2At95And99Percent) {
  EXPECT_NEAR(student_factor(0.95, 10), 2.23, 0.005);
  EXPECT_NEAR(student_factor(0.99, 16), 2.92, 0.005);
  EXPECT_NEAR(student_factor(0.95, 3), 3.18, 0.005);
}

// W. Baarda, A testing procedure for use in geodetic networks (1968): α = 0.001 gives 3.29 (from
// memory).
TEST(CriticalValue, OfBaardasTestIs329) {
  EXPECT_NEAR(student_factor(0.999, std::numeric_limits<double>::infinity()), 3.29, 0.005);
  EXPECT_NEAR(chi_square_quantile(0.999, 2), 13.82, 0.005);
}

// Baarda (1968), as above: power 0.80 gives λ0 = 17.07, δ0 = 4.13 (from memory).
TEST(DetectableNoncentrality, IsBaardasLambdaForOneDirection) {
  EXPECT_NEAR(detectable_noncentrality(0.001, 0.80, 1), 17.07, 0.01);
  EXPECT_NEAR(std::sqrt(detectable_noncentrality(0.001, 0.80, 1)), 4.13, 0.005);
}

// A. J. Pope, NOAA TR NOS 65 NGS 1 (1976): the formula; values recomputed (CHECKS S2).
TEST(TauTest, HasTheTabulatedCriticalValues) {
  struct Row {
    double redundancy, at_5_percent, at_1_percent, at_1_per_mille;
  };
  for (const Row& row :
       {Row{5, 1.814, 2.051, 2.178}, Row{10, 1.904, 2.324, 2.679}, Row{20, 1.936, 2.454, 2.975},
        Row{50, 1.951, 2.528, 3.163}, Row{100, 1.956, 2.552, 3.226}}) {
    EXPECT_NEAR(tau_critical(0.05, row.redundancy), row.at_5_percent, 0.00051) << row.redundancy;
    EXPECT_NEAR(tau_critical(0.01, row.redundancy), row.at_1_percent, 0.00051) << row.redundancy;
    EXPECT_NEAR(tau_critical(0.001, row.redundancy), row.at_1_per_mille, 0.00051) << row.redundancy;
  }
}

// Y. Bar-Shalom, X. R. Li & T. Kirubarajan, Estimation with Applications to Tracking and Navigation
// (2001): 95 % of the mean NEES over N runs of n states lie between the quantiles of χ²(N·n)/N; for
// N = 50, n = 2 they print [1.5, 2.6] (from memory; the digits are recomputed, CHECKS S3).
TEST(MeanNees, HasThePublishedAcceptanceInterval) {
  struct Row {
    double runs, states, low, high;
  };
  for (const Row& row : {Row{50, 2, 1.484, 2.591}, Row{50, 4, 3.25, 4.82},
                         Row{100, 2, 1.627, 2.411}, Row{1, 2, 0.051, 7.378}}) {
    const double dof = row.runs * row.states;
    const double digit = row.states == 4 ? 0.0051 : 0.00051;
    EXPECT_NEAR(chi_square_quantile(0.025, dof) / row.runs, row.low, digit) << dof;
    EXPECT_NEAR(chi_square_quantile(0.975, dof) / row.runs, row.high, digit) << dof;
  }
}

// JCGM 100:2008, G.4.1, example: u_c/y = 1.03 %, ν_eff = 19.0, t95 = 2.09, U95/y = 2.2 % (from
// memory).
TEST(WelchSatterthwaite, GivesTheDegreesOfFreedomOfGumG41) {
  const double variances[] = {0.25 * 0.25, 0.57 * 0.57, 0.82 * 0.82};
  const double dof[] = {9, 4, 14};
  const double nu = effective_degrees_of_freedom(variances, dof);
  EXPECT_NEAR(nu, 19.0, 0.05);
  EXPECT_NEAR(std::sqrt(variances[0] + variances[1] + variances[2]), 1.03, 0.005);
  const double factor = student_factor(0.95, std::floor(nu + 0.5));
  EXPECT_NEAR(factor, 2.09, 0.005);
  EXPECT_NEAR(factor * std::sqrt(variances[0] + variances[1] + variances[2]), 2.2, 0.05);
}

// JCGM 100:2008, H.1: components 25, 9.7, 2.9, 16.6 nm with 18, 25.6, 50, 2 degrees of freedom: the
// GUM prints u = 32 nm and truncates ν_eff = 16.7 to 16; t99(16) = 2.92.
TEST(WelchSatterthwaite, GivesTheDegreesOfFreedomOfGumH1) {
  const double variances[] = {25.0 * 25.0, 9.7 * 9.7, 2.9 * 2.9, 16.6 * 16.6};
  const double dof[] = {18, 25.6, 50, 2};
  EXPECT_EQ(std::floor(effective_degrees_of_freedom(variances, dof)), 16);
}

TEST(WelchSatterthwaite, IsInfiniteWhereEveryInputIsStated) {
  const double variances[] = {1, 2};
  const double infinite = std::numeric_limits<double>::infinity();
  const double dof[] = {infinite, infinite};
  EXPECT_TRUE(std::isinf(effective_degrees_of_freedom(variances, dof)));
}

}  // namespace
}  // namespace calib::adjust
