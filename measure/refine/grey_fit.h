// Inside the room: least-squares fit of a grey model to pixels, and what its residuals say.
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <vector>

#include <Eigen/Cholesky>
#include <Eigen/Core>

#include "measure/refine/correlated_noise.h"
#include "measure/refine/grey_patch.h"

namespace measure {

/// Beyond the noise: pixels that are not quite square filters, edges that are not quite straight.
/// Ray-traced checkerboards show 0.003 to 0.005 px (calib/board).
inline constexpr double kBeyondNoise_px = 0.005;

template <int N>
struct GreyFit {
  using Parameters = Eigen::Matrix<double, N, 1>;
  using Square = Eigen::Matrix<double, N, N>;
  Parameters p = Parameters::Zero();
  Square cofactor = Square::Zero();  ///< covariance for unit noise
  double misfit = 0.0;               ///< standard deviation of the residuals, grey values
  bool settled = false;
};

template <int N>
struct GreyFitOptions {
  /// Standard deviation of each parameter about its start; infinite where nothing is known.
  Eigen::Matrix<double, N, 1> prior_sigma =
      Eigen::Matrix<double, N, 1>::Constant(std::numeric_limits<double>::infinity());
  int max_iterations = 20;
  double settled_px = 1e-3;      ///< of the first two parameters, which are a place
  double longest_step_px = 3.0;  ///< of the same
};

/// Levenberg and Marquardt's method. The noise is estimated along the way and sets how much the
/// prior counts.
///
/// @param model  double(parameters, sample, row &): the model's grey value; sets ∂grey/∂parameters.
/// @return nothing if there are too few samples or the equations cannot be solved.
template <int N, typename Model>
[[nodiscard]] std::optional<GreyFit<N>> fit_grey(const std::vector<GreySample>& samples,
                                                 const Eigen::Matrix<double, N, 1>& start,
                                                 const Model& model,
                                                 const GreyFitOptions<N>& options = {}) {
  using Parameters = Eigen::Matrix<double, N, 1>;
  using Square = Eigen::Matrix<double, N, N>;
  if (samples.size() < 2 * N) {
    return std::nullopt;
  }
  // Noise below a third of a grey value is rounding.
  constexpr double kLeastVariance = 0.1;
  const double redundancy = static_cast<double>(samples.size()) - N;
  const Parameters information = options.prior_sigma.cwiseAbs2().cwiseInverse();
  const auto evaluate = [&](const Parameters& p, Square& normal, Parameters& gradient) {
    normal.setZero();
    gradient.setZero();
    double sum = 0.0;
    Parameters row;
    for (const GreySample& sample : samples) {
      const double residual = sample.grey - model(p, sample, row);
      sum += residual * residual;
      normal.template selfadjointView<Eigen::Lower>().rankUpdate(row);
      gradient.noalias() += row * residual;
    }
    return sum;
  };
  GreyFit<N> fit;
  Parameters p = start;
  Square normal, trial_normal;
  Parameters gradient, trial_gradient;
  double sum = evaluate(p, normal, gradient);
  double damping = 1e-3;
  for (int iteration = 0; iteration < options.max_iterations; ++iteration) {
    const Parameters weight = information * std::max(sum / redundancy, kLeastVariance);
    const double cost = sum + weight.dot((start - p).cwiseAbs2());
    Square damped = normal.template selfadjointView<Eigen::Lower>();
    damped.diagonal() += weight;
    damped.diagonal() *= 1.0 + damping;
    Parameters step = damped.ldlt().solve(gradient + weight.cwiseProduct(start - p));
    if (!step.allFinite()) {
      return std::nullopt;
    }
    const double length = step.template head<2>().norm();
    if (length > options.longest_step_px) {
      step *= options.longest_step_px / length;
    }
    const Parameters trial = p + step;
    const double trial_sum = evaluate(trial, trial_normal, trial_gradient);
    const double trial_cost = trial_sum + weight.dot((start - trial).cwiseAbs2());
    const bool better = trial_cost <= cost;
    // Settled, too, where a step no longer lowers the cost.
    constexpr double kFlat = 1e-7;
    const bool settled = std::isfinite(trial_cost) &&
                         (length < options.settled_px ||
                          (better && cost - trial_cost < kFlat * cost && damping < 1.0));
    if (better) {
      p = trial;
      sum = trial_sum;
      normal = trial_normal;
      gradient = trial_gradient;
      damping = std::max(0.1 * damping, 1e-7);
    } else {
      damping *= 10.0;
    }
    if (settled) {
      fit.settled = true;
      break;
    }
    if (damping > 1e6) {
      break;
    }
  }
  fit.p = p;
  fit.misfit = std::sqrt(sum / redundancy);
  Square full = normal.template selfadjointView<Eigen::Lower>();
  full.diagonal() += information * std::max(sum / redundancy, kLeastVariance);
  fit.cofactor = full.ldlt().solve(Square::Identity());
  return fit.cofactor.allFinite() ? std::optional(fit) : std::nullopt;
}

/// Covariance of the fit's first two parameters.
///
/// @param by_curve  grey(sample): change of the model's grey value if the grey curve's exponent
///                  were off by its standard uncertainty; what that shifts enters in full.
template <int N, typename Model, typename ByCurve>
[[nodiscard]] Eigen::Matrix2d place_covariance(const std::vector<GreySample>& samples,
                                               const GreyFit<N>& fit, const Model& model,
                                               const ByCurve& by_curve, int stride = 1) {
  std::vector<double> residuals;
  std::vector<Eigen::Vector2d> influence;
  residuals.reserve(samples.size());
  influence.reserve(samples.size());
  const Eigen::Matrix<double, 2, N> rows = fit.cofactor.template topRows<2>();
  Eigen::Vector2d curve_shift = Eigen::Vector2d::Zero();
  Eigen::Matrix<double, N, 1> row;
  for (const GreySample& sample : samples) {
    residuals.push_back(sample.grey - model(fit.p, sample, row));
    influence.push_back(rows * row);
    curve_shift += influence.back() * by_curve(sample);
  }
  const double redundancy = static_cast<double>(samples.size()) - N;
  return correlated_covariance(samples, residuals, influence, redundancy, stride) +
         curve_shift * curve_shift.transpose();
}

}  // namespace measure
