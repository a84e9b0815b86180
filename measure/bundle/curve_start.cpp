#include "measure/bundle/curve_start.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <set>
#include <vector>

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <Eigen/Geometry>
#include <Eigen/QR>
#include <Eigen/SVD>

namespace measure::internal {
namespace {

using calib::Unexpected;
using calib::adjust::Curve;
using calib::adjust::CurveFrame;
using calib::adjust::CurveKind;
using Eigen::Vector2d;
using Eigen::Vector3d;
using Eigen::VectorXd;
using Sides = std::map<std::pair<int, int>, int>;

/// Rays nearer to each other than this span no plane.
constexpr double kLeastSpread_rad = 1e-3;
/// Beyond these the first order of the adjustment says nothing, and neither would the result.
constexpr double kLargestPlaceShare = 0.05;  ///< of the distance to the nearest camera
constexpr double kLargestTilt_rad = 0.2;
constexpr double kLargestRadiusShare = 0.3;
constexpr int kNormals = 300;
constexpr std::size_t kBestNormals = 8;

struct Ray {
  int photo = -1, side = 0;
  Vector3d from, direction;  ///< unit
};

std::vector<Ray> rays_of(std::span<const CurveMark> marks, std::span<const CurvePhoto> photos) {
  std::vector<Ray> rays;
  for (const CurveMark& mark : marks) {
    const CurvePhoto& photo = photos[mark.photo];
    const auto ideal = calib::unproject(photo.camera, mark.position_px);
    if (!ideal) continue;
    rays.push_back(
        {mark.photo, mark.side, photo.pose.centre(),
         (photo.pose.rotation_matrix().transpose() * ideal->homogeneous()).normalized()});
  }
  return rays;
}

/// The plane of the rays of one photo (and side), where they span one.
struct RayPlane {
  int photo = -1, side = 0;
  Vector3d centre, normal, middle;  ///< camera centre, unit normal, mean direction of the rays
};

std::vector<RayPlane> planes_of(const std::vector<Ray>& rays) {
  std::map<std::pair<int, int>, std::vector<const Ray*>> groups;
  for (const Ray& ray : rays) groups[{ray.photo, ray.side}].push_back(&ray);
  std::vector<RayPlane> planes;
  for (const auto& [key, group] : groups) {
    if (group.size() < 2) continue;
    Eigen::MatrixX3d directions(static_cast<Eigen::Index>(group.size()), 3);
    Vector3d sum = Vector3d::Zero();
    for (std::size_t i = 0; i < group.size(); ++i) {
      directions.row(static_cast<Eigen::Index>(i)) = group[i]->direction;
      sum += group[i]->direction;
    }
    const Eigen::JacobiSVD<Eigen::MatrixX3d> svd(directions, Eigen::ComputeFullV);
    if (svd.singularValues()[1] < kLeastSpread_rad) continue;
    planes.push_back(
        {key.first, key.second, group[0]->from, svd.matrixV().col(2), sum.normalized()});
  }
  return planes;
}

/// The direction that all planes share, and how far they are from being one plane (radians).
std::pair<Vector3d, double> shared_direction(const std::vector<RayPlane>& planes) {
  Eigen::Matrix3d sum = Eigen::Matrix3d::Zero();
  for (const RayPlane& plane : planes) sum += plane.normal * plane.normal.transpose();
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(sum);
  return {eigen.eigenvectors().col(0),
          std::sqrt(std::max(0.0, eigen.eigenvalues()[1] / eigen.eigenvalues()[2]))};
}

std::optional<KnownCurve> first_edge(const std::vector<RayPlane>& planes) {
  const Vector3d direction = shared_direction(planes).first;
  Eigen::MatrixX3d rows(static_cast<Eigen::Index>(planes.size()) + 1, 3);
  VectorXd right(rows.rows());
  for (std::size_t i = 0; i < planes.size(); ++i) {
    rows.row(static_cast<Eigen::Index>(i)) = planes[i].normal;
    right[static_cast<Eigen::Index>(i)] = planes[i].normal.dot(planes[i].centre);
  }
  // Where along it: beside the place that the first photo looks at is settled later.
  rows.bottomRows<1>() = direction;
  right[right.size() - 1] = direction.dot(planes[0].centre);
  const Vector3d place = rows.colPivHouseholderQr().solve(right);
  if (!place.allFinite()) return std::nullopt;
  return KnownCurve{place, direction, 0.0};
}

std::optional<KnownCurve> first_cylinder(const std::vector<RayPlane>& planes) {
  const Vector3d direction = shared_direction(planes).first;
  const Vector3d e1 = direction.unitOrthogonal(), e2 = direction.cross(e1);
  // Of photos that show both sides, each plane's normal is turned towards the other side: then the
  // axis lies one radius inside every plane.
  std::map<int, std::vector<const RayPlane*>> by_photo;
  for (const RayPlane& plane : planes) by_photo[plane.photo].push_back(&plane);
  std::vector<Vector3d> rows;
  std::vector<double> right;
  const auto add = [&](const RayPlane& plane, double sign) {
    Vector2d normal(plane.normal.dot(e1), plane.normal.dot(e2));
    normal *= sign / normal.norm();
    rows.emplace_back(normal.x(), normal.y(), -1.0);
    right.push_back(normal.dot(Vector2d(plane.centre.dot(e1), plane.centre.dot(e2))));
  };
  std::vector<const RayPlane*> single;
  for (const auto& [photo, both] : by_photo) {
    if (both.size() < 2) {
      single.push_back(both[0]);
      continue;
    }
    add(*both[0], both[0]->normal.dot(both[1]->middle) > 0 ? 1.0 : -1.0);
    add(*both[1], both[1]->normal.dot(both[0]->middle) > 0 ? 1.0 : -1.0);
  }
  if (rows.size() < 2 || rows.size() + single.size() < 3) return std::nullopt;
  // Photos that show one side only: whichever sign fits.
  std::optional<Vector3d> best;
  double least = std::numeric_limits<double>::infinity();
  const std::size_t combinations = std::size_t{1} << std::min<std::size_t>(single.size(), 6);
  const std::vector<Vector3d> rows_of_both = rows;
  const std::vector<double> right_of_both = right;
  for (std::size_t signs = 0; signs < combinations; ++signs) {
    rows = rows_of_both;
    right = right_of_both;
    for (std::size_t i = 0; i < std::min<std::size_t>(single.size(), 6); ++i)
      add(*single[i], (signs >> i) & 1 ? 1.0 : -1.0);
    const Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, 3, Eigen::RowMajor>> matrix(
        rows[0].data(), static_cast<Eigen::Index>(rows.size()), 3);
    const Eigen::Map<const VectorXd> values(right.data(), static_cast<Eigen::Index>(right.size()));
    const Eigen::ColPivHouseholderQR<Eigen::MatrixX3d> qr(matrix);
    const Vector3d solution = qr.solve(values);
    const double residual = (matrix * solution - values).squaredNorm();
    if (solution.allFinite() && solution.z() > 0 && residual < least) {
      least = residual;
      best = solution;
    }
  }
  if (!best) return std::nullopt;
  Vector3d place = best->x() * e1 + best->y() * e2;
  place += direction * direction.dot(planes[0].centre);
  return KnownCurve{place, direction, best->z()};
}

/// The place nearest to all rays.
Vector3d meeting_of(const std::vector<Ray>& rays) {
  std::map<int, Vector3d> sum;
  std::map<int, Vector3d> from;
  for (const Ray& ray : rays) {
    sum.try_emplace(ray.photo, Vector3d::Zero()).first->second += ray.direction;
    from[ray.photo] = ray.from;
  }
  Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
  Vector3d right = Vector3d::Zero();
  for (const auto& [photo, direction] : sum) {
    const Vector3d d = direction.normalized();
    const Eigen::Matrix3d across = Eigen::Matrix3d::Identity() - d * d.transpose();
    normal += across;
    right += across * from[photo];
  }
  return normal.ldlt().solve(right);
}

/// Circles that the rays meet nearly, best first.
std::vector<KnownCurve> first_circles(const std::vector<Ray>& rays) {
  const Vector3d centre = meeting_of(rays);
  std::vector<std::pair<double, KnownCurve>> found;
  for (int i = 0; i < kNormals; ++i) {
    // Evenly over the half sphere (a Fibonacci spiral).
    const double z = (i + 0.5) / kNormals, turn = i * std::numbers::pi * (3 - std::sqrt(5.0));
    const double rho = std::sqrt(1 - z * z);
    const Vector3d normal(rho * std::cos(turn), rho * std::sin(turn), z);
    const Vector3d e1 = normal.unitOrthogonal(), e2 = normal.cross(e1);
    std::vector<Vector2d> places;
    for (const Ray& ray : rays) {
      const double towards = ray.direction.dot(normal);
      if (std::abs(towards) < 0.05) continue;  // along the plane: it could meet it anywhere
      const double far = (centre - ray.from).dot(normal) / towards;
      const Vector3d at = ray.from + far * ray.direction - centre;
      if (far > 0) places.emplace_back(at.dot(e1), at.dot(e2));
    }
    if (places.size() < 4 || 3 * places.size() < 2 * rays.size()) continue;
    // Algebraic circle: x² + y² = 2ax + 2by + c.
    Eigen::MatrixX3d rows(static_cast<Eigen::Index>(places.size()), 3);
    VectorXd right(rows.rows());
    for (std::size_t k = 0; k < places.size(); ++k) {
      rows.row(static_cast<Eigen::Index>(k)) << 2 * places[k].x(), 2 * places[k].y(), 1;
      right[static_cast<Eigen::Index>(k)] = places[k].squaredNorm();
    }
    const Vector3d solution = rows.colPivHouseholderQr().solve(right);
    const double square = solution.z() + solution.head<2>().squaredNorm();
    if (!(square > 0)) continue;
    const double radius = std::sqrt(square);
    double misfit = 0;
    for (const Vector2d& place : places) {
      const double beside = (place - solution.head<2>()).norm() - radius;
      misfit += beside * beside;
    }
    found.push_back({misfit / (static_cast<double>(places.size()) * square),
                     {centre + solution.x() * e1 + solution.y() * e2, normal, radius}});
  }
  std::sort(found.begin(), found.end(),
            [](const auto& a, const auto& b) { return a.first < b.first; });
  std::vector<KnownCurve> best;
  for (std::size_t i = 0; i < std::min(found.size(), kBestNormals); ++i)
    best.push_back(found[i].second);
  return best;
}

/// The curve's numbers about one frame, fitted to the marks with the photos held still.
class Fit {
 public:
  Fit(CurveKind kind, std::span<const CurveMark> marks, std::span<const CurvePhoto> photos,
      const KnownCurve& start)
      : kind_(kind), marks_(marks), photos_(photos) {
    frame_ = CurveFrame::about(start.place, start.direction);
    values_ = calib::adjust::curve_values(kind, frame_, start.place, start.direction, start.radius);
  }

