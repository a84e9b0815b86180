#include "measure/dimension/dimension.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>
#include <numeric>
#include <tuple>

#include "calib/adjust/distributions.h"
#include "calib/base/units.h"
#include "measure/dimension/measured.h"
#include "measure/dimension/near_zero.h"
#include "measure/dimension/resolve.h"
#include "measure/dimension/shortest_interval.h"

namespace measure {

using calib::adjust::Gradient;
using internal::Measured;
using internal::NearZero;
using internal::Resolver;

namespace {

void add_gradient(Gradient& gradient, const Gradient& other, double factor) {
  for (std::size_t i = 0; i < other.blocks.size(); ++i) {
    gradient.blocks.push_back(other.blocks[i]);
    gradient.by_block.push_back(factor * other.by_block[i]);
  }
}

/// Length, or area, as it would be at 20 °C: divided by the power of 1 + α(t − 20), whose
/// uncertainty comes along.
bool to_reference_temperature(const Survey& survey, int exponent, Measured& measured,
                              std::string& problem) {
  const auto temperature = survey.temperature(), expansion = survey.expansion();
  if (!temperature || !expansion) {
    problem =
        "cannot be given at 20 °C: tell the original's temperature and its material's expansion "
        "with "
        "scantling dossier set";
    return false;
  }
  const double alpha = survey.network().block(*expansion).values[0];
  const double warmer =
      survey.network().block(*temperature).values[0] - calib::kReferenceTemperature.value();
  const double grown = 1 + alpha * warmer;
  const double factor = std::pow(grown, -exponent);
  for (auto& part : measured.gradient.by_block) part *= factor;
  measured.definition_variance *= factor * factor;
  measured.value *= factor;
  measured.gradient.blocks.push_back(*expansion);
  measured.gradient.by_block.push_back(
      Eigen::VectorXd::Constant(1, -exponent * measured.value * warmer / grown));
  measured.gradient.blocks.push_back(*temperature);
  measured.gradient.by_block.push_back(
      Eigen::VectorXd::Constant(1, -exponent * measured.value * alpha / grown));
  return true;
}

struct Scale {
  std::string name;
  double factor = 1.0;
  double relative_u = 0.0;
};

std::vector<Scale> scales_of(const Dossier& dossier, DimensionUnit unit) {
  std::vector<Scale> scales{{"model", 1.0, 0.0}};
  if (unit == DimensionUnit::kRatio || !dossier.model_scale) return scales;
  const ScaleRatio& model = *dossier.model_scale;
  scales.push_back({"full", model.denominator, model.u / model.denominator});
  for (const ScaleRatio& replica : dossier.replica_scales) {
    char name[64];
    std::snprintf(name, sizeof name, "replica 1:%g", replica.denominator);
    scales.push_back({name, model.denominator / replica.denominator,
                      std::hypot(model.u / model.denominator, replica.u / replica.denominator)});
  }
  return scales;
}

}  // namespace

std::vector<DimensionResult> evaluate_dimensions(const Survey& survey, const Dossier& dossier,
                                                 const DimensionOptions& options) {
  std::vector<DimensionResult> results;
  const bool free_length = survey.report().unit == LengthUnit::kFree;
  const std::vector<double> group_dof = survey.group_degrees_of_freedom();
  Resolver resolver(survey, dossier);

  // Without a scale bar every length is given over the first distance asked.
  std::optional<Measured> reference;
  std::string reference_name;
  if (free_length) {
    for (const AskedDimension& asked : dossier.dimensions) {
      if (!std::holds_alternative<Distance>(asked.kind)) continue;
      auto measured = internal::measure_kind(resolver, asked.kind);
      if (!measured) continue;
      reference = std::move(*measured);
      reference_name = asked.name;
      break;
    }
  }

  for (const AskedDimension& asked : dossier.dimensions) {
    DimensionResult base;
    base.name = asked.name;
    base.kind = kind_word(asked.kind);
    const int exponent = length_exponent(asked.kind);
    base.unit = exponent == 0   ? DimensionUnit::kRadian
                : free_length   ? DimensionUnit::kRatio
                : exponent == 1 ? DimensionUnit::kMillimetre
                                : DimensionUnit::kSquareMillimetre;
    const auto fail = [&] {
      for (const Scale& scale : scales_of(dossier, base.unit)) {
        base.scale = scale.name;
        results.push_back(base);
      }
    };
    auto measured = internal::measure_kind(resolver, asked.kind);
    if (!measured) {
      base.problem = measured.error();
      fail();
      continue;
    }
    base.note = measured->note;
    if (base.unit == DimensionUnit::kRatio) {
      if (!reference) {
        base.problem =
            "there is no scale bar, and no distance is asked that could be the unit: add one of "
            "both";
        fail();
        continue;
      }
      base.reference = reference_name;
      if (asked.name == reference_name) {
        base.problem = "there is no scale bar: other lengths are given over this one";
        fail();
        continue;
      }
      // An area is given over the square of the length.
      const double ratio = measured->value / std::pow(reference->value, exponent);
      Gradient gradient;
      add_gradient(gradient, measured->gradient, 1 / std::pow(reference->value, exponent));
      add_gradient(gradient, reference->gradient, -exponent * ratio / reference->value);
      measured->gradient = gradient;
      measured->definition_variance =
          0;  // stated in millimetres: without a scale it has no size here
      measured->value = ratio;
    }
    // Near an end the interval is that of the value as found, and follows it to 20 °C.
    const double as_found = measured->value;
    if (options.at_reference_temperature &&
        (base.unit == DimensionUnit::kMillimetre ||
         base.unit == DimensionUnit::kSquareMillimetre) &&
        !to_reference_temperature(survey, exponent, *measured, base.problem)) {
      fail();
      continue;
    }

    const auto budget =
        calib::adjust::variance_budget(survey.network(), survey.covariance(), measured->gradient);
    const double model_variance = budget.variance + measured->definition_variance;
    const double model_u = std::sqrt(model_variance);
    const double reliability = survey.external_reliability(measured->gradient);
    std::vector<double> model_parts = budget.by_group, model_dof = group_dof;
    model_parts.push_back(measured->definition_variance);
    model_dof.push_back(std::numeric_limits<double>::infinity());
    std::optional<NearZero> near_zero;
    if (base.unit != DimensionUnit::kRatio && measured->departure) {
      near_zero = internal::near_zero_interval(
          *measured->departure,
          internal::covariance_of_rows(resolver, measured->departure_by_block,
                                       measured->departure_by_loose, true),
          as_found, model_u, calib::adjust::effective_degrees_of_freedom(model_parts, model_dof),
          options.seed);
      const double to_reference = as_found != 0 ? measured->value / as_found : 1.0;
      if (near_zero && to_reference != 1.0) {
        near_zero->low *= to_reference;
        near_zero->high *= to_reference;
        near_zero->sd *= to_reference;
      }
    }
    for (const Scale& scale : scales_of(dossier, base.unit)) {
      DimensionResult result = base;
      result.scale = scale.name;
      const double factor = std::pow(scale.factor, exponent);
      const double ratio_variance =
          std::pow(exponent * factor * measured->value * scale.relative_u, 2);
      const double variance = factor * factor * model_variance + ratio_variance;
      result.value = factor * measured->value;
      result.u = std::sqrt(variance);
      std::vector<double> parts, dof;
      for (const char* name :
           {"marks", "cameras", "bars", "scale_ratio", "temperature", "definition"}) {
        result.budget[name] = 0.0;
      }
      for (std::size_t g = 0; g < budget.by_group.size(); ++g) {
        const double part = factor * factor * budget.by_group[g];
        result.budget[survey.budget_groups()[g]] += variance > 0 ? part / variance : 0.0;
        parts.push_back(part);
        dof.push_back(group_dof[g]);
      }
      if (variance > 0) {
        result.budget["definition"] = factor * factor * measured->definition_variance / variance;
        result.budget["scale_ratio"] = ratio_variance / variance;
      }
      parts.push_back(variance - std::accumulate(parts.begin(), parts.end(), 0.0));
      dof.push_back(std::numeric_limits<double>::infinity());
      result.effective_dof = calib::adjust::effective_degrees_of_freedom(parts, dof);
      // k = 2 is what Student's factor at 95.45 % comes to for many degrees of freedom (JCGM
      // 100:2008, G.6).
      result.k =
          calib::adjust::student_factor(calib::adjust::kCoverageProbability, result.effective_dof);
      result.U = result.k * result.u;
      result.external_reliability = factor * reliability;
      if (near_zero) {
        result.interval = {factor * near_zero->low, factor * near_zero->high};
        result.u = factor * near_zero->sd;
        result.U = (result.interval->second - result.interval->first) / 2;
      }
      results.push_back(result);
    }
  }
  return results;
}

std::optional<Gradient> dimension_gradient(const Survey& survey, const Dossier& dossier,
                                           const DimensionKind& kind, std::string* why) {
  Resolver resolver(survey, dossier);
  auto measured = internal::measure_kind(resolver, kind);
  if (measured) return std::move(measured->gradient);
  if (why) *why = measured.error();
  return std::nullopt;
}

std::vector<MonteCarloComparison> monte_carlo(const Survey& survey, const Dossier& dossier,
                                              int runs, std::uint32_t seed,
                                              const std::function<void(double)>& progress) {
  struct Asked {
    MonteCarloComparison comparison;
    DimensionKind kind;
    std::vector<double> values;
  };
  std::vector<Asked> asked;
  Resolver resolver(survey, dossier);
  for (const DimensionResult& result : evaluate_dimensions(survey, dossier)) {
    if (result.scale != "model" || !result.problem.empty() || result.unit == DimensionUnit::kRatio)
      continue;
    const auto entry = std::find_if(dossier.dimensions.begin(), dossier.dimensions.end(),
                                    [&](const AskedDimension& d) { return d.name == result.name; });
    MonteCarloComparison comparison;
    comparison.name = result.name;
    comparison.unit = result.unit;
    // Without definition and form: every simulated survey sees the same places.
    const auto measured = internal::measure_kind(resolver, entry->kind);
    if (!measured) continue;
    comparison.first_order_u = std::sqrt(
        std::max(0.0, calib::adjust::variance_of(survey.covariance(), measured->gradient)));
    asked.push_back({comparison, entry->kind, {}});
  }
  for (int run = 0; run < runs; ++run) {
    if (progress) progress(static_cast<double>(run) / runs);
    const auto values = survey.simulate(seed + static_cast<std::uint32_t>(run));
    if (!values) continue;
    Resolver drawn(survey, dossier, &*values);
    for (Asked& one : asked) {
      const auto measured = internal::measure_kind(drawn, one.kind);
      if (measured && std::isfinite(measured->value)) one.values.push_back(measured->value);
    }
  }
  std::vector<MonteCarloComparison> comparisons;
  for (Asked& one : asked) {
    MonteCarloComparison& c = one.comparison;
    c.runs = static_cast<int>(one.values.size());
    if (c.runs >= 2) {
      std::sort(one.values.begin(), one.values.end());
      const double n = c.runs;
      c.mean = std::accumulate(one.values.begin(), one.values.end(), 0.0) / n;
      double squares = 0;
      for (const double v : one.values) squares += (v - c.mean) * (v - c.mean);
      c.sd = std::sqrt(squares / (n - 1));
      std::tie(c.low, c.high) = shortest_interval(one.values, calib::adjust::kCoverageProbability);
    }
    comparisons.push_back(c);
  }
  return comparisons;
}

}  // namespace measure
