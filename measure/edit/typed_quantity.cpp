#include "measure/edit/typed_quantity.h"

#include <array>
#include <charconv>
#include <cmath>

#include "measure/edit/name_rules.h"

namespace measure {
namespace {

struct NamedUnit {
  std::string_view name;
  double millimetres;
};

constexpr std::array<NamedUnit, 8> kUnits = {{{"mm", 1.0},
                                              {"cm", 10.0},
                                              {"m", 1000.0},
                                              {"um", 1e-3},
                                              {"\u00B5m", 1e-3},  // micro sign
                                              {"\u03BCm", 1e-3},  // Greek mu
                                              {"in", calib::kMillimetresPerInch},
                                              {"\"", calib::kMillimetresPerInch}}};

calib::Unexpected<calib::Problem> refused(std::string_view text, const std::string& fault) {
  return calib::Unexpected(calib::Problem{in_quotes(text) + " " + fault});
}

struct LeadingNumber {
  double value;
  std::string_view rest;
};

/// A finite number at the front, or nothing.
std::optional<LeadingNumber> leading_number(std::string_view text) {
  double value = 0.0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || !std::isfinite(value)) {
    return std::nullopt;
  }
  return LeadingNumber{value, text.substr(static_cast<std::size_t>(end - text.data()))};
}

}  // namespace

std::optional<double> parse_number(std::string_view text) {
  const auto number = leading_number(text);
  return number && number->rest.empty() ? std::optional(number->value) : std::nullopt;
}

calib::Result<calib::Millimetres, calib::Problem> parse_length(std::string_view text) {
  const auto number = leading_number(text);
  if (!number) {
    return refused(text, "is no length: write a number and its unit, for example 300mm.");
  }
  std::string_view unit = number->rest;
  if (unit.starts_with(',')) {
    return refused(text, "has a decimal comma: write a point, for example 25.4mm.");
  }
  while (unit.starts_with(' ')) {
    unit.remove_prefix(1);
  }
  if (unit.empty()) {
    return refused(
        text, "has no unit: write it as mm, cm, m or in, for example " + std::string(text) + "mm.");
  }
  for (const NamedUnit& known : kUnits) {
    if (unit == known.name) {
      const double length_mm = number->value * known.millimetres;
      if (!std::isfinite(length_mm)) {
        break;
      }
      return calib::Millimetres(length_mm);
    }
  }
  return refused(text, "has a unit that is not known here: use mm, um, cm, m or in.");
}

calib::Result<ScaleRatio, calib::Problem> parse_ratio(std::string_view text) {
  const auto colon = text.find(':');
  const auto first = parse_number(text.substr(0, colon));
  const auto second =
      colon == std::string_view::npos ? std::nullopt : parse_number(text.substr(colon + 1));
  if (!first || !second || !(*first > 0.0) || !(*second > 0.0)) {
    return refused(text, "is no ratio: write it like 1:48.");
  }
  const double denominator = *second / *first;
  if (!std::isfinite(denominator) || !(denominator > 0.0)) {
    return refused(text, "is no ratio that anything is built to: write it like 1:48.");
  }
  return ScaleRatio{denominator, 0.0};
}

calib::Result<std::pair<int, int>, calib::Problem> parse_grid(std::string_view text) {
  const auto cross = text.find('x');
  const auto whole = [](std::string_view part) -> std::optional<int> {
    int value = 0;
    const auto [end, error] = std::from_chars(part.data(), part.data() + part.size(), value);
    const bool is_all = error == std::errc{} && end == part.data() + part.size();
    return is_all && value > 0 ? std::optional(value) : std::nullopt;
  };
  const auto columns = whole(text.substr(0, cross));
  const auto rows = cross == std::string_view::npos ? std::nullopt : whole(text.substr(cross + 1));
  if (!columns || !rows) {
    return refused(text, "is no count of inner corners: write columns x rows like 9x6.");
  }
  return std::pair(*columns, *rows);
}

}  // namespace measure