  void choose_sides() {
    if (kind_ != CurveKind::kCylinder) return;
    std::map<std::pair<int, int>, std::pair<double, double>> misfit;
    for (const CurveMark& mark : marks_) {
      auto& [plus, minus] = misfit[{mark.photo, mark.side}];
      plus += square_at(mark, 1);
      minus += square_at(mark, -1);
    }
    for (const auto& [key, squares] : misfit)
      sides_[key] = squares.first <= squares.second ? 1 : -1;
  }

  /// Levenberg–Marquardt with weights that fall for marks far off. The largest sum is where the
  /// curve cannot be seen.
  void refine() {
    const Eigen::Index n = values_.size();
    double lambda = 1e-3;
    double cost = cost_of(values_);
    for (int iteration = 0; iteration < 60 && std::isfinite(cost); ++iteration) {
      Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(n, n);
      VectorXd right = VectorXd::Zero(n);
      linearise(values_, normal, right);
      bool better = false;
      for (int trial = 0; trial < 8; ++trial) {
        Eigen::MatrixXd damped = normal;
        damped.diagonal() *= 1 + lambda;
        const VectorXd step = damped.ldlt().solve(-right);
        if (!step.allFinite()) break;
        const double next = cost_of(values_ + step);
        if (next < cost) {
          better = cost - next > 1e-9 * cost;
          values_ += step;
          cost = next;
          lambda = std::max(lambda / 5, 1e-12);
          break;
        }
        lambda *= 8;
      }
      if (!better) break;
    }
    cost_ = cost;
  }

