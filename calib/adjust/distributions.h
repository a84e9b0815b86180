// Quantiles that the tests and coverage factors need (Boost.Math underneath).
#pragma once

namespace calib::adjust {

/// χ²(ν) quantile of probability p; ν > 0.
[[nodiscard]] double chi_square_quantile(double p, double degrees_of_freedom);
/// P(χ²(ν) > x).
[[nodiscard]] double chi_square_upper(double x, double degrees_of_freedom);
/// F(ν1, ν2) quantile.
[[nodiscard]] double f_quantile(double p, double numerator_dof, double denominator_dof);
/// Two-sided Student factor t_p(ν): P(|t| ≤ t_p) = p. ν may be infinite.
[[nodiscard]] double student_factor(double p, double degrees_of_freedom);
[[nodiscard]] double normal_cdf(double x);
/// Two-sided critical value of Pope's tau: τ = √ν t / √(ν − 1 + t²), t of ν − 1.
/// Source: A. J. Pope, NOAA Technical Report NOS 65 NGS 1 (1976).
[[nodiscard]] double tau_critical(double significance, double redundancy);

/// Non-centrality at which a χ² test of that significance finds a blunder with that power.
/// Source: W. Baarda (1968): 17.07 for one direction, α = 0.001, power 0.80.
[[nodiscard]] double detectable_noncentrality(double significance, double power, int directions);

/// Coverage probability of U when k = 2 and ν is infinite (JCGM 100:2008, G.6.4).
inline constexpr double kCoverageProbability = 0.9545;

}  // namespace calib::adjust
