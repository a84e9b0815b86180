// What fits of forms and of mirror planes have in common. For this room's .cpp files.
#pragma once

#include <optional>
#include <vector>

#include <Eigen/Core>

#include "measure/shapes/fit_form.h"
#include "measure/shapes/gauss_helmert.h"
#include "measure/shapes/own_datum.h"

namespace measure::internal {

/// Are all numbers finite, and is the covariance that of these points?
[[nodiscard]] std::optional<ShapeError> first_problem(const FitInput& input);

/// The covariance of the points among themselves.
struct FitWeights {
  explicit FitWeights(const FitInput& input);
  OwnDatum datum;
  bool given = false;          ///< there is a covariance, not zero
  Eigen::MatrixXd own;         ///< without motions and scale; empty where nothing is left, or given
  Eigen::MatrixXd with_scale;  ///< without motions

  /// Σ of the points' own variances along a direction: what Σ (v·r)² amounts to by noise alone.
  [[nodiscard]] double noise_along(const Eigen::Vector3d& direction) const;
};

/// Points in one place or in one line where the form needs more, within their error bars.
[[nodiscard]] std::optional<ShapeError> flat_problem(FormKind kind, Points points,
                                                     const FitWeights& weights);
/// Two extents differ from nothing: the sum of squares does not stem from noise or rounding.
[[nodiscard]] bool stands_out(double square, double largest_square, double noise);

/// A form that is settled, but open within its error bars.
[[nodiscard]] std::optional<ShapeError> loose_problem(const FormModel& model,
                                                      const Settled& settled, FormKind kind,
                                                      Points points, const FitWeights& weights);
/// Why a parameter of that kind is open.
[[nodiscard]] ShapeError open_problem(FormKind kind);

/// The best of what the starts lead to, and the others.
struct BestFit {
  Settled settled;
  std::vector<Form> others;  ///< different forms, settled by Σ F² alone
};
[[nodiscard]] calib::Result<BestFit, Unsettled> best_of(const FormModel& model,
                                                        const std::vector<Form>& starts,
                                                        const FitInput& input,
                                                        const FitWeights& weights);
/// Does one of the others fit as well as the best?
[[nodiscard]] bool has_rival(const FormModel& model, const BestFit& best, const FitInput& input,
                             const FitWeights& weights);

/// The conditions that make up one departure: 1 a signed distance, 2 lateral ones of a line, 3 the
/// vector of a mirror pair.
struct DepartureRows {
  Eigen::Index first, count;
};

/// m×3n: of the misclosures at the settled form, which follows the points itself.
[[nodiscard]] Eigen::MatrixXd misclosure_by_points(const Settled& settled);

/// Everything of the result but the side that the form takes.
[[nodiscard]] FittedForm finished_fit(const FormModel& model, const Settled& settled,
                                      const FitInput& input, const FitWeights& weights,
                                      const std::vector<DepartureRows>& departures);

/// The same form with its direction, and what is signed by it, the other way.
void turn_over(FittedForm& fitted);

}  // namespace measure::internal