  /// About the middle of what was marked, along the curve as it is now.
  void recentre() {
    const auto g = geometry();
    Vector3d place = g.place;
    if (kind_ != CurveKind::kCircle) {
      const auto [from, to] = extent();
      place += 0.5 * (from + to) * g.direction;
    }
    Vector3d direction = g.direction;
    double radius = g.radius;
    if (radius < 0) radius = -radius;
    frame_ = CurveFrame::about(place, direction);
    values_ = calib::adjust::curve_values(kind_, frame_, place, direction, radius);
  }

  [[nodiscard]] double cost() const { return cost_; }
  [[nodiscard]] calib::adjust::CurveGeometry geometry() const {
    return calib::adjust::curve_geometry(kind_, frame_, values_);
  }

  /// Along the axis from the geometry's place.
  [[nodiscard]] std::pair<double, double> extent() const {
    if (kind_ == CurveKind::kCircle) return {0, 0};
    double from = std::numeric_limits<double>::infinity(), to = -from;
    for (const CurveMark& mark : marks_) {
      const auto foot = curve_foot(curve_of(mark), photos_[mark.photo].pose,
                                   photos_[mark.photo].camera, values_, mark.position_px);
      if (!foot) continue;
      from = std::min(from, foot->along);
      to = std::max(to, foot->along);
    }
    return std::isfinite(from) ? std::pair(from, to) : std::pair(0.0, 0.0);
  }

