#include "measure/refine/lens_bend.h"

#include <cmath>

#include <Eigen/Geometry>

#include "calib/camera/projection.h"

namespace measure {

double lens_bend_per_px(const std::optional<calib::Intrinsics>& camera,
                        const Eigen::Vector2d& at_px, double direction_rad) {
  if (!camera) {
    return 0.0;
  }
  // Over this length the bend of any usable lens is far below a pixel and the arc a parabola.
  constexpr double kHalf_px = 30.0;
  const Eigen::Vector2d along(std::cos(direction_rad), std::sin(direction_rad));
  const auto low = calib::unproject(*camera, at_px - kHalf_px * along);
  const auto high = calib::unproject(*camera, at_px + kHalf_px * along);
  if (!low || !high) {
    return 0.0;
  }
  const Eigen::Vector2d middle = 0.5 * (*low + *high);
  const Eigen::Vector2d middle_px = calib::project(*camera, middle.homogeneous());
  const Eigen::Vector2d left(-along.y(), along.x());
  // The chord's middle is off the arc by ½ κ h², away from the side to which it bends.
  return -2.0 * left.dot(middle_px - at_px) / (kHalf_px * kHalf_px);
}

}  // namespace measure
