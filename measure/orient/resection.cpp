#include "measure/orient/resection.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <Eigen/Geometry>
#include <Eigen/LU>
#include <opencv2/calib3d.hpp>

namespace measure::internal {
namespace {

constexpr int kSamples = 80;
constexpr int kMinimaKept = 6;
/// Poses nearer than this are one minimum: two solutions of a plane differ by far more.
constexpr double kSameRotationRad = 0.03, kSamePosition = 0.05;
/// A standard uncertainty of the position above this share of the distance is no orientation.
constexpr double kWeakPosition = 0.15;

struct Sight {
  const UsableMark* mark;
  Eigen::Vector3d point;
};

struct Pose {
  CameraPose pose;
  double score = std::numeric_limits<double>::infinity();
};

double truncated_score(const std::vector<Sight>& sights, const CameraPose& pose,
                       double squared_limit, double give_up) {
  double score = 0;
  for (const Sight& s : sights) {
    score += std::min(squared_residual(*s.mark, pose, s.point), squared_limit);
    if (score > give_up) break;
  }
  return score;
}

/// Jacobian of the normalised residual, rotation first: exp(w)·R and t + dt.
void normal_equations(const std::vector<Sight>& sights, const CameraPose& pose,
                      double squared_limit, double huber, Eigen::Matrix<double, 6, 6>& normal,
                      Eigen::Matrix<double, 6, 1>& right) {
  normal.setZero();
  right.setZero();
  for (const Sight& s : sights) {
    const Eigen::Vector3d turned = pose.rotation * s.point;
    const Eigen::Vector3d p = turned + pose.translation;
    if (!(p.z() > 0)) continue;
    const Eigen::Vector2d projected = p.head<2>() / p.z();
    const Eigen::Vector2d residual = (projected - s.mark->ideal) / s.mark->sigma;
    const double squared = residual.squaredNorm();
    if (squared > squared_limit) continue;
    const double weight = squared <= huber * huber ? 1.0 : huber / std::sqrt(squared);
    Eigen::Matrix<double, 2, 3> by_camera_point;
    by_camera_point << 1, 0, -projected.x(), 0, 1, -projected.y();
    by_camera_point /= p.z() * s.mark->sigma;
    Eigen::Matrix<double, 2, 6> jacobian;
    jacobian.row(0).head<3>() = turned.cross(by_camera_point.row(0).transpose());
    jacobian.row(1).head<3>() = turned.cross(by_camera_point.row(1).transpose());
    jacobian.rightCols<3>() = by_camera_point;
    normal += weight * jacobian.transpose() * jacobian;
    right -= weight * jacobian.transpose() * residual;
  }
}

Pose settle(const std::vector<Sight>& sights, CameraPose pose, double squared_limit) {
  // First with four times the limit, so that a start from three noisy points gathers the others in.
  for (const double widening : {16.0, 1.0}) {
    double damping = 1e-3;
    double score = truncated_score(sights, pose, widening * squared_limit,
                                   std::numeric_limits<double>::infinity());
    for (int iteration = 0; iteration < 20; ++iteration) {
      Eigen::Matrix<double, 6, 6> normal;
      Eigen::Matrix<double, 6, 1> right;
      normal_equations(sights, pose, widening * squared_limit, std::sqrt(squared_limit) / 3, normal,
                       right);
      bool better = false;
      double gain = 0;
      for (int attempt = 0; attempt < 5 && !better; ++attempt) {
        Eigen::Matrix<double, 6, 6> damped = normal;
        damped.diagonal() *= 1 + damping;
        damped.diagonal().array() += 1e-12;
        const Eigen::Matrix<double, 6, 1> step = damped.ldlt().solve(right);
        if (!step.allFinite()) break;
        CameraPose next;
        next.rotation = calib::rotation_from_vector(step.head<3>()) * pose.rotation;
        next.translation = pose.translation + step.tail<3>();
        const double next_score = truncated_score(sights, next, widening * squared_limit, score);
        if (next_score <= score) {
          gain = score - next_score;
          score = next_score;
          pose = next;
          better = true;
          damping = std::max(damping / 10, 1e-9);
        } else {
          damping *= 10;
        }
      }
      if (!better || gain < 1e-9 * score) break;
    }
  }
  return {pose,
          truncated_score(sights, pose, squared_limit, std::numeric_limits<double>::infinity())};
}

std::array<CameraPose, 4> three_point_poses(const std::array<const Sight*, 3>& sample, int& count) {
  std::array<CameraPose, 4> poses;
  cv::Mat_<double> object(3, 3), image(3, 2);
  for (int i = 0; i < 3; ++i) {
    for (int k = 0; k < 3; ++k) object(i, k) = sample[i]->point[k];
    image(i, 0) = sample[i]->mark->ideal.x();
    image(i, 1) = sample[i]->mark->ideal.y();
  }
  std::vector<cv::Mat> rotations, translations;
  const cv::Mat camera = cv::Mat::eye(3, 3, CV_64F);
  cv::solveP3P(object, image, camera, cv::noArray(), rotations, translations, cv::SOLVEPNP_AP3P);
  count = 0;
  for (std::size_t i = 0; i < rotations.size() && count < 4; ++i) {
    CameraPose& pose = poses[count];
    const Eigen::Vector3d rotation(rotations[i].at<double>(0), rotations[i].at<double>(1),
                                   rotations[i].at<double>(2));
    pose.translation << translations[i].at<double>(0), translations[i].at<double>(1),
        translations[i].at<double>(2);
    if (!rotation.allFinite() || !pose.translation.allFinite()) continue;
    pose.rotation = calib::rotation_from_vector(rotation);
    ++count;
  }
  return poses;
}

/// The second solution that a plane has where its perspective is weak: turned about the axis that
/// lies in the image, through twice the angle between line of sight and normal.
CameraPose mirrored(const CameraPose& pose, const Eigen::Vector3d& centroid,
                    const Eigen::Vector3d& normal) {
  const Eigen::Vector3d in_camera = pose * centroid;
  const Eigen::Vector3d sight = in_camera.normalized();
  Eigen::Vector3d facing = pose.rotation * normal;
  if (facing.dot(sight) < 0) facing = -facing;
  const Eigen::Vector3d axis = facing.cross(sight);
  const double angle = std::atan2(axis.norm(), facing.dot(sight));
  if (axis.norm() < 1e-9) return pose;
  CameraPose result;
  result.rotation =
      Eigen::AngleAxisd(2 * angle, axis.normalized()).toRotationMatrix() * pose.rotation;
  result.translation = in_camera - result.rotation * centroid;
  return result;
}

bool same_minimum(const CameraPose& a, const CameraPose& b, double distance) {
  const double angle = Eigen::AngleAxisd(a.rotation.transpose() * b.rotation).angle();
  return angle < kSameRotationRad && (a.centre() - b.centre()).norm() < kSamePosition * distance;
}

/// √trace of the position's covariance, relative to the distance of the points.
double position_uncertainty(const std::vector<Sight>& sights, const CameraPose& pose,
                            double squared_limit, double factor, double distance) {
  Eigen::Matrix<double, 6, 6> normal;
  Eigen::Matrix<double, 6, 1> right;
  normal_equations(sights, pose, squared_limit, std::numeric_limits<double>::infinity(), normal,
                   right);
  const Eigen::LDLT<Eigen::Matrix<double, 6, 6>> factored(normal);
  if (!(factored.vectorD().minCoeff() > 1e-12 * factored.vectorD().maxCoeff())) {
    return std::numeric_limits<double>::infinity();
  }
  // Here exp(w) turns the points only, not t: C = −(exp(w)R)ᵀ(t + dt), so dC = −Rᵀ(dt + t×w).
  Eigen::Matrix<double, 3, 6> by_pose;
  const Eigen::Vector3d& t = pose.translation;
  by_pose << 0, -t.z(), t.y(), 1, 0, 0,  //
      t.z(), 0, -t.x(), 0, 1, 0,         //
      -t.y(), t.x(), 0, 0, 0, 1;
  const Eigen::Matrix3d covariance = by_pose * factored.solve(by_pose.transpose());
  return factor * std::sqrt(covariance.trace()) / distance;
}

}  // namespace

ResectionOutcome resect(const MarkTable& table, Model& model, int photo, const Tolerance& tolerance,
                        std::uint32_t seed) {
  std::vector<Sight> sights;
  for (const int index : table.of_photo[photo]) {
    const UsableMark& mark = table.marks[index];
    if (model.points[mark.point]) sights.push_back({&mark, *model.points[mark.point]});
  }
  const int n = static_cast<int>(sights.size());
  if (n < kLeastResectionMarks) return ResectionOutcome::kTooFewPoints;

  Eigen::Vector3d centroid = Eigen::Vector3d::Zero();
  for (const Sight& s : sights) centroid += s.point / n;
  Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
  for (const Sight& s : sights) spread += (s.point - centroid) * (s.point - centroid).transpose();
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> extents(spread);
  if (extents.eigenvalues()[1] < 1e-8 * extents.eigenvalues()[2]) return ResectionOutcome::kWeak;
  const Eigen::Vector3d normal = extents.eigenvectors().col(0);

  // The points come from few photos yet: where the marks do not agree within the limit, a wider one
  // is tried.
  for (const double widening : {1.0, 3.0}) {
    const double squared_limit = widening * widening * tolerance.limit * tolerance.limit;
    std::vector<Pose> candidates;  // best first
    std::mt19937 random(seed + static_cast<std::uint32_t>(photo));
    std::uniform_int_distribution<int> draw(0, n - 1);
    for (int sample = 0; sample < kSamples; ++sample) {
      const int a = draw(random), b = draw(random), c = draw(random);
      if (a == b || b == c || a == c) continue;
      int count = 0;
      const auto poses = three_point_poses({&sights[a], &sights[b], &sights[c]}, count);
      for (int k = 0; k < count; ++k) {
        const double give_up = candidates.size() < kMinimaKept
                                   ? std::numeric_limits<double>::infinity()
                                   : candidates.back().score;
        const double score = truncated_score(sights, poses[k], squared_limit, give_up);
        if (score >= give_up || score >= squared_limit * n) continue;
        candidates.insert(
            std::upper_bound(candidates.begin(), candidates.end(), score,
                             [](double value, const Pose& p) { return value < p.score; }),
            Pose{poses[k], score});
        if (candidates.size() > kMinimaKept) candidates.pop_back();
      }
    }
    if (candidates.empty()) continue;

    const std::size_t direct = candidates.size();
    for (std::size_t i = 0; i < std::min<std::size_t>(direct, 2); ++i) {
      candidates.push_back({mirrored(candidates[i].pose, centroid, normal), 0.0});
    }
    std::vector<Pose> minima;
    for (const Pose& start : candidates)
      minima.push_back(settle(sights, start.pose, squared_limit));
    std::stable_sort(minima.begin(), minima.end(),
                     [](const Pose& a, const Pose& b) { return a.score < b.score; });
    const Pose& best = minima.front();

    std::vector<double> squared;
    for (const Sight& s : sights) {
      const double value = squared_residual(*s.mark, best.pose, s.point);
      if (value <= squared_limit) squared.push_back(value);
    }
    const int agreeing = static_cast<int>(squared.size());
    if (agreeing < kLeastResectionMarks || agreeing < 0.6 * n) continue;

    const double distance = (best.pose * centroid).norm();
    // With six unknowns in few residuals the median is too small: only a factor above 1 is
    // believed.
    const double factor = std::max(1.0, robust_factor(squared));
    for (const Pose& rival : minima) {
      if (!same_minimum(best.pose, rival.pose, distance) &&
          (rival.score - best.score) / (factor * factor) <
              ambiguity_bar(tolerance, 2 * agreeing - 6, 6)) {
        return ResectionOutcome::kAmbiguous;
      }
    }
    if (!(position_uncertainty(sights, best.pose, squared_limit, factor, distance) <
          kWeakPosition)) {
      return ResectionOutcome::kWeak;
    }
    model.poses[photo] = best.pose;
    for (const int index : table.of_photo[photo]) {
      const UsableMark& mark = table.marks[index];
      model.in_use[index] =
          model.points[mark.point] &&
          squared_residual(mark, best.pose, *model.points[mark.point]) <= squared_limit;
    }
    return ResectionOutcome::kPlaced;
  }
  return ResectionOutcome::kContradiction;
}

}  // namespace measure::internal
