// The adjustment of one form to its points. For this room's .cpp files.
#pragma once

#include <optional>

#include <Eigen/Core>

#include "calib/base/result.h"
#include "measure/shapes/form_model.h"

namespace measure::internal {

/// Where the form has settled.
struct Settled {
  Form form;
  Conditions at;
  Eigen::MatrixXd estimator;  ///< L: parameters move by −L F; p×m
  double omega = 0.0;         ///< Fᵀ W⁻¹ F without form_sigma
  int degrees_of_freedom = 0;
  bool departs = false;  ///< Ω is above its critical value
  double form_sigma = 0.0;
};

struct GaussHelmertOptions {
  /// Of the points in their own datum, 3n×3n; empty: all conditions weigh alike.
  Eigen::MatrixXd own_covariance;
  /// Ω above this: the points do not lie on the form, form_sigma is estimated. Infinite: never.
  double critical = 0.0;
};

/// Smallest Σ F² by a damped iteration from a rough start; nothing if it runs away from the points.
[[nodiscard]] std::optional<Form> least_squares(const FormModel& model, const Form& start,
                                                Points points);

enum class Unsettled {
  kOpen,           ///< a parameter is not determined by the points
  kDoesNotSettle,  ///< no end of the iteration
};

/// Δp = −L F, L = (AᵀW⁻¹A)⁻¹AᵀW⁻¹, W = BΣBᵀ + s²I, until it settles.
[[nodiscard]] calib::Result<Settled, Unsettled> gauss_helmert(const FormModel& model,
                                                              const Form& start, Points points,
                                                              const GaussHelmertOptions& options);

}  // namespace measure::internal
