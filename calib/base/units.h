// Units as types: a pixel cannot stand where a millimetre belongs, nor one scale's length where
// another's does.
#pragma once

#include <compare>
#include <numbers>

namespace calib {

/// A number with its unit in the type; arithmetic stays within the unit.
template <typename Unit>
class Quantity {
 public:
  constexpr Quantity() = default;
  constexpr explicit Quantity(double value) : value_(value) {}
  [[nodiscard]] constexpr double value() const { return value_; }

  friend constexpr Quantity operator+(Quantity a, Quantity b) {
    return Quantity(a.value_ + b.value_);
  }
  friend constexpr Quantity operator-(Quantity a, Quantity b) {
    return Quantity(a.value_ - b.value_);
  }
  friend constexpr Quantity operator*(double s, Quantity a) { return Quantity(s * a.value_); }
  friend constexpr Quantity operator*(Quantity a, double s) { return Quantity(s * a.value_); }
  friend constexpr Quantity operator/(Quantity a, double s) { return Quantity(a.value_ / s); }
  friend constexpr double operator/(Quantity a, Quantity b) { return a.value_ / b.value_; }
  friend constexpr Quantity operator-(Quantity a) { return Quantity(-a.value_); }
  friend constexpr auto operator<=>(Quantity, Quantity) = default;

 private:
  double value_ = 0.0;
};

using Millimetres = Quantity<struct MillimetreUnit>;  ///< on the original as it stands: model scale
using FullScaleMillimetres = Quantity<struct FullScaleMillimetreUnit>;  ///< on what it stands for
using ReplicaMillimetres = Quantity<struct ReplicaMillimetreUnit>;      ///< on what is built
using SurveyUnits = Quantity<struct SurveyUnit>;  ///< lengths of a survey that has no scale bar
using Pixels = Quantity<struct PixelUnit>;
using Radians = Quantity<struct RadianUnit>;
using DegreesCelsius = Quantity<struct DegreeCelsiusUnit>;

inline constexpr double kDegreesPerRadian = 180.0 / std::numbers::pi;
/// Exactly, by the international yard and pound agreement of 1959 (from memory).
inline constexpr double kMillimetresPerInch = 25.4;
/// Reference temperature of lengths: ISO 1.
inline constexpr DegreesCelsius kReferenceTemperature{20.0};

}  // namespace calib
