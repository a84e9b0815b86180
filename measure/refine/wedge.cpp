#include "measure/refine/wedge.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "measure/refine/edge_profile.h"

namespace measure {
namespace {

// Gauss–Legendre on (−1, 1), 20 nodes, the positive half.
constexpr std::array<double, 10> kNode = {
    0.9931285991850949, 0.9639719272779138, 0.9122344282513259, 0.8391169718222188,
    0.7463319064601508, 0.6360536807265150, 0.5108670019508271, 0.3737060887154196,
    0.2277858511416451, 0.07652652113349733};
constexpr std::array<double, 10> kWeight = {
    0.01761400713915212, 0.04060142980038694, 0.06267204833410906, 0.08327674157670475,
    0.1019301198172404,  0.1181945319615184,  0.1316886384491766,  0.1420961093183821,
    0.1491729864726037,  0.1527533871307259};

}  // namespace

BlurredWedge::BlurredWedge(const Wedge& wedge) : wedge_(wedge) {
  const double second_rad = wedge.first_rad + wedge.opening_rad;
  along_[0] = {std::cos(wedge.first_rad), std::sin(wedge.first_rad)};
  along_[1] = {std::cos(second_rad), std::sin(second_rad)};
  inward_[0] = {-along_[0].y(), along_[0].x()};
  inward_[1] = {along_[1].y(), -along_[1].x()};
  rho_ = std::clamp(-std::cos(wedge.opening_rad), -0.9999, 0.9999);
  inverse_root_ = 1.0 / std::sqrt(1.0 - rho_ * rho_);
  const double end = std::asin(rho_);
  for (std::size_t i = 0; i < kNode.size(); ++i) {
    for (const int side : {0, 1}) {
      const double t = 0.5 * end * (1.0 + (side == 0 ? kNode[i] : -kNode[i]));
      const std::size_t at = 2 * i + static_cast<std::size_t>(side);
      sine_[at] = std::sin(t);
      half_inverse_cos2_[at] = 0.5 / (std::cos(t) * std::cos(t));
      weight_[at] = kWeight[i] * 0.5 * end * 0.5 * std::numbers::inv_pi;
    }
  }
}

BlurredWedge::Value BlurredWedge::at(const Eigen::Vector2d& place) const {
  const Eigen::Vector2d offset = place - wedge_.apex_px;
  double distance[2];
  for (int k = 0; k < 2; ++k) {
    const double t = along_[k].dot(offset);
    const double bend = 0.5 * wedge_.curvature_per_px[static_cast<std::size_t>(k)] * t * t;
    // Curvature is to the left of the direction: inward of the first edge, outward of the second.
    distance[k] = (inward_[k].dot(offset) + (k == 0 ? -bend : bend)) / wedge_.blur_px;
  }
  const double a = distance[0], b = distance[1];
  const auto pa = normal_at(a), pb = normal_at(b);
  Value value;
  value.part = pa.part * pb.part;
  const double by_a =
      pa.density == 0.0 ? 0.0 : pa.density * normal_at((b - rho_ * a) * inverse_root_).part;
  const double by_b =
      pb.density == 0.0 ? 0.0 : pb.density * normal_at((a - rho_ * b) * inverse_root_).part;
  double by_rho = 0.0;
  const double squares = a * a + b * b, product = 2.0 * a * b;
  // The exponent is largest in size at ρ's end or at 0: far out both terms vanish.
  const double at_end = (squares - product * rho_) * 0.5 * inverse_root_ * inverse_root_;
  if (std::min(0.5 * squares, at_end) < 14.0) {
    for (std::size_t i = 0; i < weight_.size(); ++i) {
      value.part += weight_[i] * std::exp((product * sine_[i] - squares) * half_inverse_cos2_[i]);
    }
    by_rho = 0.5 * std::numbers::inv_pi * inverse_root_ * std::exp(-at_end);
  }
  const double inverse_blur = 1.0 / wedge_.blur_px;
  const Eigen::Vector2d by_place = -(by_a * inward_[0] + by_b * inward_[1]) * inverse_blur;
  const double by_opening = by_rho * std::sin(wedge_.opening_rad);
  value.slope << by_place, -by_a * along_[0].dot(offset) * inverse_blur - by_opening,
      by_b * along_[1].dot(offset) * inverse_blur + by_opening, -(by_a * a + by_b * b);
  return value;
}

double BlurredWedge::nearest_px(const Eigen::Vector2d& place) const {
  const Eigen::Vector2d offset = place - wedge_.apex_px;
  double nearest = 1e9;
  for (const int k : {0, 1}) {
    // Behind the apex the edge has ended.
    const double t = std::min(along_[k].dot(offset), 0.0);
    nearest = std::min(nearest, std::hypot(inward_[k].dot(offset), t));
  }
  return nearest;
}

}  // namespace measure
