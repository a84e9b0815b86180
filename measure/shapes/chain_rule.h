// Numbers and vectors that carry their derivatives by the inputs, and the rules of the few
// operations that measurands and constructions consist of. For this room's .cpp files.
#pragma once

#include <Eigen/Core>

#include "measure/shapes/form.h"

namespace measure::internal {

struct Scalar {
  double value = 0.0;
  Eigen::RowVectorXd by;  ///< 1 × inputs
};

struct Vector {
  Eigen::Vector3d value = Eigen::Vector3d::Zero();
  Eigen::Matrix3Xd by;  ///< 3 × inputs
};

[[nodiscard]] Scalar operator+(const Scalar& a, const Scalar& b);
[[nodiscard]] Scalar operator-(const Scalar& a, const Scalar& b);
[[nodiscard]] Scalar operator*(const Scalar& a, const Scalar& b);
[[nodiscard]] Scalar operator*(double factor, const Scalar& a);
[[nodiscard]] Scalar operator/(const Scalar& a, const Scalar& b);

[[nodiscard]] Vector operator+(const Vector& a, const Vector& b);
[[nodiscard]] Vector operator-(const Vector& a, const Vector& b);
[[nodiscard]] Vector operator*(double factor, const Vector& a);
[[nodiscard]] Vector operator*(const Scalar& factor, const Vector& a);
[[nodiscard]] Scalar dot(const Vector& a, const Vector& b);
[[nodiscard]] Vector cross(const Vector& a, const Vector& b);
/// Zero derivative at zero length, where none exists.
[[nodiscard]] Scalar length(const Vector& a);
/// Of a vector that has a length.
[[nodiscard]] Vector unit(const Vector& a);
/// The part of a at right angles to a unit vector.
[[nodiscard]] Vector across(const Vector& a, const Vector& direction);
/// The angle of (cosine, sine), −π to π; they need not be normalised.
[[nodiscard]] Scalar arc_tangent(const Scalar& sine, const Scalar& cosine);
[[nodiscard]] Scalar magnitude(const Scalar& a);

/// Derivatives by the numbers of `count` forms, and what each of them starts with.
class Inputs {
 public:
  explicit Inputs(std::size_t count) : columns_(kFormSize * static_cast<Eigen::Index>(count)) {}
  [[nodiscard]] Vector position(std::size_t input, const Form& form) const;
  /// Follows tangentially: it stays unit length.
  [[nodiscard]] Vector direction(std::size_t input, const Form& form) const;
  [[nodiscard]] Vector middle(std::size_t input, const Form& form) const;
  [[nodiscard]] Scalar radius(std::size_t input, const Form& form) const;
  [[nodiscard]] Scalar half_angle(std::size_t input, const Form& form) const;
  [[nodiscard]] Eigen::Index columns() const { return columns_; }

 private:
  [[nodiscard]] Eigen::Index at(std::size_t input) const {
    return kFormSize * static_cast<Eigen::Index>(input);
  }
  Eigen::Index columns_;
};

}  // namespace measure::internal
