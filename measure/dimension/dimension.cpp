#include "measure/dimension/dimension.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>
#include <numeric>
#include <random>
#include <tuple>

#include <Eigen/Eigenvalues>

#include "calib/adjust/distributions.h"
#include "calib/base/units.h"
#include "measure/dimension/kind_function.h"
#include "measure/dimension/shortest_interval.h"

namespace measure {

using calib::adjust::BlockId;
using calib::adjust::Gradient;
using internal::KindFunction;

namespace {

constexpr int kNearZeroDraws = 20000;
/// From here on Student's factor at 95.45 % is within 0.01 % of 2.
constexpr double kManyDegreesOfFreedom = 20000;

/// A value with its gradient on the network's blocks and what the network does not know:
/// definition.
struct Measured {
  double value = 0.0;
  Gradient gradient;
  double definition_variance = 0.0;
};

struct SharedPoints {
  std::vector<std::string> names;  ///< each once
  std::vector<BlockId> blocks;
  std::vector<double> definition_u;
};

std::vector<Eigen::Vector3d> positions(const Survey& survey, const SharedPoints& points) {
  std::vector<Eigen::Vector3d> at;
  for (const BlockId id : points.blocks) at.emplace_back(survey.network().block(id).values);
  return at;
}

double definition_u(const Dossier& dossier, const std::string& point_name) {
  const Point* point = dossier.find_point(point_name);
  if (!point || point->kind.empty()) return 0.0;
  for (const PointKind& kind : dossier.point_kinds) {
    if (kind.name == point->kind) return kind.definition_u_mm;
  }
  return 0.0;
}

/// Blocks of the points a dimension needs, or the sentence why one has none.
std::optional<SharedPoints> find_points(const Survey& survey, const Dossier& dossier,
                                        const DimensionKind& kind, std::string& problem) {
  SharedPoints points;
  for (const std::string& name : points_of(kind)) {
    if (std::find(points.names.begin(), points.names.end(), name) != points.names.end()) continue;
    const auto block = survey.point(name, &problem);
    if (!block) return std::nullopt;
    points.names.push_back(name);
    points.blocks.push_back(*block);
    points.definition_u.push_back(definition_u(dossier, name));
  }
  return points;
}

std::optional<Measured> measure_kind(const Survey& survey, const SharedPoints& points,
                                     const KindFunction& function, std::string& problem) {
  const auto result = function.evaluate(positions(survey, points));
  if (!result) {
    problem = result.error();
    return std::nullopt;
  }
  Measured measured;
  measured.value = result->value;
  measured.gradient.blocks = points.blocks;
  for (std::size_t i = 0; i < points.blocks.size(); ++i) {
    const Eigen::Vector3d part = result->gradient.segment<3>(static_cast<Eigen::Index>(3 * i));
    measured.gradient.by_block.emplace_back(part);
    measured.definition_variance +=
        part.squaredNorm() * points.definition_u[i] * points.definition_u[i];
  }
  return measured;
}

void add_gradient(Gradient& gradient, const Gradient& other, double factor) {
  for (std::size_t i = 0; i < other.blocks.size(); ++i) {
    gradient.blocks.push_back(other.blocks[i]);
    gradient.by_block.push_back(factor * other.by_block[i]);
  }
}

/// Length as it would be at 20 °C: divided by 1 + α(t − 20), whose uncertainty comes along.
bool to_reference_temperature(const Survey& survey, Measured& measured, std::string& problem) {
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
  const double factor = 1 / (1 + alpha * warmer);
  for (auto& part : measured.gradient.by_block) part *= factor;
  measured.definition_variance *= factor * factor;
  measured.value *= factor;
  measured.gradient.blocks.push_back(*expansion);
  measured.gradient.by_block.push_back(
      Eigen::VectorXd::Constant(1, -measured.value * factor * warmer));
  measured.gradient.blocks.push_back(*temperature);
  measured.gradient.by_block.push_back(
      Eigen::VectorXd::Constant(1, -measured.value * factor * alpha));
  return true;
}

/// A plane through more than three points that are not flat within their error bars: which plane is
/// meant is then uncertain by as much, and no number of photos mends it.
double form_variance(const Survey& survey, const SharedPoints& points, const DimensionKind& kind) {
  const auto* offset = std::get_if<OffsetFromPlane>(&kind);
  if (!offset || offset->plane.size() < 4) return 0.0;
  double squares = 0;
  bool not_flat = false;
  for (const std::string& name : offset->plane) {
    const KindFunction own(OffsetFromPlane{name, offset->plane}, points.names);
    std::string ignored;
    const auto measured = measure_kind(survey, points, own, ignored);
    if (!measured) return 0.0;
    const double u = std::sqrt(
        std::max(0.0, calib::adjust::variance_of(survey.covariance(), measured->gradient)) +
        measured->definition_variance);
    not_flat = not_flat || std::abs(measured->value) > 3.29 * u;
    squares += measured->value * measured->value;
  }
  return not_flat ? squares / static_cast<double>(offset->plane.size() - 3) : 0.0;
}

/// Where first order misleads: a value that cannot be negative, close to zero, is biased upwards
/// and skew.
struct NearZero {
  double low = 0.0, high = 0.0, sd = 0.0;
};

std::optional<NearZero> near_zero_interval(const Survey& survey, const SharedPoints& points,
                                           const KindFunction& function, double value, double u,
                                           double degrees_of_freedom, std::uint32_t seed) {
  if (!function.is_unsigned()) return std::nullopt;
  const std::vector<Eigen::Vector3d> at = positions(survey, points);
  Eigen::MatrixXd covariance = survey.covariance().joint_inner(points.blocks);
  for (std::size_t i = 0; i < at.size(); ++i) {
    for (int k = 0; k < 3; ++k) {
      const Eigen::Index d = static_cast<Eigen::Index>(3 * i) + k;
      covariance(d, d) += points.definition_u[i] * points.definition_u[i];
    }
  }
  const double from_end = function.distance_from_end(value);
  const bool curved = 0.5 * std::abs(function.curvature(at, covariance)) > 0.1 * u;
  if (!curved && from_end >= 5 * u) return std::nullopt;

  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(covariance);
  const Eigen::MatrixXd root =
      eigen.eigenvectors() * eigen.eigenvalues().cwiseMax(0).cwiseSqrt().asDiagonal();
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  // Where σ was estimated from few residuals the error bar is itself uncertain: errors over it then
  // follow the multivariate t distribution (JCGM 101:2008, 6.4.9.4), as U takes Student's factor.
  std::optional<std::chi_squared_distribution<double>> chi_squared;
  if (degrees_of_freedom < kManyDegreesOfFreedom) chi_squared.emplace(degrees_of_freedom);
  const Eigen::Vector3d estimated = function.departure(at);
  std::vector<Eigen::Vector3d> errors;
  errors.reserve(kNearZeroDraws);
  Eigen::VectorXd z(covariance.rows());
  std::vector<Eigen::Vector3d> moved(at.size());
  double sum = 0, squares = 0;
  for (int draw = 0; draw < kNearZeroDraws; ++draw) {
    for (Eigen::Index k = 0; k < z.size(); ++k) z[k] = normal(random);
    if (chi_squared) z *= std::sqrt(degrees_of_freedom / (*chi_squared)(random));
    const Eigen::VectorXd error = root * z;
    for (std::size_t i = 0; i < at.size(); ++i) {
      moved[i] = at[i] + error.segment<3>(static_cast<Eigen::Index>(3 * i));
    }
    const double v = function.distance_from_end(function.value(moved));
    if (!std::isfinite(v)) continue;
    errors.push_back(function.departure(moved) - estimated);
    sum += v;
    squares += v * v;
  }
  if (errors.size() < kNearZeroDraws / 2) return std::nullopt;
  const auto n = static_cast<double>(errors.size());
  NearZero result;
  result.sd = std::sqrt(std::max(0.0, squares / n - (sum / n) * (sum / n)));

  // Draws about the estimate would count its error twice, for what was found is already too long by
  // it: their shortest interval held the truth in 85 of 100 surveys. So the question is turned
  // round: which true lengths d make what was found neither too long nor too short, each with (1 −
  // p)/2?
  const double found = estimated.norm();
  const Eigen::Vector3d direction =
      found > 0 ? Eigen::Vector3d(estimated / found) : Eigen::Vector3d::UnitX();
  const auto share_longer = [&](double d) {
    const Eigen::Vector3d truth = d * direction;
    const auto longer = std::count_if(errors.begin(), errors.end(), [&](const Eigen::Vector3d& e) {
      return (truth + e).squaredNorm() >= found * found;
    });
    return static_cast<double>(longer) / n;
  };
  std::vector<double> lengths;
  for (const Eigen::Vector3d& e : errors) lengths.push_back(e.norm());
  std::sort(lengths.begin(), lengths.end());
  const double reach = found + lengths.back();
  const auto first_with = [&](double share) {
    double low = 0, high = reach;
    if (share_longer(low) >= share) return 0.0;
    for (int step = 0; step < 40; ++step) {
      const double middle = (low + high) / 2;
      (share_longer(middle) >= share ? high : low) = middle;
    }
    return high;
  };
  constexpr double kTail = (1 - calib::adjust::kCoverageProbability) / 2;
  double low = first_with(kTail);
  // Found by luck shorter than errors alone mostly are: it cannot be told from zero, and no better
  // than this.
  const double noise =
      lengths[static_cast<std::size_t>(calib::adjust::kCoverageProbability * (n - 1))];
  double high = std::max(first_with(1 - kTail), noise);
  if (function.departure_is_sine()) {
    low = std::asin(std::min(low, 1.0));
    high = std::asin(std::min(high, 1.0));
  }
  const double end = function.end_of(value);
  result.low = end > 0 ? end - high : low;
  result.high = end > 0 ? end - low : high;
  return result;
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

  // Without a scale bar every length is given over the first distance asked.
  std::optional<Measured> reference;
  std::string reference_name;
  if (free_length) {
    for (const AskedDimension& asked : dossier.dimensions) {
      if (!std::holds_alternative<Distance>(asked.kind)) continue;
      std::string ignored;
      const auto points = find_points(survey, dossier, asked.kind, ignored);
      if (!points) continue;
      reference = measure_kind(survey, *points, KindFunction(asked.kind, points->names), ignored);
      reference_name = asked.name;
      if (reference) break;
    }
  }

  for (const AskedDimension& asked : dossier.dimensions) {
    DimensionResult base;
    base.name = asked.name;
    base.kind = kind_word(asked.kind);
    const bool is_angle = std::holds_alternative<Angle>(asked.kind);
    base.unit = is_angle ? DimensionUnit::kRadian
                         : (free_length ? DimensionUnit::kRatio : DimensionUnit::kMillimetre);
    const auto fail = [&] {
      for (const Scale& scale : scales_of(dossier, base.unit)) {
        base.scale = scale.name;
        results.push_back(base);
      }
    };
    const auto points = find_points(survey, dossier, asked.kind, base.problem);
    if (!points) {
      fail();
      continue;
    }
    const KindFunction function(asked.kind, points->names);
    auto measured = measure_kind(survey, *points, function, base.problem);
    if (!measured) {
      fail();
      continue;
    }
    measured->definition_variance += form_variance(survey, *points, asked.kind);
    if (base.unit == DimensionUnit::kRatio) {
      if (!reference) {
        base.problem =
            "there is no scale bar, and no distance is asked that could be the unit: add one of "
            "both";
        fail();
        continue;
      }
      base.reference = reference_name;
      const double ratio = measured->value / reference->value;
      Gradient gradient;
      add_gradient(gradient, measured->gradient, 1 / reference->value);
      add_gradient(gradient, reference->gradient, -ratio / reference->value);
      measured->gradient = gradient;
      measured->definition_variance =
          0;  // stated in millimetres: without a scale it has no size here
      measured->value = ratio;
      if (asked.name == reference_name) {
        base.problem = "there is no scale bar: other lengths are given over this one";
        fail();
        continue;
      }
    }
    if (options.at_reference_temperature && base.unit == DimensionUnit::kMillimetre &&
        !to_reference_temperature(survey, *measured, base.problem)) {
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
    if (base.unit != DimensionUnit::kRatio) {
      near_zero = near_zero_interval(
          survey, *points, function, function.value(positions(survey, *points)), model_u,
          calib::adjust::effective_degrees_of_freedom(model_parts, model_dof), options.seed);
    }
    for (const Scale& scale : scales_of(dossier, base.unit)) {
      DimensionResult result = base;
      result.scale = scale.name;
      const double factor = is_angle ? 1.0 : scale.factor;
      const double ratio_variance =
          is_angle ? 0.0 : std::pow(factor * measured->value * scale.relative_u, 2);
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
  std::string problem;
  const auto points = find_points(survey, dossier, kind, problem);
  auto measured = points ? measure_kind(survey, *points, KindFunction(kind, points->names), problem)
                         : std::nullopt;
  if (measured) return std::move(measured->gradient);
  if (why) *why = problem;
  return std::nullopt;
}

std::vector<MonteCarloComparison> monte_carlo(const Survey& survey, const Dossier& dossier,
                                              int runs, std::uint32_t seed,
                                              const std::function<void(double)>& progress) {
  struct Asked {
    MonteCarloComparison comparison;
    KindFunction function;
    SharedPoints points;
    std::vector<double> values;
  };
  std::vector<Asked> asked;
  for (const DimensionResult& result : evaluate_dimensions(survey, dossier)) {
    if (result.scale != "model" || !result.problem.empty() || result.unit == DimensionUnit::kRatio)
      continue;
    const auto entry = std::find_if(dossier.dimensions.begin(), dossier.dimensions.end(),
                                    [&](const AskedDimension& d) { return d.name == result.name; });
    std::string ignored;
    auto points = find_points(survey, dossier, entry->kind, ignored);
    MonteCarloComparison comparison;
    comparison.name = result.name;
    comparison.unit = result.unit;
    // Without definition and form: every simulated survey sees the same places.
    const auto measured =
        measure_kind(survey, *points, KindFunction(entry->kind, points->names), ignored);
    comparison.first_order_u = std::sqrt(
        std::max(0.0, calib::adjust::variance_of(survey.covariance(), measured->gradient)));
    asked.push_back({comparison, KindFunction(entry->kind, points->names), *points, {}});
  }
  for (int run = 0; run < runs; ++run) {
    if (progress) progress(static_cast<double>(run) / runs);
    const auto values = survey.simulate(seed + static_cast<std::uint32_t>(run));
    if (!values) continue;
    for (Asked& one : asked) {
      std::vector<Eigen::Vector3d> at;
      for (const BlockId id : one.points.blocks) at.emplace_back((*values)[id.index]);
      const double value = one.function.value(at);
      if (std::isfinite(value)) one.values.push_back(value);
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
