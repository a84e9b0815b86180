// What was asked, answered: value ± U in model, full and replica scale, with its budget.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "measure/bundle/survey.h"
#include "measure/dossier/dossier.h"

namespace measure {

enum class DimensionUnit {
  kMillimetre,
  kSquareMillimetre,
  kRadian,
  kRatio,  ///< no scale bar: length over the first distance asked, area over its square
};

/// One dimension in one scale.
struct DimensionResult {
  std::string name;
  std::string kind;   ///< kind_word()
  std::string scale;  ///< "model", "full", "replica 1:72"
  DimensionUnit unit = DimensionUnit::kMillimetre;
  double value = 0.0;
  double u = 0.0;  ///< standard uncertainty
  double U = 0.0;  ///< expanded: k·u; half the interval where that stands instead
  double k = 2.0;
  double effective_dof = 0.0;  ///< ν_eff; may be infinite
  /// Where first order does not hold: a 95.45 % Monte Carlo interval instead of ± U.
  std::optional<std::pair<double, double>> interval;
  /// Share of the variance by group: marks, cameras, bars, scale_ratio, temperature, definition.
  /// Sum 1.
  std::map<std::string, double> budget;
  /// Largest change that a blunder just missed by the test would make (external reliability).
  std::optional<double> external_reliability;
  std::string note;       ///< a remark on the value, or empty
  std::string reference;  ///< for kRatio: name of the distance it is a ratio to
  std::string problem;    ///< a sentence where there is no value; then the numbers mean nothing
};

struct DimensionOptions {
  bool at_reference_temperature = false;  ///< 20 °C instead of as found
  std::uint32_t seed = 1;                 ///< of the near-zero intervals
};

/// One entry for each dimension and scale, in the order asked.
[[nodiscard]] std::vector<DimensionResult> evaluate_dimensions(
    const Survey& survey, const Dossier& dossier, const DimensionOptions& options = {});

/// Gradient of a dimension in model scale on the blocks of the survey, without its definition
/// uncertainty: what planning needs. Nothing where it has no value, with the sentence in `why`.
[[nodiscard]] std::optional<calib::adjust::Gradient> dimension_gradient(const Survey& survey,
                                                                        const Dossier& dossier,
                                                                        const DimensionKind& kind,
                                                                        std::string* why = nullptr);

/// A re-solving check of one dimension in model scale.
struct MonteCarloComparison {
  std::string name;
  DimensionUnit unit = DimensionUnit::kMillimetre;
  int runs = 0;  ///< that were solved
  double mean = 0.0, sd = 0.0;
  double low = 0.0, high = 0.0;  ///< shortest 95.45 % interval
  double first_order_u = 0.0;
};

/// Draws every observation anew, solves, evaluates; at least 2 runs. `seed` fixes the draws.
[[nodiscard]] std::vector<MonteCarloComparison> monte_carlo(
    const Survey& survey, const Dossier& dossier, int runs, std::uint32_t seed,
    const std::function<void(double)>& progress = {});

}  // namespace measure
