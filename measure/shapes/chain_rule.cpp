#include "measure/shapes/chain_rule.h"

#include <cmath>

#include <Eigen/Geometry>

namespace measure::internal {

using Eigen::Matrix3d;

namespace {

/// [v]×, the matrix of v × ….
Matrix3d cross_matrix(const Eigen::Vector3d& v) {
  Matrix3d m;
  m << 0, -v.z(), v.y(), v.z(), 0, -v.x(), -v.y(), v.x(), 0;
  return m;
}

}  // namespace

Scalar operator+(const Scalar& a, const Scalar& b) { return {a.value + b.value, a.by + b.by}; }
Scalar operator-(const Scalar& a, const Scalar& b) { return {a.value - b.value, a.by - b.by}; }
Scalar operator*(const Scalar& a, const Scalar& b) {
  return {a.value * b.value, a.value * b.by + b.value * a.by};
}
Scalar operator*(double factor, const Scalar& a) { return {factor * a.value, factor * a.by}; }
Scalar operator/(const Scalar& a, const Scalar& b) {
  const double quotient = a.value / b.value;
  return {quotient, (a.by - quotient * b.by) / b.value};
}

Vector operator+(const Vector& a, const Vector& b) { return {a.value + b.value, a.by + b.by}; }
Vector operator-(const Vector& a, const Vector& b) { return {a.value - b.value, a.by - b.by}; }
Vector operator*(double factor, const Vector& a) { return {factor * a.value, factor * a.by}; }
Vector operator*(const Scalar& factor, const Vector& a) {
  return {factor.value * a.value, factor.value * a.by + a.value * factor.by};
}
Scalar dot(const Vector& a, const Vector& b) {
  return {a.value.dot(b.value), a.value.transpose() * b.by + b.value.transpose() * a.by};
}
Vector cross(const Vector& a, const Vector& b) {
  return {a.value.cross(b.value), cross_matrix(a.value) * b.by - cross_matrix(b.value) * a.by};
}
Scalar length(const Vector& a) {
  const double size = a.value.norm();
  if (!(size > 0)) return {0, Eigen::RowVectorXd::Zero(a.by.cols())};
  return {size, a.value.transpose() / size * a.by};
}
Vector unit(const Vector& a) {
  const double size = a.value.norm();
  const Eigen::Vector3d direction = a.value / size;
  return {direction, (a.by - direction * (direction.transpose() * a.by)) / size};
}
Vector across(const Vector& a, const Vector& direction) {
  return a - dot(a, direction) * direction;
}
Scalar arc_tangent(const Scalar& sine, const Scalar& cosine) {
  const double squares = sine.value * sine.value + cosine.value * cosine.value;
  return {std::atan2(sine.value, cosine.value),
          (cosine.value * sine.by - sine.value * cosine.by) / squares};
}
Scalar magnitude(const Scalar& a) { return a.value < 0 ? -1.0 * a : a; }

Vector Inputs::position(std::size_t input, const Form& form) const {
  Vector result{form.position, Eigen::Matrix3Xd::Zero(3, columns_)};
  result.by.middleCols<3>(at(input)).setIdentity();
  return result;
}

Vector Inputs::direction(std::size_t input, const Form& form) const {
  Vector result{form.direction, Eigen::Matrix3Xd::Zero(3, columns_)};
  result.by.middleCols<3>(at(input) + 3) =
      Matrix3d::Identity() - form.direction * form.direction.transpose();
  return result;
}

Vector Inputs::middle(std::size_t input, const Form& form) const {
  return position(input, form) + 0.5 * (form.from + form.to) * direction(input, form);
}

Scalar Inputs::radius(std::size_t input, const Form& form) const {
  Scalar result{form.radius, Eigen::RowVectorXd::Zero(columns_)};
  result.by[at(input) + 6] = 1;
  return result;
}

Scalar Inputs::half_angle(std::size_t input, const Form& form) const {
  Scalar result{form.half_angle, Eigen::RowVectorXd::Zero(columns_)};
  result.by[at(input) + 7] = 1;
  return result;
}

}  // namespace measure::internal
