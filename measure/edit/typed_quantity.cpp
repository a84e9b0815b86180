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

constexpr double kInchesPerFoot = 12.0;

constexpr std::array<NamedUnit, 10> kUnits = {{{"mm", 1.0},
                                               {"cm", 10.0},
                                               {"m", 1000.0},
                                               {"um", 1e-3},
                                               {"\u00B5m", 1e-3},  // micro sign
                                               {"\u03BCm", 1e-3},  // Greek mu
                                               {"in", calib::kMillimetresPerInch},
                                               {"\"", calib::kMillimetresPerInch},
                                               {"ft", kInchesPerFoot* calib::kMillimetresPerInch},
                                               {"'", kInchesPerFoot* calib::kMillimetresPerInch}}};

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

/// The text with a decimal comma made a point; nothing where the signs contradict each other.
std::optional<std::string> with_point(std::string_view text) {
  std::string point(text);
  const auto comma = point.find(',');
  if (comma == std::string::npos) {
    return point;
  }
  if (point.find(',', comma + 1) != std::string::npos || point.find('.') != std::string::npos) {
    return std::nullopt;
  }
  point[comma] = '.';
  return point;
}

std::string_view without_spaces(std::string_view text) {
  while (text.starts_with(' ')) {
    text.remove_prefix(1);
  }
  return text;
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }

/// "13/16" at the front: two whole numbers.
std::optional<LeadingNumber> leading_fraction(std::string_view text) {
  const auto numerator = leading_number(text);
  if (text.empty() || !is_digit(text.front()) || !numerator || !numerator->rest.starts_with('/')) {
    return std::nullopt;
  }
  const std::string_view below = numerator->rest.substr(1);
  const auto denominator = leading_number(below);
  if (below.empty() || !is_digit(below.front()) || !denominator) {
    return std::nullopt;
  }
  const auto is_whole = [](double value) { return value == std::floor(value) && value < 1e6; };
  if (!is_whole(numerator->value) || !is_whole(denominator->value) || denominator->value == 0.0) {
    return std::nullopt;
  }
  return LeadingNumber{numerator->value / denominator->value, denominator->rest};
}

/// A known unit at the front, the longest that fits, and what follows it.
struct LeadingUnit {
  const NamedUnit* unit;
  std::string_view rest;
};
std::optional<LeadingUnit> leading_unit(std::string_view text) {
  std::optional<LeadingUnit> found;
  for (const NamedUnit& known : kUnits) {
    if (text.starts_with(known.name) && (!found || known.name.size() > found->unit->name.size())) {
      found = LeadingUnit{&known, text.substr(known.name.size())};
    }
  }
  return found;
}

bool takes_fractions(const NamedUnit& unit) {
  return unit.millimetres == calib::kMillimetresPerInch ||
         unit.millimetres == kInchesPerFoot * calib::kMillimetresPerInch;
}

/// One number with its unit at the front: "11 13/16 in", "25 mm".
struct LeadingLength {
  double millimetres;
  const NamedUnit* unit;
  std::string_view rest;
};
calib::Result<LeadingLength, calib::Problem> leading_length(std::string_view whole,
                                                            std::string_view text) {
  double value = 0.0;
  bool has_fraction = false;
  std::string_view rest;
  if (const auto fraction = leading_fraction(text)) {
    value = fraction->value;
    rest = fraction->rest;
    has_fraction = true;
  } else if (const auto number = leading_number(text)) {
    value = number->value;
    rest = number->rest;
    if (rest.starts_with('/')) {
      return refused(whole, "has a fraction that is none: write it like 13/16.");
    }
    if (const auto part = leading_fraction(without_spaces(rest)); part && rest.starts_with(' ')) {
      if (value != std::floor(value) || part->value >= 1.0) {
        return refused(whole, "has a fraction that is none: write it like 11 13/16.");
      }
      value += std::signbit(value) ? -part->value : part->value;
      rest = part->rest;
      has_fraction = true;
    }
  } else {
    return refused(whole, "is no length: write a number and its unit, for example 300mm.");
  }
  rest = without_spaces(rest);
  if (rest.starts_with(',')) {
    return refused(whole, "has a decimal comma: write a point, for example 25.4mm.");
  }
  if (rest.empty()) {
    return refused(whole, "has no unit: write it as mm, cm, m or in, for example " +
                              std::string(whole) + "mm.");
  }
  const auto unit = leading_unit(rest);
  if (!unit) {
    return refused(whole, "has a unit that is not known here: use mm, um, cm, m, in or ft.");
  }
  if (has_fraction && !takes_fractions(*unit->unit)) {
    return refused(whole, "has a fraction, which is for inches and feet: write decimals.");
  }
  const double length_mm = value * unit->unit->millimetres;
  if (!std::isfinite(length_mm)) {
    return refused(whole, "is no length: write a number and its unit, for example 300mm.");
  }
  return LeadingLength{length_mm, unit->unit, unit->rest};
}

}  // namespace

std::optional<double> parse_number(std::string_view text, DecimalSign sign) {
  if (sign == DecimalSign::kPointOrComma) {
    const auto point = with_point(text);
    return point ? parse_number(*point) : std::nullopt;
  }
  const auto number = leading_number(text);
  return number && number->rest.empty() ? std::optional(number->value) : std::nullopt;
}

calib::Result<calib::Millimetres, calib::Problem> parse_length(std::string_view text,
                                                               DecimalSign sign) {
  if (sign == DecimalSign::kPointOrComma) {
    const auto point = with_point(text);
    if (!point) {
      return refused(text,
                     "has two decimal signs: write one point or one comma, and no sign between "
                     "thousands.");
    }
    return parse_length(*point);
  }
  const auto first = leading_length(text, text);
  if (!first) {
    return calib::Unexpected(first.error());
  }
  if (first->rest.empty()) {
    return calib::Millimetres(first->millimetres);
  }
  const double foot_mm = kInchesPerFoot * calib::kMillimetresPerInch;
  if (first->unit->millimetres != foot_mm) {
    return refused(text, "has a unit that is not known here: use mm, um, cm, m, in or ft.");
  }
  const std::string_view inches = without_spaces(first->rest);
  if (inches.empty() || !is_digit(inches.front())) {
    return refused(text, "is no length: write feet and inches like 1 ft 3 3/8 in.");
  }
  const auto second = leading_length(text, inches);
  if (!second) {
    return calib::Unexpected(second.error());
  }
  if (!second->rest.empty() || second->unit->millimetres != calib::kMillimetresPerInch ||
      second->millimetres >= foot_mm) {
    return refused(text, "is no length: write feet and inches like 1 ft 3 3/8 in.");
  }
  return calib::Millimetres(std::signbit(first->millimetres)
                                ? first->millimetres - second->millimetres
                                : first->millimetres + second->millimetres);
}

calib::Result<ScaleRatio, calib::Problem> parse_ratio(std::string_view text, DecimalSign sign) {
  const auto colon = text.find(':');
  const auto first = parse_number(text.substr(0, colon), sign);
  const auto second =
      colon == std::string_view::npos ? std::nullopt : parse_number(text.substr(colon + 1), sign);
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
