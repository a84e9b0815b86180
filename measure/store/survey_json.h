// What `scantling adjust --json` and `scantling dimensions --json` print.
#pragma once

#include <string>
#include <vector>

#include <Eigen/Core>

#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/dossier/dossier.h"

namespace measure {

/// A mark that failed the test.
struct DoubtedMarkName {
  std::string photo, point;
  std::string shape;  ///< of a mark on a shape; then there is no point
  double w = 0.0;
  /// Of a mark on a shape: it may have several in one photo.
  Eigen::Vector2d position_px = Eigen::Vector2d::Zero();
};

/// One line after schema/adjust.schema.json. What does not exist is null, never NaN.
/// @param set_aside  the marks set aside in each round before this survey; none: the key is absent.
[[nodiscard]] std::string adjust_json(
    const SurveyReport& report, const Dossier& dossier,
    const std::vector<std::vector<DoubtedMarkName>>& set_aside = {});

/// One line after schema/dimensions.schema.json; `comparisons` are there after --monte-carlo.
[[nodiscard]] std::string dimensions_json(const std::vector<DimensionResult>& dimensions,
                                          const std::vector<MonteCarloComparison>& comparisons,
                                          const SurveyReport& report);

}  // namespace measure
