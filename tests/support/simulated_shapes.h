// Edges, rounds and planes added to a simulated survey: points on true shapes, marks along seen
// ones, and dimensions of every kind with their true values.
#pragma once

#include <map>
#include <string>

#include "tests/support/simulated_survey.h"

namespace testing_support {

struct SimulatedShapes {
  SimulatedSurvey survey;
  std::map<std::string, double> true_values;  ///< of the added dimensions: mm, mm² or radians
};

/// A survey with, beside its own points:
///   fitted   "plane a", "plane b" (parallel), "slope" (at 30°), "line", "round" (circle), "ball",
///            "barrel" (cylinder), "funnel" (cone)
///   made     "corner line" (plane a × slope), "pierced" (line × slope), "mid" (between a and b),
///            "lifted" (plane a + 12 mm), "middle" (mirror plane)
///   seen     "edge 1" and "edge 2" (parallel), "rim" (circle), "pipe" (cylinder)
/// and the model axes. Its own dimensions are replaced by one of every kind, and more.
SimulatedShapes make_simulated_shapes(const SimulatedSurveySpec& spec = {});

}  // namespace testing_support
