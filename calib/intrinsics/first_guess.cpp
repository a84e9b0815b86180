#include "calib/intrinsics/first_guess.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <Eigen/Geometry>
#include <opencv2/calib3d.hpp>
#include <opencv2/core.hpp>

namespace calib {
namespace {

/// x and y of the corner's nominal point; the height of a nearly flat pattern does not matter for a
/// start.
cv::Point2d on_board(std::span<const Eigen::Vector3d> points_mm, const Corner& corner) {
  const Eigen::Vector3d& point = points_mm[static_cast<std::size_t>(corner.point)];
  return {point.x(), point.y()};
}

}  // namespace

std::vector<double> focal_length_candidates(std::span<const Eigen::Vector3d> board_points_mm,
                                            std::span<const CornerSet> sets, ImageSize image_size,
                                            const Eigen::Vector2d& principal_point_px) {
  const double side_px = std::max(image_size.width, image_size.height);
  std::vector<double> candidates;
  // h1ᵀωh2 = 0 and h1ᵀωh1 = h2ᵀωh2 with ω = diag(s, s, 1), s = 1/f²: two lines a·s + b = 0 a photo.
  double aa = 0, ab = 0;
  for (const CornerSet& set : sets) {
    std::vector<cv::Point2d> from, to;
    for (const Corner& corner : set.corners) {
      from.push_back(on_board(board_points_mm, corner));
      to.emplace_back((corner.position_px.x() - principal_point_px.x()) / side_px,
                      (corner.position_px.y() - principal_point_px.y()) / side_px);
    }
    cv::Mat h;
    try {
      h = cv::findHomography(from, to, from.size() >= 8 ? cv::LMEDS : 0);
    } catch (const cv::Exception&) {
      continue;
    }
    if (h.empty()) continue;
    const Eigen::Vector3d h1(h.at<double>(0, 0), h.at<double>(1, 0), h.at<double>(2, 0));
    const Eigen::Vector3d h2(h.at<double>(0, 1), h.at<double>(1, 1), h.at<double>(2, 1));
    const double norm = h1.norm() * h2.norm();
    const std::array<double, 2> a{h1.head<2>().dot(h2.head<2>()) / norm,
                                  (h1.head<2>().squaredNorm() - h2.head<2>().squaredNorm()) / norm};
    const std::array<double, 2> b{h1.z() * h2.z() / norm,
                                  (h1.z() * h1.z() - h2.z() * h2.z()) / norm};
    for (std::size_t i = 0; i < 2; ++i) {
      aa += a[i] * a[i];
      ab += a[i] * b[i];
    }
  }
  const double s = aa > 0 ? -ab / aa : 0.0;
  if (s > 0) {
    const double focal = 1 / std::sqrt(s);
    if (focal > 0.2 && focal < 50) candidates.push_back(focal * side_px);
  }
  for (const double usual : {1.0, 0.6, 1.7, 3.0, 6.0}) candidates.push_back(usual * side_px);
  return candidates;
}

std::vector<GuessedPose> pose_candidates(std::span<const Eigen::Vector3d> board_points_mm,
                                         const CornerSet& set, const Intrinsics& camera) {
  std::vector<cv::Point3d> object;
  std::vector<cv::Point2d> image;
  for (const Corner& corner : set.corners) {
    const auto ideal = unproject(camera, corner.position_px);
    if (!ideal) continue;  // beyond a model that is itself only a guess
    const cv::Point2d point = on_board(board_points_mm, corner);
    object.emplace_back(point.x, point.y, 0.0);
    image.emplace_back(ideal->x(), ideal->y());
  }
  std::vector<GuessedPose> candidates;
  if (object.size() < 4) return candidates;
  const cv::Mat identity = cv::Mat::eye(3, 3, CV_64F);
  std::vector<cv::Mat> rotations, translations;
  try {
    cv::solvePnPGeneric(object, image, identity, cv::noArray(), rotations, translations, false,
                        cv::SOLVEPNP_IPPE);
    for (std::size_t i = 0; i < rotations.size(); ++i) {
      cv::solvePnPRefineLM(object, image, identity, cv::noArray(), rotations[i], translations[i]);
      GuessedPose guess;
      for (int k = 0; k < 3; ++k) {
        guess.pose.rotation[k] = rotations[i].at<double>(k);
        guess.pose.translation[k] = translations[i].at<double>(k);
      }
      const Eigen::Matrix3d rotation = guess.pose.rotation_matrix();
      bool in_front = guess.pose.vector().allFinite();
      for (std::size_t k = 0; k < object.size() && in_front; ++k) {
        const Eigen::Vector3d in_camera =
            rotation * Eigen::Vector3d(object[k].x, object[k].y, object[k].z) +
            guess.pose.translation;
        in_front = in_camera.z() > 0;
        guess.squared_error +=
            (in_camera.hnormalized() - Eigen::Vector2d(image[k].x, image[k].y)).squaredNorm();
      }
      guess.squared_error /= static_cast<double>(object.size());
      if (in_front) candidates.push_back(guess);
    }
  } catch (const cv::Exception&) {
    // Corners in one line and the like: no pose from this photo.
  }
  std::sort(candidates.begin(), candidates.end(), [](const GuessedPose& a, const GuessedPose& b) {
    return a.squared_error < b.squared_error;
  });
  return candidates;
}

}  // namespace calib
