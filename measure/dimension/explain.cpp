#include "measure/dimension/explain.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <variant>

#include "calib/adjust/budget.h"
#include "measure/dimension/measured.h"
#include "measure/dimension/resolve.h"

namespace measure {

using calib::Unexpected;
using calib::adjust::Observation;

namespace {

/// "point rim 1" → "rim 1", where the block is one of those.
std::optional<std::string> named(const std::string& block, const std::string& what) {
  const std::string prefix = what + " ";
  if (!block.starts_with(prefix)) return std::nullopt;
  return block.substr(prefix.size());
}

/// What an observation of the survey's network is, told by its blocks.
class Sources {
 public:
  Sources(const Survey& survey, const Dossier& dossier) : survey_(survey) {
    for (const BarReport& bar : survey.report().bars) {
      if (!bar.used) continue;
      const auto at = std::find_if(dossier.bars.begin(), dossier.bars.end(),
                                   [&](const ScaleBar& b) { return b.name == bar.name; });
      if (at != dossier.bars.end()) bars_.push_back(&*at);
    }
  }

  [[nodiscard]] Contribution of(const Observation& observation) {
    const auto block_name = [&](std::size_t k) {
      return survey_.network().block(observation.blocks[k]).name;
    };
    Contribution c;
    if (const auto photo = named(block_name(0), "photo")) {
      c.photo = *photo;
      const auto point = named(block_name(2), "point"), shape = named(block_name(2), "shape");
      c.what = shape ? Contribution::What::kShapeMark : Contribution::What::kMark;
      c.item = point ? *point : shape.value_or("");
    } else if (const auto camera = named(block_name(0), "camera")) {
      c.what = Contribution::What::kCamera;
      c.item = *camera;
    } else if (const auto from = named(block_name(0), "point")) {
      // Two bars may lie between the same points: they come in the order of the dossier.
      const auto to = named(block_name(1), "point");
      c.what = Contribution::What::kBar;
      const auto bar = std::find_if(bars_.begin(), bars_.end(), [&](const ScaleBar* b) {
        return b->from == *from && to && b->to == *to;
      });
      if (bar != bars_.end()) {
        c.item = (*bar)->name;
        bars_.erase(bar);
      }
    } else {
      c.what = Contribution::What::kShared;
      c.item = block_name(0);
    }
    return c;
  }

 private:
  const Survey& survey_;
  std::vector<const ScaleBar*> bars_;
};

}  // namespace

calib::Result<Explanation, std::string> explain(const Survey& survey, const Dossier& dossier,
                                                const std::string& dimension) {
  const auto asked = std::find_if(dossier.dimensions.begin(), dossier.dimensions.end(),
                                  [&](const AskedDimension& d) { return d.name == dimension; });
  if (asked == dossier.dimensions.end()) {
    return Unexpected("there is no dimension \"" + dimension +
                      "\" in the dossier: check the name (\"scantling dimension list\").");
  }
  Dossier alone = dossier;
  alone.dimensions = {*asked};
  Explanation explanation;
  internal::Resolver resolver(survey, dossier);
  auto measured = internal::measure_kind(resolver, asked->kind);
  // Without a scale bar it is a ratio to the first distance asked, and comes from there, too.
  std::optional<internal::Measured> reference;
  const int exponent = length_exponent(asked->kind);
  if (survey.report().unit == LengthUnit::kFree && exponent > 0) {
    for (const AskedDimension& other : dossier.dimensions) {
      if (!std::holds_alternative<Distance>(other.kind)) continue;
      auto length = internal::measure_kind(resolver, other.kind);
      if (!length) continue;
      reference = std::move(*length);
      if (other.name != asked->name) alone.dimensions.insert(alone.dimensions.begin(), other);
      break;
    }
  }
  for (const DimensionResult& result : evaluate_dimensions(survey, alone)) {
    if (result.name == asked->name && result.scale == "model") explanation.result = result;
  }
  if (!explanation.result.problem.empty()) return Unexpected(explanation.result.problem);
  if (!measured) return Unexpected(measured.error());
  if (reference) {
    const double unit = std::pow(reference->value, exponent);
    const double by_reference = -exponent * measured->value / unit / reference->value;
    for (Eigen::VectorXd& part : measured->gradient.by_block) part /= unit;
    for (std::size_t b = 0; b < reference->gradient.blocks.size(); ++b) {
      measured->gradient.blocks.push_back(reference->gradient.blocks[b]);
      measured->gradient.by_block.emplace_back(by_reference * reference->gradient.by_block[b]);
    }
    measured->definition_variance = 0;  // stated in millimetres: without a scale it has no size
  }

  const std::vector<double> parts = calib::adjust::variance_by_observation(
      survey.network(), survey.covariance(), measured->gradient);
  double sum = measured->definition_variance;
  for (const double part : parts) sum += part;
  if (!(sum > 0)) return Unexpected(std::string("nothing is known of where it comes from"));
  Sources sources(survey, dossier);
  const auto add = [&](Contribution c, double variance) {
    c.share = variance / sum;
    c.u = std::sqrt(variance);
    const auto same = std::find_if(
        explanation.contributions.begin(), explanation.contributions.end(), [&](const auto& known) {
          return known.what == c.what && known.photo == c.photo && known.item == c.item;
        });
    // Marks on one shape in one photo count as one.
    if (same != explanation.contributions.end()) {
      same->share += c.share;
      same->u = std::hypot(same->u, c.u);
    } else {
      explanation.contributions.push_back(c);
    }
    if (!c.photo.empty()) explanation.by_photo[c.photo] += c.share;
  };
  for (std::size_t o = 0; o < parts.size(); ++o) {
    const Observation& observation = survey.network().observations()[o];
    const Contribution source = sources.of(observation);
    // What is far below anything that is printed would only fill the list.
    if (parts[o] > 1e-9 * sum) add(source, parts[o]);
  }
  if (measured->definition_variance > 0)
    add({Contribution::What::kDefinition, "", "definition", 0, 0}, measured->definition_variance);
  std::sort(explanation.contributions.begin(), explanation.contributions.end(),
            [](const Contribution& a, const Contribution& b) { return a.share > b.share; });
  return explanation;
}

}  // namespace measure
