// Every shape of a dossier as measured: where it is, how large, how true to its form, and how
// symmetric the original.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "measure/bundle/survey.h"
#include "measure/dossier/dossier.h"
#include "measure/shapes/fit_form.h"
#include "measure/shapes/form.h"

namespace measure {

/// A point that a shape is fitted to, and how far it lies from it.
struct PointDeparture {
  std::string point;
  double departure = 0.0;  ///< signed: outside or on the positive side; of a line unsigned
  double u = 0.0;          ///< standard uncertainty, by the survey
};

/// A pair of points that mirror each other, nearly.
struct PairDepartureResult {
  std::string first, second;
  /// From `second` to the mirror image of `first`, and how long that is.
  Eigen::Vector3d vector = Eigen::Vector3d::Zero();
  double value = 0.0;
  double u = 0.0;  ///< of the value, first order
  /// Where ± U would mislead (near zero): the 95.45 % interval instead.
  std::optional<std::pair<double, double>> interval;
  bool symmetric = true;  ///< within the error bars: χ²₃ at 99.9 %
};

/// One shape. Lengths in the unit of the survey, at model scale; angles in radians.
struct FormResult {
  std::string name;
  std::string origin;   ///< origin_word()
  std::string problem;  ///< a sentence where it has no place; then the numbers mean nothing
  Form form;
  /// Of position 3, direction 3, radius, half angle; free network, definition included.
  FormMatrix covariance = FormMatrix::Zero();
  std::optional<FormTest> test;  ///< of fitted shapes with more points than they need
  std::vector<PointDeparture> departures;
  std::vector<PairDepartureResult> pairs;  ///< of a mirror plane
  std::optional<double> gap;  ///< of the crossing of two lines: how far they pass from each other
};

/// All shapes of the dossier, in its order.
[[nodiscard]] std::vector<FormResult> evaluate_forms(const Survey& survey, const Dossier& dossier);

/// A point, or the centre or apex of a shape, in the model axes, or, where there are none, in the
/// survey's own (which mean nothing but to each other).
struct CoordinatesResult {
  std::string name;
  std::string problem;
  Eigen::Vector3d value = Eigen::Vector3d::Zero();
  Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
};
[[nodiscard]] std::vector<CoordinatesResult> evaluate_coordinates(const Survey& survey,
                                                                  const Dossier& dossier);

}  // namespace measure
