#include "measure/live/predict.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include <Eigen/Eigenvalues>

namespace measure {
namespace {

/// Within this of a direction from which it was marked, a place is most often in sight; beyond the
/// wide one, on another side of the original.
constexpr double kNearDirection = 40 * std::numbers::pi / 180;
constexpr double kOtherSide = 95 * std::numbers::pi / 180;

}  // namespace

Predictor::Predictor(const Survey& survey, const Dossier& dossier)
    : survey_(survey), dossier_(dossier) {
  Eigen::Vector3d centre = Eigen::Vector3d::Zero();
  for (const PointReport& point : survey.report().points) {
    if (point.placed) points_.emplace(point.name, point.position);
  }
  for (const auto& [name, position] : points_) {
    centre += position / static_cast<double>(points_.size());
  }
  double square = 0;
  for (const auto& [name, position] : points_) square += (position - centre).squaredNorm();
  if (!points_.empty()) radius_ = std::sqrt(square / static_cast<double>(points_.size()));
  for (const Photo& photo : dossier.photos) {
    const auto oriented = oriented_photo(survey, photo.name);
    if (!oriented) continue;
    photos_.emplace(photo.name,
                    PhotoGeometry{*oriented, oriented->pose.rotation_matrix(), photo.size, {}});
  }
  for (const Mark& mark : dossier.marks) {
    if (mark.set_aside) continue;
    marks_[mark.point].push_back(&mark);
    const auto photo = photos_.find(mark.photo);
    const auto point = points_.find(mark.point);
    if (photo == photos_.end() || point == points_.end()) continue;
    const Eigen::Vector3d seen =
        photo->second.rotation * point->second + photo->second.oriented.pose.translation;
    photo->second.marked.push_back({mark.position_px, seen.z(), mark.point});
  }
}

Sight Predictor::judge(const PhotoGeometry& photo, const std::string& point,
                       const Eigen::Vector3d& position, std::string* reason) const {
  const auto say = [&](const char* words) {
    if (reason) *reason = words;
  };
  const auto at = project(photo.oriented, position);
  if (!at || at->x() < 0 || at->y() < 0 || at->x() > photo.size.width - 1 ||
      at->y() > photo.size.height - 1) {
    say(at ? "does not reach there: the place lies outside its frame"
           : "looks the other way: the place lies behind it or far outside its frame");
    return Sight::kOutside;
  }
  const auto marks = marks_.find(point);
  double nearest = std::numbers::pi;
  const Eigen::Vector3d to_camera = (photo.oriented.pose.centre() - position).normalized();
  if (marks != marks_.end()) {
    for (const Mark* mark : marks->second) {
      const auto other = photos_.find(mark->photo);
      if (other == photos_.end()) continue;
      const Eigen::Vector3d direction =
          (other->second.oriented.pose.centre() - position).normalized();
      nearest = std::min(nearest, std::acos(std::clamp(direction.dot(to_camera), -1.0, 1.0)));
    }
  }
  // Marked points close by in the photo and well before the place: something stands in the way.
  const double depth = (photo.rotation * position + photo.oriented.pose.translation).z();
  const double scale_px = photo.oriented.camera.fx / depth;  // px per unit of length
  int before = 0, beside = 0;
  for (const Neighbour& other : photo.marked) {
    if (other.point == point) continue;
    if ((other.position_px - *at).norm() > 0.25 * radius_ * scale_px) continue;
    ++beside;
    if (other.depth < depth - 0.35 * radius_) ++before;
  }
  if (nearest > kOtherSide) {
    say("looks at another side: the point was marked from directions far from this one");
    return Sight::kHidden;
  }
  if (nearest > kNearDirection && beside >= 2 && 2 * before > beside) {
    say("shows other points that stand before this one");
    return Sight::kHidden;
  }
  if (nearest < kNearDirection) {
    say("should show it: it was marked from a direction close to this one");
    return Sight::kLikely;
  }
  say("may show it");
  return Sight::kUnclear;
}

Sight Predictor::sight(const std::string& photo, const std::string& point) const {
  const auto p = photos_.find(photo);
  const auto x = points_.find(point);
  if (p == photos_.end() || x == points_.end()) return Sight::kUnknown;
  return judge(p->second, point, x->second, nullptr);
}

PredictedPlace Predictor::predict(const std::string& photo, const std::string& point) const {
  PredictedPlace place;
  const auto p = photos_.find(photo);
  if (p == photos_.end()) {
    place.reason = "is not oriented yet";
    return place;
  }
  const auto x = points_.find(point);
  if (x != points_.end()) {
    place.sight = judge(p->second, point, x->second, &place.reason);
    place.position_px = project(p->second.oriented, x->second);
    if (!place.position_px) return place;
    const auto camera = survey_.camera_block(photo), pose = survey_.pose_block(photo),
               block = survey_.point(point);
    calib::ProjectionDerivatives by;
    const Eigen::Vector3d seen =
        p->second.rotation * x->second + p->second.oriented.pose.translation;
    (void)calib::project(p->second.oriented.camera, seen, &by);
    // x_cam = exp(r) X + t: a change dr of the rotation vector turns R X by J_l dr.
    Eigen::Matrix3d turned;
    const Eigen::Vector3d rx = p->second.rotation * x->second;
    turned << 0, -rx.z(), rx.y(), rx.z(), 0, -rx.x(), -rx.y(), rx.x(), 0;
    Eigen::Matrix<double, 2, 18> jacobian;
    jacobian.leftCols<9>() = by.by_intrinsics;
    jacobian.middleCols<3>(9) =
        by.by_point * (-turned * calib::left_jacobian(p->second.oriented.pose.rotation));
    jacobian.middleCols<3>(12) = by.by_point;
    jacobian.rightCols<3>() = by.by_point * p->second.rotation;
    const std::array blocks{*camera, *pose, *block};
    const Eigen::MatrixXd joint = survey_.covariance().joint(blocks);
    place.covariance_px2 = jacobian * joint * jacobian.transpose();
    return place;
  }
  const auto marks = marks_.find(point);
  if (marks == marks_.end()) {
    place.sight = Sight::kUnclear;
    place.reason = "may show it: the point has no mark yet";
    return place;
  }
  for (const Mark* mark : marks->second) {
    const auto from = photos_.find(mark->photo);
    if (from == photos_.end() || mark->photo == photo) continue;
    place.epipolar = epipolar_curve(survey_, from->second.oriented, mark->position_px,
                                    p->second.oriented, p->second.size);
    place.epipolar_photo = mark->photo;
    place.sight = place.epipolar.curve_px.empty() ? Sight::kOutside : Sight::kUnclear;
    place.reason = place.epipolar.curve_px.empty()
                       ? "does not reach there: the line of sight passes outside its frame"
                       : "may show it on this line of sight";
    return place;
  }
  place.sight = Sight::kUnknown;
  place.reason = "cannot tell yet: the point is marked in photos only that are not oriented";
  return place;
}

ErrorEllipse confidence_ellipse(const Eigen::Matrix2d& covariance, double p) {
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> eigen(covariance);
  const double factor = std::sqrt(-2 * std::log(1 - p));
  const Eigen::Vector2d major = eigen.eigenvectors().col(1);
  return {factor * std::sqrt(std::max(0.0, eigen.eigenvalues()[1])),
          factor * std::sqrt(std::max(0.0, eigen.eigenvalues()[0])),
          std::atan2(major.y(), major.x())};
}

}  // namespace measure
