// How one dimension is known: every mark, photo, bar and camera that carries it.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "calib/base/result.h"
#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/dossier/dossier.h"

namespace measure {

/// A part of the variance of a dimension.
struct Contribution {
  enum class What {
    kMark,        ///< of `item` in `photo`
    kShapeMark,   ///< marks on shape `item` in `photo`
    kCamera,      ///< the calibration of camera `item`
    kBar,         ///< scale bar `item`, its own uncertainty
    kShared,      ///< `item`: a certificate's common error, an expansion, a temperature
    kDefinition,  ///< where the points and shapes are on the original
  };
  What what = What::kMark;
  std::string photo, item;
  double share = 0.0;  ///< of the variance in model scale
  double u = 0.0;      ///< √(share) u: what it alone would make, mm, mm² or rad
};

struct Explanation {
  DimensionResult result;  ///< in model scale
  /// Largest first. Shares sum to 1.
  std::vector<Contribution> contributions;
  std::map<std::string, double> by_photo;  ///< shares of all marks in each photo
};

/// Errors: no such dimension, or the sentence why it has no value.
[[nodiscard]] calib::Result<Explanation, std::string> explain(const Survey& survey,
                                                              const Dossier& dossier,
                                                              const std::string& dimension);

}  // namespace measure
