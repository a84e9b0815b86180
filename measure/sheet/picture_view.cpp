#include "measure/sheet/picture_view.h"

#include <algorithm>
#include <cmath>

namespace measure {
namespace {

int turns_of(int exif_orientation) {
  switch (exif_orientation) {
    case 3:
      return 2;
    case 6:
      return 1;
    case 8:
      return 3;
    default:
      return 0;
  }
}

constexpr double kRoomAround = 0.16;  // of the extent, on each side
constexpr double kSmallestShare =
    0.34;                            // of the photo's longer side: what surrounds it tells where
constexpr double kPageAspect = 1.5;  // two pictures of this shape fill a page

}  // namespace

PictureView::PictureView(const OrientedPhoto& photo, const calib::ImageSize& stored,
                         const PhotoPart& part, int exif_orientation)
    : photo_(photo), stored_(stored), part_(part), turns_(turns_of(exif_orientation)) {
  scale_ = kPictureSide / std::max(part.width, part.height);
  size_ = scale_ * Eigen::Vector2d(part.width, part.height);
  if (turns_ % 2 == 1) std::swap(size_.x(), size_.y());
}

bool PictureView::is_part() const {
  return part_.width != stored_.width || part_.height != stored_.height;
}

Eigen::Vector2d PictureView::from_photo(const Eigen::Vector2d& stored_px) const {
  const Eigen::Vector2d in_part = scale_ * (stored_px + Eigen::Vector2d::Constant(0.5) -
                                            Eigen::Vector2d(part_.left, part_.top));
  switch (turns_) {
    case 1:
      return {size_.x() - in_part.y(), in_part.x()};
    case 2:
      return size_ - in_part;
    case 3:
      return {in_part.y(), size_.y() - in_part.x()};
    default:
      return in_part;
  }
}

std::optional<Eigen::Vector2d> PictureView::project(const Eigen::Vector3d& place) const {
  const auto px = measure::project(photo_, place);
  if (!px) return std::nullopt;
  return from_photo(*px);
}

std::vector<Eigen::Vector2d> PictureView::line(const Eigen::Vector3d& from,
                                               const Eigen::Vector3d& to) const {
  const auto first = project(from), last = project(to);
  if (!first || !last) return {};
  // A lens bends a line over the whole picture by some ten units: pieces of a thirtieth depart from
  // it by a hundredth of a unit.
  const double length = (*last - *first).norm();
  const int pieces = std::clamp(static_cast<int>(std::ceil(length / 50.0)), 1, 64);
  std::vector<Eigen::Vector2d> curve{*first};
  for (int i = 1; i < pieces; ++i) {
    const auto between = project(from + (static_cast<double>(i) / pieces) * (to - from));
    if (!between) return {};
    curve.push_back(*between);
  }
  curve.push_back(*last);
  return curve;
}

Eigen::Vector3d PictureView::to_camera(const Eigen::Vector3d& place) const {
  return photo_.pose.centre() - place;
}

PhotoPart part_around(const std::vector<Eigen::Vector2d>& places_px,
                      const calib::ImageSize& stored) {
  const PhotoPart whole{0, 0, stored.width, stored.height};
  if (places_px.empty()) return whole;
  Eigen::Vector2d low = places_px.front(), high = places_px.front();
  for (const Eigen::Vector2d& place : places_px) {
    low = low.cwiseMin(place);
    high = high.cwiseMax(place);
  }
  const double longer_stored = std::max(stored.width, stored.height);
  const double room = kRoomAround * std::max((high - low).maxCoeff(), 0.3 * longer_stored);
  Eigen::Vector2d size = high - low + Eigen::Vector2d::Constant(2 * room);
  const double smallest = kSmallestShare * longer_stored;
  const bool wide = stored.width >= stored.height;
  // The longer side of the part is that of the photo, so that turned photos stay upright ones.
  double &longer = wide ? size.x() : size.y(), &shorter = wide ? size.y() : size.x();
  longer = std::max({longer, smallest, kPageAspect * shorter});
  shorter = std::max(shorter, longer / kPageAspect);
  const Eigen::Vector2d limit(stored.width, stored.height);
  size = size.cwiseMin(limit);
  Eigen::Vector2d corner = (low + high - size) / 2 + Eigen::Vector2d::Constant(0.5);
  corner = corner.cwiseMin(limit - size).cwiseMax(0.0);
  PhotoPart part;
  part.left = static_cast<int>(std::floor(corner.x()));
  part.top = static_cast<int>(std::floor(corner.y()));
  part.width = std::min(static_cast<int>(std::ceil(size.x())), stored.width - part.left);
  part.height = std::min(static_cast<int>(std::ceil(size.y())), stored.height - part.top);
  return part;
}

}  // namespace measure