  /// Covariance of the values, the photos held still; nothing where the marks leave some open.
  [[nodiscard]] std::optional<Eigen::MatrixXd> covariance() const {
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(values_.size(), values_.size());
    VectorXd right = VectorXd::Zero(values_.size());
    linearise(values_, normal, right);
    // Scaled to a unit diagonal: shifts and slopes differ by powers of ten.
    const VectorXd scale = normal.diagonal().cwiseSqrt();
    if (!(scale.minCoeff() > 0)) return std::nullopt;
    const Eigen::MatrixXd scaled =
        scale.cwiseInverse().asDiagonal() * normal * scale.cwiseInverse().asDiagonal();
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(scaled);
    if (!(eigen.eigenvalues()[0] > 1e-12)) return std::nullopt;
    const Eigen::MatrixXd inverse = eigen.eigenvectors() *
                                    eigen.eigenvalues().cwiseInverse().asDiagonal() *
                                    eigen.eigenvectors().transpose();
    return Eigen::MatrixXd(scale.cwiseInverse().asDiagonal() * inverse *
                           scale.cwiseInverse().asDiagonal());
  }

  [[nodiscard]] const CurveFrame& frame() const { return frame_; }
  [[nodiscard]] const VectorXd& values() const { return values_; }
  [[nodiscard]] const Sides& sides() const { return sides_; }

