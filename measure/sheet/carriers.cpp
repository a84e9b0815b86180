#include "measure/sheet/carriers.h"

#include <algorithm>
#include <numeric>
#include <optional>
#include <string_view>

#include "calib/adjust/budget.h"

namespace measure {
namespace {

using calib::adjust::Block;
using calib::adjust::BlockId;
using calib::adjust::DatumRole;
using calib::adjust::Gradient;

std::string without(std::string_view start, const std::string& name) {
  return name.starts_with(start) ? name.substr(start.size()) : name;
}

/// Lengths over the first distance, where there is no scale bar: a/b has da/b − a db/b².
std::optional<Gradient> ratio_gradient(const Survey& survey, const Dossier& dossier,
                                       const DimensionResult& result, Gradient gradient) {
  const auto reference =
      std::find_if(dossier.dimensions.begin(), dossier.dimensions.end(),
                   [&](const AskedDimension& asked) { return asked.name == result.reference; });
  if (reference == dossier.dimensions.end()) return std::nullopt;
  const auto* distance = std::get_if<Distance>(&reference->kind);
  const auto other = dimension_gradient(survey, dossier, reference->kind);
  if (!distance || !other) return std::nullopt;
  const auto a = survey.point(distance->from), b = survey.point(distance->to);
  if (!a || !b) return std::nullopt;
  const double length =
      (survey.network().block(*a).values - survey.network().block(*b).values).norm();
  for (auto& part : gradient.by_block) part /= length;
  for (std::size_t i = 0; i < other->blocks.size(); ++i) {
    gradient.blocks.push_back(other->blocks[i]);
    gradient.by_block.push_back(-result.value / length * other->by_block[i]);
  }
  return gradient;
}

/// Names in the network are those of bundle: "photo …", "point …", "camera …".
Carrier carrier_of(const Survey& survey, const Dossier& dossier,
                   const calib::adjust::Observation& observation) {
  const auto& network = survey.network();
  const Block& first = network.block(observation.blocks.front());
  const std::string& group =
      survey.budget_groups()[static_cast<std::size_t>(observation.group.index)];
  Carrier carrier;
  if (first.datum_role == DatumRole::kPose) {
    carrier.photo = without("photo ", first.name);
    carrier.name = without("point ", network.block(observation.blocks.back()).name);
  } else if (group == "cameras") {
    carrier.what = Carrier::What::kCamera;
    carrier.name = without("camera ", first.name);
  } else if (group == "temperature") {
    carrier.what = Carrier::What::kTemperature;
    carrier.name = first.name;
  } else if (first.datum_role == DatumRole::kPoint && observation.blocks.size() > 1) {
    carrier.what = Carrier::What::kBar;
    const std::string from = without("point ", first.name),
                      to = without("point ", network.block(observation.blocks[1]).name);
    carrier.name = from + " to " + to;
    for (const ScaleBar& bar : dossier.bars) {
      if (!bar.check_only && bar.from == from && bar.to == to) carrier.name = bar.name;
    }
  } else {
    carrier.what = Carrier::What::kCertificate;
    carrier.name = first.name;
  }
  return carrier;
}

}  // namespace

std::vector<Carrier> carriers_of(const Survey& survey, const Dossier& dossier,
                                 const AskedDimension& asked, const DimensionResult& result) {
  if (!result.problem.empty()) return {};
  auto gradient = dimension_gradient(survey, dossier, asked.kind);
  if (gradient && result.unit == DimensionUnit::kRatio) {
    gradient = ratio_gradient(survey, dossier, result, std::move(*gradient));
  }
  if (!gradient) return {};
  const std::vector<double> variances =
      calib::adjust::variance_by_observation(survey.network(), survey.covariance(), *gradient);
  const double sum = std::accumulate(variances.begin(), variances.end(), 0.0);
  const auto defined = result.budget.find("definition");
  const double definition = defined == result.budget.end() ? 0.0 : defined->second;
  std::vector<Carrier> carriers;
  const auto& observations = survey.network().observations();
  for (std::size_t k = 0; k < variances.size(); ++k) {
    if (!(variances[k] > 0)) continue;
    Carrier carrier = carrier_of(survey, dossier, observations[k]);
    carrier.share = variances[k] / sum * (1 - definition);
    carriers.push_back(std::move(carrier));
  }
  if (definition > 0) {
    carriers.push_back({Carrier::What::kDefinition, "", "what its points are", definition});
  }
  std::stable_sort(carriers.begin(), carriers.end(),
                   [](const Carrier& a, const Carrier& b) { return a.share > b.share; });
  return carriers;
}

}  // namespace measure
