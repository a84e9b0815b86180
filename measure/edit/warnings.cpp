#include "measure/edit/warnings.h"

#include <cmath>

#include "measure/edit/name_rules.h"

namespace measure {
namespace {

// Critical value of one test at 0.1 % (W. Baarda, 1968), as in the data snooping.
constexpr double kCritical = 3.29;
// Of what bars and originals are made of: fused silica about 0.5e-6, plastics up to about 200e-6
// per kelvin.
constexpr double kLargestLikelyExpansion_per_K = 300e-6;
constexpr double kColdestLikely_C = -30.0, kHottestLikely_C = 60.0;

bool same_ends(const ScaleBar& a, const ScaleBar& b) {
  return (a.from == b.from && a.to == b.to) || (a.from == b.to && a.to == b.from);
}

/// Standard uncertainty of the difference of two bars; what one certificate gives both cancels out.
double u_of_difference_mm(const ScaleBar& a, const ScaleBar& b) {
  const bool shared = !a.certificate.empty() && a.certificate == b.certificate;
  const double common_mm =
      shared ? a.u_common_mm - b.u_common_mm : std::hypot(a.u_common_mm, b.u_common_mm);
  return std::hypot(a.u_own_mm, b.u_own_mm, common_mm);
}

std::string mm(double value) {
  std::string text = std::to_string(value);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.ends_with('.')) {
    text.pop_back();
  }
  return text + " mm";
}

void warn_of_temperature(const std::optional<Uncertain>& temperature_C, const std::string& subject,
                         std::vector<std::string>& warnings) {
  if (temperature_C &&
      (temperature_C->value < kColdestLikely_C || temperature_C->value > kHottestLikely_C)) {
    warnings.push_back("The temperature of " + subject +
                       " is unlikely: it is meant in degrees Celsius.");
  }
}

void warn_of_expansion(const std::optional<Uncertain>& expansion_per_K, const std::string& subject,
                       std::vector<std::string>& warnings) {
  if (expansion_per_K && std::abs(expansion_per_K->value) > kLargestLikelyExpansion_per_K) {
    warnings.push_back("The expansion of " + subject +
                       " is unlikely: it is meant per kelvin, for steel about 11.5e-6.");
  }
}

struct Warnings {
  const Dossier& dossier;
  std::vector<std::string>& warnings;

  void operator()(const AddBar& edit) const {
    const ScaleBar& bar = edit.bar;
    const std::string subject = "scale bar " + in_quotes(bar.name);
    for (const ScaleBar& other : dossier.bars) {
      if (other.name == bar.name || !same_ends(other, bar)) {
        continue;
      }
      const double difference_mm = std::abs(other.length_mm - bar.length_mm);
      if (difference_mm > kCritical * u_of_difference_mm(other, bar)) {
        warnings.push_back("Scale bars " + in_quotes(bar.name) + " and " + in_quotes(other.name) +
                           " join the same points and differ by " + mm(difference_mm) +
                           ", more than their uncertainties allow: check both lengths.");
      }
    }
    if (bar.u_own_mm + bar.u_common_mm > 0.1 * bar.length_mm) {
      warnings.push_back("The uncertainty of " + subject +
                         " is more than a tenth of its length: check its unit.");
    }
    warn_of_temperature(bar.temperature_C, subject, warnings);
    warn_of_expansion(bar.expansion_per_K, subject, warnings);
  }
  void operator()(const AddDimension& edit) const {
    for (const AskedDimension& other : dossier.dimensions) {
      if (other.name != edit.dimension.name && other.kind == edit.dimension.kind) {
        warnings.push_back("Dimension " + in_quotes(edit.dimension.name) + " asks the same as " +
                           in_quotes(other.name) + ".");
      }
    }
  }
  void operator()(const SetTemperature& edit) const {
    warn_of_temperature(edit.temperature_C, "the original", warnings);
  }
  void operator()(const SetExpansion& edit) const {
    warn_of_expansion(edit.expansion_per_K, "the original", warnings);
  }
  void operator()(const EditGroup& group) const {
    for (const Edit& edit : group.edits) {
      std::visit(*this, edit.what);
    }
  }
  template <typename Other>
  void operator()(const Other&) const {}
};

}  // namespace

std::vector<std::string> warnings_after(const Edit& edit, const Dossier& dossier) {
  std::vector<std::string> warnings;
  std::visit(Warnings{dossier, warnings}, edit.what);
  return warnings;
}

}  // namespace measure