 private:
  [[nodiscard]] Curve curve_of(const CurveMark& mark) const {
    const auto at = sides_.find({mark.photo, mark.side});
    return {kind_, frame_, at == sides_.end() ? 0 : at->second};
  }
  [[nodiscard]] double square_at(const CurveMark& mark, int side) const {
    const auto foot = curve_foot(Curve{kind_, frame_, side}, photos_[mark.photo].pose,
                                 photos_[mark.photo].camera, values_, mark.position_px);
    return foot ? (foot->position_px - mark.position_px).squaredNorm() : 1e12;
  }

  static constexpr double kFar = 3.0;  ///< σ: beyond, a mark weighs less

  bool residual(const VectorXd& values, const CurveMark& mark, double& value,
                double* by_values) const {
    const auto cost =
        calib::adjust::curve_observation(curve_of(mark), mark.position_px, mark.sigma_px);
    const Eigen::Matrix<double, 6, 1> pose = photos_[mark.photo].pose.vector();
    const calib::IntrinsicVector camera = photos_[mark.photo].camera.vector();
    const double* parameters[] = {pose.data(), camera.data(), values.data()};
    double* jacobians[] = {nullptr, nullptr, by_values};
    return cost->Evaluate(parameters, &value, by_values ? jacobians : nullptr);
  }

  [[nodiscard]] double cost_of(const VectorXd& values) const {
    double sum = 0;
    for (const CurveMark& mark : marks_) {
      double r = 0;
      if (!residual(values, mark, r, nullptr)) return std::numeric_limits<double>::infinity();
      const double a = std::abs(r);
      sum += a <= kFar ? a * a : kFar * (2 * a - kFar);
    }
    return sum;
  }

  void linearise(const VectorXd& values, Eigen::MatrixXd& normal, VectorXd& right) const {
    VectorXd row(values.size());
    for (const CurveMark& mark : marks_) {
      double r = 0;
      if (!residual(values, mark, r, row.data())) continue;
      const double weight = std::abs(r) <= kFar ? 1.0 : kFar / std::abs(r);
      normal += weight * row * row.transpose();
      right += weight * r * row;
    }
  }

