// Lines, planes, circles, spheres, cylinders and cones fitted to points with their joint
// covariance, how they follow the points, and whether the points really lie on them.
#pragma once

#include <limits>
#include <optional>
#include <span>

#include <Eigen/Core>

#include "calib/base/result.h"
#include "measure/shapes/form.h"
#include "measure/shapes/shape_error.h"

namespace measure {

/// n points and what is known of them. Any unit of length; the results have it too.
struct FitInput {
  std::span<const Eigen::Vector3d> points = {};
  /// 3n×3n, x y z of each point in turn, in any datum and singular by it. Empty or all zero: the
  /// points weigh alike and there is no test.
  Eigen::MatrixXd covariance = {};
  /// Degrees of freedom that the covariance's own scale was estimated with; infinite: it is known.
  double tested_dof = std::numeric_limits<double>::infinity();
};

/// Do the points lie on the shape within their error bars? At 99.9 %.
struct FormTest {
  double statistic = 0.0;      ///< Ω; divided by the degrees of freedom where F is tested
  double critical = 0.0;       ///< χ²(dof), or F(dof, tested_dof)
  int degrees_of_freedom = 0;  ///< conditions − parameters
  bool within = true;
  /// Flatness, roundness: greatest less least departure. Of a line, straightness: the widest range
  /// of its points' lateral departures in any direction.
  double deviation = 0.0;
  double u_deviation = 0.0;  ///< by the points' covariance
  /// Standard deviation of the form that the covariance does not explain; 0 where within.
  double form_sigma = 0.0;
};

struct FittedForm {
  /// Position: of a line or cylinder the foot of the points' centroid on its axis, of a plane the
  /// centroid's foot on it, else the centre or apex. Positive side of planes and circles: that of
  /// (p1 − p0) × (p2 − p0), of the first three points that are not in a line; lines and cylinders
  /// point from the first to the last point.
  Form form;
  /// 8×3n: of the form's numbers, by x y z of each point in turn. Moving, turning or scaling the
  /// points moves, turns and scales the form exactly, so that no dimension depends on the datum.
  Eigen::MatrixXd by_points;
  /// 8×8: what the points leave open of "the" line, plane … because they do not lie on one. Zero
  /// where within. Form does not average out over points: n times what independent departures
  /// would give.
  FormMatrix definition_covariance = FormMatrix::Zero();
  /// Of each point: signed distance from the shape (outside, or on the positive side: positive); of
  /// a circle radially in its plane; of a line unsigned.
  Eigen::VectorXd departures;
  Eigen::VectorXd u_departures;  ///< of each, by the covariance; zero without one
  std::optional<FormTest> test;  ///< absent without a covariance, and when exactly determined
};

/// The form that fits best: generalised least squares (Gauss–Helmert) with weights from the part of
/// the covariance that shapes the points among themselves (their datum of inner constraints), so
/// that neither the form nor the variance of any dimension depends on the datum. Where the points
/// do not lie on it within their error bars, form_sigma is added to every condition's variance and
/// the fit repeated.
///
/// Needs: line 2 points, plane 3, circle 3, sphere 4, cylinder 5, cone 6; fewer are refused, and so
/// are points that leave a parameter open within their error bars.
/// Source of the method: the general (mixed) adjustment model, e.g. E. M. Mikhail & F. Ackermann,
/// Observations and Least Squares (1976), from memory; random effects: J. Mandel & R. Paule, Anal.
/// Chem. 42 (1970) 1194–1197, from memory.
[[nodiscard]] calib::Result<FittedForm, ShapeError> fit_form(FormKind kind, const FitInput& input);

}  // namespace measure
