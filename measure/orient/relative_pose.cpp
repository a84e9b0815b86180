#include "measure/orient/relative_pose.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <random>

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <Eigen/Geometry>
#include <Eigen/SVD>
#include <opencv2/calib3d.hpp>

#include "measure/orient/intersection.h"

namespace measure::internal {
namespace {

constexpr int kPairsOriented = 8;
constexpr int kSamples = 50;
constexpr int kCandidatesKept = 8;
constexpr int kPosesKept = 3;
/// Parallax from which on more is no better, and σ of the turning-only fit that stand for it.
constexpr double kGoodParallaxRad = 0.26;
constexpr double kGoodTurnResidual = 200.0;
/// Spread of the points across their longest line, from which on more is no better.
constexpr double kGoodSpread = 0.03;
/// Below these many σ, points are in a line, and a turn of the camera explains everything.
constexpr double kLineSigmas = 4.0, kParallaxSigmas = 6.0;
/// Less is no start: a point's depth would be thirty times worse than its width.
constexpr double kLeastParallaxRad = 0.035;
constexpr double kSameRotationRad = 0.03, kSameBaseRad = 0.1;

struct CommonPoint {
  const UsableMark *first, *second;
};

std::vector<CommonPoint> common_points(const MarkTable& table, int first, int second) {
  std::vector<CommonPoint> common;
  const auto &a = table.of_photo[first], &b = table.of_photo[second];
  for (std::size_t i = 0, j = 0; i < a.size() && j < b.size();) {
    const UsableMark &m = table.marks[a[i]], &n = table.marks[b[j]];
    if (m.point == n.point) {
      common.push_back({&m, &n});
      ++i;
      ++j;
    } else if (m.point < n.point) {
      ++i;
    } else {
      ++j;
    }
  }
  return common;
}

double median(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

/// Extent of the marks across their longest line: the offset from it that four in five stay below,
/// in normalised units and in σ. Iterated with falling weights, as one blunder would make any line
/// a plane.
std::pair<double, double> spread(const std::vector<CommonPoint>& common, bool in_second) {
  const std::size_t n = common.size();
  std::vector<double> weights(n, 1.0), offsets(n);
  double sigma = 0;
  for (const CommonPoint& c : common)
    sigma += (in_second ? c.second : c.first)->sigma / static_cast<double>(n);
  for (int iteration = 0; iteration < 4; ++iteration) {
    Eigen::Vector2d mean = Eigen::Vector2d::Zero();
    double sum = 0;
    for (std::size_t i = 0; i < n; ++i) {
      mean += weights[i] * (in_second ? common[i].second : common[i].first)->ideal;
      sum += weights[i];
    }
    mean /= sum;
    Eigen::Matrix2d scatter = Eigen::Matrix2d::Zero();
    for (std::size_t i = 0; i < n; ++i) {
      const Eigen::Vector2d from_mean =
          (in_second ? common[i].second : common[i].first)->ideal - mean;
      scatter += weights[i] * from_mean * from_mean.transpose();
    }
    const Eigen::Vector2d across =
        Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d>(scatter).eigenvectors().col(0);
    for (std::size_t i = 0; i < n; ++i) {
      offsets[i] =
          std::abs(across.dot((in_second ? common[i].second : common[i].first)->ideal - mean));
    }
    const double middle = std::max(sigma, median(offsets));
    for (std::size_t i = 0; i < n; ++i)
      weights[i] = 1 / (1 + offsets[i] * offsets[i] / (middle * middle));
  }
  const auto fourth_fifth = offsets.begin() + static_cast<std::ptrdiff_t>(n * 4 / 5);
  std::nth_element(offsets.begin(), fourth_fifth, offsets.end());
  return {*fourth_fifth, *fourth_fifth / sigma};
}

/// Median misfit, in σ, if the camera only turned between the photos: small where there is no
/// parallax.
double turn_only_misfit(const std::vector<CommonPoint>& common) {
  std::vector<double> weights(common.size(), 1.0), misfits(common.size());
  for (int iteration = 0; iteration < 6; ++iteration) {
    Eigen::Matrix3d cross = Eigen::Matrix3d::Zero();
    for (std::size_t i = 0; i < common.size(); ++i) {
      cross += weights[i] * common[i].second->ray * common[i].first->ray.transpose();
    }
    const Eigen::JacobiSVD<Eigen::Matrix3d> svd(cross, Eigen::ComputeFullU | Eigen::ComputeFullV);
    Eigen::Vector3d signs(1, 1,
                          (svd.matrixU() * svd.matrixV().transpose()).determinant() < 0 ? -1 : 1);
    const Eigen::Matrix3d turn = svd.matrixU() * signs.asDiagonal() * svd.matrixV().transpose();
    for (std::size_t i = 0; i < common.size(); ++i) {
      const double sigma = std::hypot(common[i].first->sigma, common[i].second->sigma);
      misfits[i] = (turn * common[i].first->ray - common[i].second->ray).norm() / sigma;
    }
    // Blunders are many times the rest: halve their say at the median, without a limit to choose.
    const double middle = std::max(1.0, median(misfits));
    for (std::size_t i = 0; i < common.size(); ++i) {
      weights[i] = 1 / (1 + misfits[i] * misfits[i] / (middle * middle));
    }
  }
  return median(misfits);
}

Eigen::Matrix3d essential(const CameraPose& pose) {
  const Eigen::Vector3d& t = pose.translation;
  Eigen::Matrix3d cross;
  cross << 0, -t.z(), t.y(), t.z(), 0, -t.x(), -t.y(), t.x(), 0;
  return cross * pose.rotation;
}

/// Square of the distance to the nearest pair of marks that fits exactly, to first order, in σ².
/// Source: P. D. Sampson 1982, as in Hartley & Zisserman §11.4.3.
double sampson(const Eigen::Matrix3d& e, const CommonPoint& c) {
  const Eigen::Vector3d x = c.first->ideal.homogeneous(), y = c.second->ideal.homogeneous();
  const Eigen::Vector3d ex = e * x, ey = e.transpose() * y;
  const double s1 = c.first->sigma, s2 = c.second->sigma;
  const double variance =
      s1 * s1 * ey.head<2>().squaredNorm() + s2 * s2 * ex.head<2>().squaredNorm();
  const double misfit = y.dot(ex);
  return variance > 0 ? misfit * misfit / variance : 0.0;
}

double score_of(const std::vector<CommonPoint>& common, const Eigen::Matrix3d& e,
                double squared_limit, double give_up = std::numeric_limits<double>::infinity()) {
  double score = 0;
  for (const CommonPoint& c : common) {
    score += std::min(sampson(e, c), squared_limit);
    if (score > give_up) break;
  }
  return score;
}

/// Levenberg–Marquardt on the Sampson distances over rotation (3) and direction of the base (2).
RelativePose settle(const std::vector<CommonPoint>& common, CameraPose pose, double squared_limit) {
  using Step = Eigen::Matrix<double, 5, 1>;
  const auto moved = [](const CameraPose& from, const Step& step) {
    CameraPose to;
    to.rotation = calib::rotation_from_vector(step.head<3>()) * from.rotation;
    const Eigen::Vector3d u = from.translation.unitOrthogonal(), v = from.translation.cross(u);
    to.translation = (from.translation + step[3] * u + step[4] * v).normalized();
    return to;
  };
  const auto signed_misfit = [](const Eigen::Matrix3d& e, const CommonPoint& c) {
    const Eigen::Vector3d x = c.first->ideal.homogeneous(), y = c.second->ideal.homogeneous();
    return std::copysign(std::sqrt(sampson(e, c)), y.dot(e * x));
  };
  for (const double widening : {9.0, 1.0}) {
    const double limit = widening * squared_limit, huber = std::sqrt(squared_limit) / 3;
    double score = score_of(common, essential(pose), limit);
    double damping = 1e-3;
    for (int iteration = 0; iteration < 15; ++iteration) {
      constexpr double kStep = 1e-6;
      std::array<Eigen::Matrix3d, 5> shifted;
      for (int k = 0; k < 5; ++k) shifted[k] = essential(moved(pose, kStep * Step::Unit(k)));
      const Eigen::Matrix3d present = essential(pose);
      Eigen::Matrix<double, 5, 5> normal = Eigen::Matrix<double, 5, 5>::Zero();
      Step right = Step::Zero();
      for (const CommonPoint& c : common) {
        const double residual = signed_misfit(present, c);
        if (residual * residual > limit) continue;
        Step gradient;
        for (int k = 0; k < 5; ++k) gradient[k] = (signed_misfit(shifted[k], c) - residual) / kStep;
        const double weight = std::abs(residual) <= huber ? 1.0 : huber / std::abs(residual);
        normal += weight * gradient * gradient.transpose();
        right -= weight * residual * gradient;
      }
      bool better = false;
      double gain = 0;
      for (int attempt = 0; attempt < 5 && !better; ++attempt) {
        Eigen::Matrix<double, 5, 5> damped = normal;
        damped.diagonal() *= 1 + damping;
        damped.diagonal().array() += 1e-12;
        const Step step = damped.ldlt().solve(right);
        if (!step.allFinite()) break;
        const CameraPose next = moved(pose, step);
        const double next_score = score_of(common, essential(next), limit, score);
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
      if (!better || gain < 1e-7 * score + 1e-12) break;
    }
  }
  return {pose, score_of(common, essential(pose), squared_limit)};
}

/// Points in front of both cameras among those that fit, and the median parallax of these.
struct Depths {
  int fitting = 0, in_front = 0;
  double parallax_rad = 0.0;
  double weighted = 0.0;  ///< Σ min(1, parallax / good parallax) over points in front
};

Depths depths(const std::vector<CommonPoint>& common, const CameraPose& pose,
              double squared_limit) {
  const Eigen::Matrix3d e = essential(pose);
  const CameraPose first;
  Depths result;
  std::vector<double> angles;
  for (const CommonPoint& c : common) {
    if (sampson(e, c) > squared_limit) continue;
    ++result.fitting;
    const Eigen::Vector3d turned = pose.rotation.transpose() * c.second->ray;
    const double sine = turned.cross(c.first->ray).norm();
    const Eigen::Vector3d point = meet(first, c.first->ray, pose, c.second->ray);
    if (!(point.z() > 0) || !((pose * point).z() > 0)) continue;
    ++result.in_front;
    const double angle = std::asin(std::min(1.0, sine));
    angles.push_back(angle);
    result.weighted += std::min(1.0, angle / kGoodParallaxRad);
  }
  if (!angles.empty()) result.parallax_rad = median(angles);
  return result;
}

/// The four poses of an essential matrix; the one with most points in front.
std::optional<CameraPose> pose_of(const Eigen::Matrix3d& e, const std::vector<CommonPoint>& common,
                                  double squared_limit) {
  const Eigen::JacobiSVD<Eigen::Matrix3d> svd(e, Eigen::ComputeFullU | Eigen::ComputeFullV);
  Eigen::Matrix3d u = svd.matrixU(), v = svd.matrixV();
  if (u.determinant() < 0) u = -u;
  if (v.determinant() < 0) v = -v;
  Eigen::Matrix3d w;
  w << 0, -1, 0, 1, 0, 0, 0, 0, 1;
  std::optional<CameraPose> best;
  int most = 0;
  for (const double sign : {1.0, -1.0}) {
    for (const bool transposed : {false, true}) {
      CameraPose pose;
      pose.rotation = u * (transposed ? Eigen::Matrix3d(w.transpose()) : w) * v.transpose();
      pose.translation = sign * u.col(2);
      const int in_front = depths(common, pose, squared_limit).in_front;
      if (in_front > most) {
        most = in_front;
        best = pose;
      }
    }
  }
  return best;
}

cv::Mat points_matrix(const std::vector<const CommonPoint*>& sample, bool second) {
  cv::Mat_<double> points(static_cast<int>(sample.size()), 2);
  for (int i = 0; i < points.rows; ++i) {
    const Eigen::Vector2d& ideal = (second ? sample[i]->second : sample[i]->first)->ideal;
    points(i, 0) = ideal.x();
    points(i, 1) = ideal.y();
  }
  return points;
}

void add_five_point_candidates(const std::vector<CommonPoint>& common, double squared_limit,
                               std::mt19937& random, std::vector<RelativePose>& candidates) {
  const cv::Mat camera = cv::Mat::eye(3, 3, CV_64F);
  const int n = static_cast<int>(common.size());
  std::uniform_int_distribution<int> draw(0, n - 1);
  struct Scored {
    Eigen::Matrix3d e;
    double score;
  };
  std::vector<Scored> best;
  for (int sample = 0; sample < kSamples; ++sample) {
    std::vector<int> chosen;
    if (n == kLeastCommonPoints) {
      // Six points have six samples: take each once.
      if (sample >= n) break;
      for (int i = 0; i < n; ++i) {
        if (i != sample) chosen.push_back(i);
      }
    }
    while (chosen.size() < 5) {
      const int index = draw(random);
      if (std::find(chosen.begin(), chosen.end(), index) == chosen.end()) chosen.push_back(index);
    }
    std::vector<const CommonPoint*> five;
    for (const int index : chosen) five.push_back(&common[index]);
    // With exactly five points this is the minimal solver: up to ten matrices, one below the other.
    const cv::Mat stacked =
        cv::findEssentialMat(points_matrix(five, false), points_matrix(five, true), camera);
    for (int row = 0; row + 3 <= stacked.rows; row += 3) {
      Eigen::Matrix3d e;
      for (int i = 0; i < 3; ++i) {
        for (int k = 0; k < 3; ++k) e(i, k) = stacked.at<double>(row + i, k);
      }
      if (!e.allFinite()) continue;
      const double give_up = best.size() < kCandidatesKept ? std::numeric_limits<double>::infinity()
                                                           : best.back().score;
      const double score = score_of(common, e, squared_limit, give_up);
      if (score >= give_up) continue;
      best.insert(std::upper_bound(best.begin(), best.end(), score,
                                   [](double value, const Scored& s) { return value < s.score; }),
                  Scored{e, score});
      if (best.size() > kCandidatesKept) best.pop_back();
    }
  }
  for (const Scored& scored : best) {
    if (const auto pose = pose_of(scored.e, common, squared_limit))
      candidates.push_back({*pose, scored.score});
  }
}

void add_homography_candidates(const std::vector<CommonPoint>& common, double squared_limit,
                               std::vector<RelativePose>& candidates) {
  std::vector<const CommonPoint*> all;
  double sigma = 0;
  for (const CommonPoint& c : common) {
    all.push_back(&c);
    sigma += (c.first->sigma + c.second->sigma) / (2 * static_cast<double>(common.size()));
  }
  // Points near a plane will do: the least squares that follow know nothing of a plane.
  const cv::Mat homography = cv::findHomography(points_matrix(all, false), points_matrix(all, true),
                                                cv::RANSAC, 3 * std::sqrt(squared_limit) * sigma);
  if (homography.empty()) return;
  std::vector<cv::Mat> rotations, translations, normals;
  cv::decomposeHomographyMat(homography, cv::Mat::eye(3, 3, CV_64F), rotations, translations,
                             normals);
  for (std::size_t i = 0; i < rotations.size(); ++i) {
    CameraPose pose;
    for (int r = 0; r < 3; ++r) {
      for (int c = 0; c < 3; ++c) pose.rotation(r, c) = rotations[i].at<double>(r, c);
      pose.translation[r] = translations[i].at<double>(r);
    }
    if (!(pose.translation.norm() > 1e-6) || !pose.rotation.allFinite()) continue;
    pose.translation.normalize();
    // The decomposition comes in pairs of opposite base; only the sign that puts the points in
    // front is kept.
    CameraPose opposite = pose;
    opposite.translation = -pose.translation;
    if (depths(common, opposite, squared_limit).in_front >
        depths(common, pose, squared_limit).in_front)
      pose = opposite;
    candidates.push_back({pose, 0.0});
  }
}

bool same_pose(const CameraPose& a, const CameraPose& b) {
  return Eigen::AngleAxisd(a.rotation.transpose() * b.rotation).angle() < kSameRotationRad &&
         std::acos(std::clamp(a.translation.dot(b.translation), -1.0, 1.0)) < kSameBaseRad;
}

std::optional<TwoViewStart> orient_pair(const std::vector<CommonPoint>& common, int first,
                                        int second, double across, const Tolerance& tolerance,
                                        std::uint32_t seed) {
  const double squared_limit = tolerance.limit * tolerance.limit;
  std::mt19937 random(seed);
  std::vector<RelativePose> candidates;
  add_five_point_candidates(common, squared_limit, random, candidates);
  add_homography_candidates(common, squared_limit, candidates);

  std::vector<RelativePose> minima;
  for (const RelativePose& candidate : candidates) {
    const RelativePose settled = settle(common, candidate.second_from_first, squared_limit);
    const Depths d = depths(common, settled.second_from_first, squared_limit);
    // Nearly all points that fit must lie in front; a few far ones may flip in the noise.
    if (d.fitting < kLeastCommonPoints || d.in_front < 0.9 * d.fitting ||
        d.fitting < 0.6 * static_cast<double>(common.size())) {
      continue;
    }
    minima.push_back(settled);
  }
  if (minima.empty()) return std::nullopt;
  std::stable_sort(minima.begin(), minima.end(),
                   [](const RelativePose& a, const RelativePose& b) { return a.score < b.score; });

  TwoViewStart start{first, second, {}, 0.0};
  const Eigen::Matrix3d best_essential = essential(minima.front().second_from_first);
  std::vector<double> squared;
  for (const CommonPoint& c : common) {
    // One residual a point: as the sum of two equal halves it fits the factor's median.
    const double value = sampson(best_essential, c);
    if (value <= squared_limit) squared.push_back(2 * value);
  }
  const double factor = std::max(1.0, robust_factor(squared));
  const int unknowns = 5 + 3 * static_cast<int>(common.size());
  const double bar = ambiguity_bar(tolerance, static_cast<int>(common.size()) - 5, unknowns);
  for (const RelativePose& pose : minima) {
    // Twice the limit: these scores are first-order, the bundle adjustment decides.
    if ((pose.score - minima.front().score) / (factor * factor) > 2 * bar) break;
    const bool known =
        std::any_of(start.poses.begin(), start.poses.end(), [&](const RelativePose& other) {
          return same_pose(other.second_from_first, pose.second_from_first);
        });
    if (!known) start.poses.push_back(pose);
    if (start.poses.size() == kPosesKept) break;
  }
  // One with parallax is enough: the second solution of a plane may well lie far out, and yet fit.
  const bool any_parallax =
      std::any_of(start.poses.begin(), start.poses.end(), [&](const RelativePose& pose) {
        return depths(common, pose.second_from_first, squared_limit).parallax_rad >=
               kLeastParallaxRad;
      });
  if (!any_parallax) return std::nullopt;
  start.quality = depths(common, start.poses.front().second_from_first, squared_limit).weighted *
                  std::min(1.0, across / kGoodSpread) / (start.poses.size() > 1 ? 2.0 : 1.0) /
                  factor;
  return start;
}

}  // namespace

StartSearch find_starts(const MarkTable& table, const std::vector<bool>& allowed_photo,
                        const Tolerance& tolerance, std::uint32_t seed,
                        const std::function<bool()>& cancelled) {
  StartSearch search;
  struct Pair {
    int first, second;
    double across;
    double promise;
  };
  std::vector<Pair> pairs;
  for (int first = 0; first < table.photo_count(); ++first) {
    if (!allowed_photo[first]) continue;
    if (cancelled && cancelled()) return search;
    for (int second = first + 1; second < table.photo_count(); ++second) {
      if (!allowed_photo[second]) continue;
      const auto common = common_points(table, first, second);
      const int n = static_cast<int>(common.size());
      if (n > search.most_common_points) {
        search.most_common_points = n;
        search.best_first = first;
        search.best_second = second;
      }
      if (n < kLeastCommonPoints) continue;
      search.any_common = true;
      const auto [across_first, sigmas_first] = spread(common, false);
      const auto [across_second, sigmas_second] = spread(common, true);
      if (std::min(sigmas_first, sigmas_second) < kLineSigmas) continue;
      search.any_spread = true;
      const double misfit = turn_only_misfit(common);
      if (misfit < kParallaxSigmas) continue;
      search.any_parallax = true;
      const double across = std::min(across_first, across_second);
      pairs.push_back(
          {first, second, across,
           n * std::min(1.0, misfit / kGoodTurnResidual) * std::min(1.0, across / kGoodSpread)});
    }
  }
  std::stable_sort(pairs.begin(), pairs.end(),
                   [](const Pair& a, const Pair& b) { return a.promise > b.promise; });
  int oriented = 0;
  for (const Pair& pair : pairs) {
    // Go on beyond the best only while nothing has come out.
    if (oriented >= kPairsOriented && !search.starts.empty()) break;
    if (oriented >= 5 * kPairsOriented || (cancelled && cancelled())) break;
    ++oriented;
    if (auto start = orient_pair(common_points(table, pair.first, pair.second), pair.first,
                                 pair.second, pair.across, tolerance, seed)) {
      search.starts.push_back(std::move(*start));
    }
  }
  std::stable_sort(
      search.starts.begin(), search.starts.end(),
      [](const TwoViewStart& a, const TwoViewStart& b) { return a.quality > b.quality; });
  return search;
}

Model start_model(const MarkTable& table, const TwoViewStart& start, const RelativePose& pose,
                  const Tolerance& tolerance) {
  Model model(table);
  model.poses[start.first] = CameraPose{};
  model.poses[start.second] = pose.second_from_first;
  for (const CommonPoint& c : common_points(table, start.first, start.second)) {
    (void)intersect(table, model, c.first->point, tolerance);
  }
  return model;
}

}  // namespace measure::internal
