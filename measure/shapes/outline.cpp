// The area inside an outline.
#include <vector>

#include <Eigen/Eigenvalues>

#include "measure/shapes/measurand_parts.h"

namespace measure {

using calib::Unexpected;
using Eigen::Vector2d;
using internal::Inputs;
using internal::Vector;

namespace {

/// Below this share of its extent an outline has no width: far below any measurement.
constexpr double kNoWidth = 1e-7;

double side_of(const Vector2d& a, const Vector2d& b, const Vector2d& p) {
  return (b - a).x() * (p - a).y() - (b - a).y() * (p - a).x();
}

bool cross(const Vector2d& a, const Vector2d& b, const Vector2d& c, const Vector2d& d) {
  return side_of(a, b, c) * side_of(a, b, d) < 0 && side_of(c, d, a) * side_of(c, d, b) < 0;
}

bool crosses_itself(const std::vector<Vector2d>& outline) {
  const std::size_t n = outline.size();
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = i + 2; j < n; ++j) {
      if (cross(outline[i], outline[i + 1], outline[j], outline[(j + 1) % n])) return true;
    }
  }
  return false;
}

}  // namespace

MeasurandResult outline_area(std::span<const Form> places) {
  const std::size_t n = places.size();
  if (n < 3) return Unexpected(ShapeError::kOutlineTooFew);
  if (!internal::all_places(places)) return Unexpected(ShapeError::kNeedsPlace);
  Eigen::Vector3d middle = Eigen::Vector3d::Zero();
  for (const Form& place : places) middle += place.position / static_cast<double>(n);
  Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
  for (const Form& place : places)
    scatter += (place.position - middle) * (place.position - middle).transpose();
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(scatter);
  if (!(eigen.eigenvalues()[1] > kNoWidth * kNoWidth * eigen.eigenvalues()[2]) ||
      !(eigen.eigenvalues()[2] > 1e-18 * middle.squaredNorm()))
    return Unexpected(ShapeError::kOutlineWithoutArea);
  std::vector<Vector2d> flat;
  for (const Form& place : places)
    flat.emplace_back(eigen.eigenvectors().rightCols<2>().transpose() * (place.position - middle));
  if (crosses_itself(flat)) return Unexpected(ShapeError::kOutlineCrossesItself);

  // From one of the places: the area does not depend on where its triangles meet, and a near place
  // keeps its digits.
  const Inputs inputs(n);
  const Vector start = inputs.position(0, places[0]);
  Vector area{Eigen::Vector3d::Zero(), Eigen::Matrix3Xd::Zero(3, inputs.columns())};
  for (std::size_t i = 1; i + 1 < n; ++i) {
    area = area + 0.5 * cross(inputs.position(i, places[i]) - start,
                              inputs.position(i + 1, places[i + 1]) - start);
  }
  Measurand result = internal::length_measurand(area);
  if (!(result.value > kNoWidth * eigen.eigenvalues()[2]))
    return Unexpected(ShapeError::kOutlineWithoutArea);
  result.length_exponent = 2;
  return result;
}

}  // namespace measure
