// Inside the room: the light of a wedge under a Gaussian blur.
#pragma once

#include <array>

#include <Eigen/Core>

namespace measure {

/// A wedge with its apex, swept from the first direction to the second by the opening angle.
struct Wedge {
  Eigen::Vector2d apex_px;
  double first_rad = 0.0;    ///< direction of the first edge, from the x axis towards the y axis
  double opening_rad = 1.0;  ///< above 0, below π
  double blur_px = 1.0;      ///< standard deviation
  /// 1/px of each edge, to the left of its direction: lenses bend edges by a known amount.
  std::array<double, 2> curvature_per_px{};
};

/// Part of the blurred light that comes from inside, with its derivatives by apex x, apex y, first
/// direction, second direction and ln blur.
///
/// With a and b the distances from both edges over the blur and ρ = −cos(opening), the part is
/// Φ₂(a, b; ρ) = Φ(a)Φ(b) + (1/2π)∫₀^{asin ρ} exp(−(a² + b² − 2ab sin t)/(2cos² t)) dt
/// (R. L. Plackett, Biometrika 41, 1954; from memory).
class BlurredWedge {
 public:
  explicit BlurredWedge(const Wedge& wedge);

  struct Value {
    double part = 0.0;
    Eigen::Matrix<double, 5, 1> slope;
  };
  [[nodiscard]] Value at(const Eigen::Vector2d& place) const;
  /// Distance from the nearer edge's line, towards the inside.
  [[nodiscard]] double nearest_px(const Eigen::Vector2d& place) const;

 private:
  Wedge wedge_;
  Eigen::Vector2d along_[2], inward_[2];
  double rho_ = 0.0, inverse_root_ = 1.0;
  std::array<double, 20> sine_{}, half_inverse_cos2_{}, weight_{};
};

}  // namespace measure
