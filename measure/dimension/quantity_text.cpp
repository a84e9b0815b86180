#include "measure/dimension/quantity_text.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numeric>
#include <utility>

#include "calib/base/units.h"

namespace measure {
namespace {

/// Decimal places that show `u` with two significant digits; negative: tens, hundreds.
int places_of(double u) {
  int places = 1 - static_cast<int>(std::floor(std::log10(u)));
  // 0.0996 rounds to 0.10: the first digit moves up a place.
  const double scale = std::pow(10.0, places);
  if (std::round(u * scale) >= 100) --places;
  return places;
}

std::string fixed(double value, int places) {
  if (places < 0) {
    const double unit = std::pow(10.0, -places);
    value = std::round(value / unit) * unit;
    places = 0;
  }
  char text[64];
  std::snprintf(text, sizeof text, "%.*f", std::min(places, 15), value);
  // "-0.00" says nothing but puzzles.
  if (std::string(text).find_first_not_of("-0.") == std::string::npos && text[0] == '-')
    return text + 1;
  return text;
}

ValueText decimal_text(double value, double U, const char* unit) {
  if (U > 0 && std::isfinite(U)) {
    const int places = places_of(U);
    return {fixed(value, places), fixed(U, places), unit};
  }
  return {fixed(value, 6), "", unit};
}

/// Of what is below a picometre, or a millionth of a millionth of a degree, nothing is said.
constexpr int kMostPlaces = 12;

ComparedTexts compared(double first, double second, const char* unit) {
  int places_first = places_of(first), places_second = places_of(second);
  while (fixed(first, places_first) == fixed(second, places_second) && places_first < kMostPlaces) {
    places_first = places_second = std::max(places_first, places_second) + 1;
  }
  return {fixed(first, places_first), fixed(second, places_second), unit};
}

/// The unit in which uncertainties of lengths are given, and its size in mm.
std::pair<double, const char*> uncertainty_unit(TextUnit unit) {
  switch (unit) {
    case TextUnit::kMm:
      return {1.0, "mm"};
    case TextUnit::kCm:
      return {10.0, "cm"};
    case TextUnit::kM:
      return {1000.0, "m"};
    case TextUnit::kInch:
    case TextUnit::kInchFraction:
    case TextUnit::kFootInch:
      break;
  }
  return {calib::kMillimetresPerInch, "in"};
}

struct Fraction {
  long whole = 0, numerator = 0, denominator = 1;
};

Fraction nearest_fraction(double inches, int denominator) {
  const long parts = std::lround(inches * denominator);
  Fraction f{parts / denominator, parts % denominator, denominator};
  if (f.numerator != 0) {
    const long common = std::gcd(f.numerator, f.denominator);
    f.numerator /= common;
    f.denominator /= common;
  }
  return f;
}

std::string fraction_text(const Fraction& f) {
  if (f.numerator == 0) return std::to_string(f.whole);
  const std::string part = std::to_string(f.numerator) + "/" + std::to_string(f.denominator);
  return f.whole == 0 ? part : std::to_string(f.whole) + " " + part;
}

}  // namespace

std::string ValueText::joined() const {
  const std::string space = unit.empty() ? "" : " ";
  return uncertainty.empty() ? value + space + unit : value + " ± " + uncertainty + space + unit;
}

ValueText plain_text(double value, double U) { return decimal_text(value, U, ""); }

ComparedTexts compared_lengths(double first_mm, double second_mm, TextUnit unit) {
  const auto [size_mm, name] = uncertainty_unit(unit);
  return compared(first_mm / size_mm, second_mm / size_mm, name);
}

ComparedTexts compared_angles(double first_rad, double second_rad) {
  return compared(first_rad * calib::kDegreesPerRadian, second_rad * calib::kDegreesPerRadian, "°");
}

ValueText angle_text(double value_rad, double U_rad) {
  return decimal_text(value_rad * calib::kDegreesPerRadian, U_rad * calib::kDegreesPerRadian, "°");
}

ValueText length_text(double value_mm, double U_mm, TextUnit unit, int denominator) {
  const double inches = value_mm / calib::kMillimetresPerInch,
               U_inches = U_mm / calib::kMillimetresPerInch;
  const std::string sign = value_mm < 0 ? "-" : "";
  switch (unit) {
    case TextUnit::kMm:
      return decimal_text(value_mm, U_mm, "mm");
    case TextUnit::kCm:
      return decimal_text(value_mm / 10, U_mm / 10, "cm");
    case TextUnit::kM:
      return decimal_text(value_mm / 1000, U_mm / 1000, "m");
    case TextUnit::kInch:
      return decimal_text(inches, U_inches, "in");
    case TextUnit::kInchFraction: {
      const Fraction f = nearest_fraction(std::abs(inches), denominator);
      return {sign + fraction_text(f), decimal_text(0, U_inches, "").uncertainty, "in"};
    }
    case TextUnit::kFootInch: {
      // Rounded to the fraction first: 11 63.9/64 in must become 1 ft, not 0 ft 12 in.
      const long parts = std::lround(std::abs(inches) * denominator);
      const long feet = parts / (12L * denominator);
      const Fraction f = nearest_fraction(
          static_cast<double>(parts - feet * 12L * denominator) / denominator, denominator);
      return {sign + std::to_string(feet) + " ft " + fraction_text(f),
              decimal_text(0, U_inches, "").uncertainty, "in"};
    }
  }
  return {};
}

ValueText area_text(double value_mm2, double U_mm2, TextUnit unit) {
  constexpr double kSquareInch = calib::kMillimetresPerInch * calib::kMillimetresPerInch;
  switch (unit) {
    case TextUnit::kMm:
      return decimal_text(value_mm2, U_mm2, "mm²");
    case TextUnit::kCm:
      return decimal_text(value_mm2 / 100, U_mm2 / 100, "cm²");
    case TextUnit::kM:
      return decimal_text(value_mm2 / 1e6, U_mm2 / 1e6, "m²");
    case TextUnit::kInch:
    case TextUnit::kInchFraction:
      return decimal_text(value_mm2 / kSquareInch, U_mm2 / kSquareInch, "in²");
    case TextUnit::kFootInch:
      return decimal_text(value_mm2 / (144 * kSquareInch), U_mm2 / (144 * kSquareInch), "ft²");
  }
  return {};
}

std::string result_text(const DimensionResult& result, TextUnit unit, int denominator) {
  const auto text = [&](double value, double U) {
    switch (result.unit) {
      case DimensionUnit::kMillimetre:
        return length_text(value, U, unit, denominator);
      case DimensionUnit::kSquareMillimetre:
        return area_text(value, U, unit);
      case DimensionUnit::kRadian:
        return angle_text(value, U);
      case DimensionUnit::kRatio:
        return plain_text(value, U);
    }
    return ValueText{};
  };
  if (!result.problem.empty()) return "—";
  if (!result.interval) return text(result.value, result.U).joined();
  const ValueText low = text(result.interval->first, result.U),
                  high = text(result.interval->second, result.U);
  return low.value + " … " + high.value + (high.unit.empty() ? "" : " " + high.unit) + " (95.45 %)";
}

std::optional<TextUnit> parse_text_unit(const std::string& word) {
  if (word == "mm") return TextUnit::kMm;
  if (word == "cm") return TextUnit::kCm;
  if (word == "m") return TextUnit::kM;
  if (word == "in") return TextUnit::kInch;
  if (word == "in-fraction") return TextUnit::kInchFraction;
  if (word == "ft-in") return TextUnit::kFootInch;
  return std::nullopt;
}

}  // namespace measure
