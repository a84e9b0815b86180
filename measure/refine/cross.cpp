#include "measure/refine/cross.h"

#include <cmath>

#include "calib/board/refine_corner.h"

namespace measure {
namespace {

MarkRefusal refusal_of(calib::RefineRefusal refusal) {
  switch (refusal) {
    case calib::RefineRefusal::kLeavesPhoto:
      return MarkRefusal::kLeavesPhoto;
    case calib::RefineRefusal::kLowContrast:
      return MarkRefusal::kLowContrast;
    case calib::RefineRefusal::kNoCross:
      return MarkRefusal::kOtherShape;
    case calib::RefineRefusal::kWouldJump:
      return MarkRefusal::kWouldJump;
  }
  return MarkRefusal::kOtherShape;
}

}  // namespace

Refinement refine_cross(const PhotoWindow& photo, const Eigen::Vector2d& position_px,
                        const RefineOptions& options) {
  const Eigen::Vector2d offset = photo.offset_px.cast<double>();
  const auto cross = calib::refine_cross(photo.pixels, position_px - offset, options.radius_px);
  if (!cross) {
    return calib::Unexpected(refusal_of(cross.error()));
  }
  const double unit = photo.pixels.depth() == CV_16U ? 257.0 : 1.0;
  RefinedMark mark;
  mark.shape = MarkShape::kCross;
  mark.position_px = cross->position_px + offset;
  mark.covariance_px2 = cross->covariance_px2;
  mark.contrast = cross->contrast / unit;
  mark.misfit = cross->noise / unit;
  mark.blur_px = cross->blur_px;
  DrawnEdges drawn;
  for (const std::size_t k : {0U, 1U}) {
    const Eigen::Vector2d along =
        cross->reach_px[k] *
        Eigen::Vector2d(std::cos(cross->angle_rad[k]), std::sin(cross->angle_rad[k]));
    drawn.edge[k] = {mark.position_px - along, mark.position_px + along};
  }
  mark.drawing = drawn;
  return mark;
}

}  // namespace measure