  CurveKind kind_;
  std::span<const CurveMark> marks_;
  std::span<const CurvePhoto> photos_;
  CurveFrame frame_;
  VectorXd values_;
  Sides sides_;
  double cost_ = std::numeric_limits<double>::infinity();
};

/// The sentence where the curve is not known well enough for its error bars to mean anything.
std::optional<std::string> too_weak(CurveKind kind, const Fit& fit, std::span<const Ray> rays) {
  const std::string other_side = [&] {
    switch (kind) {
      case CurveKind::kEdge:
        return "is seen from one side only, or runs along the line between the cameras: mark it in "
               "a photo taken from higher or lower, out of the plane in which it was seen so far";
      case CurveKind::kCircle:
        return "is seen from one side only, or marked over too short an arc: mark more of its rim, "
               "and in a photo taken from another side";
      case CurveKind::kCylinder:
        return "is seen from one side only, or along its axis: mark both sides of its outline in "
               "photos taken from other sides";
    }
    return "";
  }();
  const auto covariance = fit.covariance();
  if (!covariance) return other_side;
  const auto g = fit.geometry();
  const Eigen::MatrixXd spread = g.by_values * *covariance * g.by_values.transpose();
  double nearest = std::numeric_limits<double>::infinity();
  for (const Ray& ray : rays) nearest = std::min(nearest, (ray.from - g.place).norm());
  const auto largest = [&](const Eigen::Matrix3d& part) {
    return std::sqrt(std::max(0.0, part.selfadjointView<Eigen::Lower>().eigenvalues().maxCoeff()));
  };
  const bool weak = largest(spread.topLeftCorner<3, 3>()) > kLargestPlaceShare * nearest ||
                    largest(spread.block<3, 3>(3, 3)) > kLargestTilt_rad ||
                    (kind != CurveKind::kEdge && std::sqrt(std::max(0.0, spread(6, 6))) >
                                                     kLargestRadiusShare * std::abs(g.radius));
  if (weak) return other_side;
  return std::nullopt;
}

std::string count_text(std::size_t n, const char* one, const char* many) {
  return std::to_string(n) + " " + (n == 1 ? one : many);
}

/// What is missing before anything can be computed.
std::optional<std::string> too_few(CurveKind kind, const std::vector<Ray>& rays,
                                   const std::vector<RayPlane>& planes) {
  std::set<int> photos;
  for (const Ray& ray : rays) photos.insert(ray.photo);
  if (rays.empty()) return "is not marked in any photo that is placed: mark it in two or more";
  if (photos.size() < 2)
    return "is marked in one placed photo only: mark it in a second one, taken from another side";
  const auto needed = static_cast<std::size_t>(calib::adjust::curve_size(kind));
  if (rays.size() < needed) {
    return "has " + count_text(rays.size(), "mark", "marks") + " and needs " +
           std::to_string(needed) + " or more: set more along it";
  }
  if (kind == CurveKind::kEdge && planes.size() < 2)
    return "is marked at one place only in all photos but one: mark it at two places or more, far "
           "from each other, in two photos";
  if (kind == CurveKind::kCylinder) {
    std::set<int> both;
    std::map<int, int> sides;
    for (const RayPlane& plane : planes) {
      if (++sides[plane.photo] == 2) both.insert(plane.photo);
    }
    if (both.empty())
      return "needs a photo in which both sides of its outline are marked, each at two places or "
             "more";
    if (planes.size() < 3)
      return "is marked along both sides in one photo only: mark its outline in a second one, at "
             "two places or more a side";
  }
  return std::nullopt;
}

}  // namespace

calib::Result<CurveStart, std::string> start_curve(CurveKind kind, std::span<const CurveMark> marks,
                                                   std::span<const CurvePhoto> photos,
                                                   const std::optional<KnownCurve>& known) {
  const std::vector<Ray> rays = rays_of(marks, photos);
  const std::vector<RayPlane> planes = planes_of(rays);
  if (const auto lacks = too_few(kind, rays, planes)) return Unexpected(*lacks);

  std::vector<KnownCurve> starts;
  const auto search = [&] {
    if (kind == CurveKind::kCircle) return first_circles(rays);
    const auto first = kind == CurveKind::kEdge ? first_edge(planes) : first_cylinder(planes);
    return first ? std::vector<KnownCurve>{*first} : std::vector<KnownCurve>{};
  };
  std::optional<Fit> best;
  const auto try_all = [&](const std::vector<KnownCurve>& from) {
    for (const KnownCurve& start : from) {
      Fit fit(kind, marks, photos, start);
      fit.choose_sides();
      fit.refine();
      if (!std::isfinite(fit.cost())) continue;
      fit.recentre();
      fit.choose_sides();
      fit.refine();
      if (!best || fit.cost() < best->cost()) best = fit;
    }
  };
  if (known) try_all({*known});
  // An earlier solution that fits is believed; where marks have changed much, all is begun anew.
  constexpr double kFits = 4.0;  // mean square in σ², about what marks by hand show
  if (!best || best->cost() > kFits * static_cast<double>(marks.size())) try_all(search());
  const char* contradict =
      kind == CurveKind::kEdge
          ? "cannot be found: its marks fit no straight edge. Look at them, and at which edge they "
            "are on"
          : "cannot be found: its marks fit no shape of that kind. Look at them, and at whether it "
            "is round";
  if (!best) return Unexpected(std::string(contradict));
  if (const auto weak = too_weak(kind, *best, rays)) return Unexpected(*weak);
  // Medium misfits are for the tests of the adjustment to judge; this is another thing altogether.
  constexpr double kHopeless = 400.0;
  if (best->cost() > kHopeless * static_cast<double>(marks.size()))
    return Unexpected(std::string(contradict));

  CurveStart start;
  start.frame = best->frame();
  start.values = best->values();
  std::tie(start.from, start.to) = best->extent();
  start.sides = best->sides();
  return start;
}

}  // namespace measure::internal
