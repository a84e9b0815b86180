// How well a point is known, in the direction in which it is known worst.
#pragma once

#include <map>
#include <string>

#include "measure/bundle/survey.h"
#include "measure/dossier/dossier.h"

namespace desk {

struct Weakness {
  double U_mm = 0.0;     ///< expanded, p = 95.45 %, along the weakest direction; original
  double k = 2.0;        ///< of U
  std::string photo;     ///< of the point's photos the one that looks most nearly along it
  double off_rad = 0.0;  ///< angle between its line of sight and the weakest direction, 0 to π/2
};

/// By point, from its covariance in the free network and the definition uncertainty of its kind.
/// Without the points that are not placed; empty for a survey without a scale bar, which has no
/// millimetres.
///
/// k is Student's factor for the redundancy of the weakest group of marks: never too small.
[[nodiscard]] std::map<std::string, Weakness> weaknesses_of(const measure::Survey& survey,
                                                            const measure::Dossier& dossier);

}  // namespace desk
