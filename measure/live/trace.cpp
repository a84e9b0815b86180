#include "measure/live/trace.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace measure {
namespace {

bool in_frame(const calib::ImageSize& size, const Eigen::Vector2d& px, double margin) {
  return px.x() >= -0.5 - margin && px.y() >= -0.5 - margin &&
         px.x() <= size.width - 0.5 + margin && px.y() <= size.height - 0.5 + margin;
}

/// Vertices of a curve t ↦ place, close enough that no step is longer than step_px. What is not in
/// the frame is left out; one stretch only, the longest.
template <typename Place>
std::vector<std::pair<double, Eigen::Vector2d>> sample(const Place& place,
                                                       const calib::ImageSize& size, double margin,
                                                       double step_px) {
  constexpr int kCoarse = 192;
  constexpr int kDeepest = 6;
  std::vector<std::pair<double, Eigen::Vector2d>> best, stretch;
  const auto close = [&] {
    if (stretch.size() > best.size()) best = stretch;
    stretch.clear();
  };
  const auto append = [&](const auto& self, double t0, const Eigen::Vector2d& p0, double t1,
                          const Eigen::Vector2d& p1, int depth) -> void {
    if (depth < kDeepest && (p1 - p0).norm() > step_px) {
      const double middle = 0.5 * (t0 + t1);
      if (const auto p = place(middle)) {
        self(self, t0, p0, middle, *p, depth + 1);
        self(self, middle, *p, t1, p1, depth + 1);
        return;
      }
    }
    stretch.emplace_back(t1, p1);
  };
  std::optional<Eigen::Vector2d> last;
  double last_t = 0;
  for (int i = 0; i <= kCoarse; ++i) {
    const double t = static_cast<double>(i) / kCoarse;
    const auto p = place(t);
    if (!p || !in_frame(size, *p, margin)) {
      close();
      last.reset();
      continue;
    }
    if (!last) {
      stretch.emplace_back(t, *p);
    } else {
      append(append, last_t, *last, t, *p, 0);
    }
    last = p;
    last_t = t;
  }
  close();
  return best;
}

}  // namespace

std::optional<OrientedPhoto> oriented_photo(const Survey& survey, const std::string& photo) {
  const auto pose = survey.pose_block(photo), camera = survey.camera_block(photo);
  if (!pose || !camera) return std::nullopt;
  return OrientedPhoto{calib::Intrinsics::from_vector(survey.network().block(*camera).values),
                       calib::Pose::from_vector(survey.network().block(*pose).values)};
}

std::optional<Eigen::Vector2d> project(const OrientedPhoto& photo, const Eigen::Vector3d& point) {
  const Eigen::Vector3d seen = photo.pose.rotation_matrix() * point + photo.pose.translation;
  if (!(seen.z() > 1e-9 * seen.norm())) return std::nullopt;
  // Beyond the radius at which the radial map turns back, a point outside would fold into the
  // frame.
  if (seen.head<2>().norm() / seen.z() > calib::largest_valid_radius(photo.camera)) {
    return std::nullopt;
  }
  const Eigen::Vector2d px = calib::project(photo.camera, seen);
  if (!px.allFinite()) return std::nullopt;
  return px;
}

std::vector<Eigen::Vector2d> trace_line(const OrientedPhoto& photo, const calib::ImageSize& size,
                                        const Eigen::Vector3d& a, const Eigen::Vector3d& b,
                                        double step_px) {
  std::vector<Eigen::Vector2d> curve;
  const double margin = std::max(size.width, size.height);
  for (const auto& [t, px] :
       sample([&](double at) { return project(photo, a + at * (b - a)); }, size, margin, step_px)) {
    curve.push_back(px);
  }
  return curve;
}

EpipolarCurve epipolar_curve(const Survey& survey, const OrientedPhoto& from,
                             const Eigen::Vector2d& at_px, const OrientedPhoto& to,
                             const calib::ImageSize& size) {
  EpipolarCurve result;
  const auto ideal = calib::unproject(from.camera, at_px);
  if (!ideal) return result;
  const Eigen::Matrix3d rotation = from.pose.rotation_matrix();
  const Eigen::Vector3d centre = from.pose.centre();
  const Eigen::Vector3d ray = rotation.transpose() * Eigen::Vector3d(ideal->x(), ideal->y(), 1.0);

  double nearest = std::numeric_limits<double>::infinity(), farthest = 0;
  for (const PointReport& point : survey.report().points) {
    if (!point.placed) continue;
    const double depth = (rotation * point.position + from.pose.translation).z();
    nearest = std::min(nearest, depth);
    farthest = std::max(farthest, depth);
  }
  if (!(nearest > 0) || !(farthest > 0)) return result;
  const double margin = std::max(farthest - nearest, 0.1 * nearest);
  const double likely_near = std::max(0.5 * nearest, nearest - 0.5 * margin);
  const double likely_far = farthest + 0.5 * margin;

  // Even steps of inverse depth are nearly even steps in the photo.
  const double closest = 1 / (0.1 * nearest);
  for (const auto& [t, px] : sample(
           [&](double at) -> std::optional<Eigen::Vector2d> {
             const double inverse_depth = at * closest;
             if (inverse_depth < 1e-12) return std::nullopt;
             return project(to, centre + ray / inverse_depth);
           },
           size, 0.0, 12.0)) {
    const double depth = 1 / (t * closest);
    if (depth > likely_far) result.likely_from = result.curve_px.size() + 1;
    if (depth >= likely_near) result.likely_to = result.curve_px.size() + 1;
    result.curve_px.push_back(px);
  }
  result.likely_from = std::min(result.likely_from, result.likely_to);
  return result;
}

Eigen::Vector3d upward(const Survey& survey) {
  Eigen::Vector3d sum = Eigen::Vector3d::Zero();
  for (const PhotoReport& photo : survey.report().photos) {
    if (!photo.placed) continue;
    sum -= photo.pose.rotation_matrix().row(1).transpose();  // image y runs down
  }
  return sum.norm() > 1e-6 ? Eigen::Vector3d(sum.normalized()) : Eigen::Vector3d::UnitZ();
}

double upright_turn(const OrientedPhoto& photo, const Eigen::Vector3d& point,
                    const Eigen::Vector3d& up) {
  const Eigen::Vector3d seen = photo.pose.rotation_matrix() * point + photo.pose.translation;
  const Eigen::Vector3d shift = photo.pose.rotation_matrix() * up;
  if (!(seen.z() > 0)) return 0.0;
  // Derivative of the projection along `up`; the lens bends it by less than a person sees.
  const Eigen::Vector2d direction =
      (shift.head<2>() * seen.z() - seen.head<2>() * shift.z()) / (seen.z() * seen.z());
  if (direction.norm() * seen.z() < 0.1) return 0.0;  // looking straight along it: no way is up
  return std::atan2(-direction.x(), -direction.y());
}

}  // namespace measure
