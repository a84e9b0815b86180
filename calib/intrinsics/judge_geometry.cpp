#include "calib/intrinsics/judge_geometry.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <sstream>

#include <Eigen/Eigenvalues>

#include "calib/base/units.h"

namespace calib {
namespace {

constexpr std::size_t kFewPhotos = 8;
constexpr double kLeastTilt_deg = 20.0;
constexpr double kLeastTiltAcross_deg = 10.0;
/// A corner region: this part of the frame's width and height.
constexpr double kCornerRegion = 0.25;
/// s0 beyond which something other than noise is at work.
constexpr double kStrangeSigma0 = 2.0;
/// Focal lengths of single photos that spread by more than this, weighted, in parts: a lens that
/// was touched. A board held in the hand bends a little from photo to photo, which looks alike:
/// 0.33 % in both sets of photographs of CHECKS 1.3, whose lenses were fixed.
constexpr double kFocusSpread = 0.005;
/// … while their mean square in standard deviations is above this: 1 where nothing happened.
constexpr double kFocusChiSquare = 4.0;
constexpr double kNamedFocus = 3.0;  ///< standard deviations from which a photo is named
/// Part of a photo's corners.
constexpr double kManyLeftOut = 0.25;
constexpr std::size_t kListed = 4;

std::string joined(const std::vector<std::string>& words, const std::string& last = " and ") {
  std::string text;
  const std::size_t shown = std::min(words.size(), kListed);
  for (std::size_t i = 0; i < shown; ++i) {
    text += (i == 0 ? "" : i + 1 == words.size() ? last : ", ") + words[i];
  }
  if (words.size() > shown) text += " and " + std::to_string(words.size() - shown) + " more";
  return text;
}

std::string number(double value, int digits) {
  std::ostringstream text;
  text.precision(digits);
  text << value;
  return text.str();
}

}  // namespace

std::vector<std::string> geometry_warnings(const IntrinsicsSolution& solution) {
  std::vector<std::string> warnings;
  if (solution.photos.size() < kFewPhotos) {
    warnings.push_back(
        "only " + std::to_string(solution.photos.size()) +
        " photos are used: 12 to 20 from different sides make the camera surer and let a bad "
        "photo be noticed");
  }

  // The board's normal across the camera's axis: its length is the sine of the tilt.
  double largest_tilt_rad = 0;
  Eigen::Matrix2d scatter = Eigen::Matrix2d::Zero();
  std::vector<Eigen::Vector2d> leans;
  for (const SolvedPhoto& photo : solution.photos) {
    const Eigen::Vector3d normal = photo.pose.rotation_matrix().col(2);
    const Eigen::Vector2d lean = normal.head<2>() * (normal.z() < 0 ? -1.0 : 1.0);
    leans.push_back(lean);
    scatter += lean * lean.transpose();
    largest_tilt_rad = std::max(largest_tilt_rad, photo.tilt_rad);
  }
  const double largest_tilt_deg = largest_tilt_rad * kDegreesPerRadian;
  if (largest_tilt_deg < kLeastTilt_deg) {
    warnings.push_back("all photos look at the board nearly straight on (at most " +
                       std::to_string(std::lround(largest_tilt_deg)) +
                       " degrees from it): focal length and distance are hard to tell apart. Take "
                       "one photo each from about 40 "
                       "degrees to the left, right, above and below");
  } else {
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> axes(scatter);
    const Eigen::Vector2d across = axes.eigenvectors().col(0);
    double largest_across = 0;
    for (const Eigen::Vector2d& lean : leans) {
      largest_across = std::max(largest_across, std::abs(across.dot(lean)));
    }
    if (std::asin(std::min(largest_across, 1.0)) * kDegreesPerRadian < kLeastTiltAcross_deg) {
      const bool upright = std::abs(across.y()) > std::abs(across.x());
      warnings.push_back(
          std::string("the photos are tilted in one direction only: take one more from about 40 "
                      "degrees ") +
          (upright ? "above and one from below" : "to the left and one to the right") +
          ", as the photo's frame stands");
    }
  }

  const double width = solution.image_size.width, height = solution.image_size.height;
  std::array<bool, 4> covered{};
  for (const SolvedPhoto& photo : solution.photos) {
    for (const CornerResidual& corner : photo.corners) {
      if (corner.left_out) continue;
      const double x = corner.position_px.x() / width, y = corner.position_px.y() / height;
      const bool at_side = x < kCornerRegion || x > 1 - kCornerRegion;
      const bool at_end = y < kCornerRegion || y > 1 - kCornerRegion;
      if (at_side && at_end) covered[(y > 0.5 ? 2U : 0U) + (x > 0.5 ? 1U : 0U)] = true;
    }
  }
  constexpr std::array<const char*, 4> kNames = {"upper left", "upper right", "lower left",
                                                 "lower right"};
  std::vector<std::string> empty;
  for (std::size_t i = 0; i < covered.size(); ++i) {
    if (!covered[i]) empty.emplace_back(kNames[i]);
  }
  if (!empty.empty()) {
    warnings.push_back("no corner of the board was seen in the " + joined(empty) +
                       " of the frame, where the distortion is therefore only continued: take " +
                       (empty.size() == 1 ? "a photo" : "photos") + " with the board there");
  }
  return warnings;
}

std::vector<std::string> residual_warnings(const IntrinsicsSolution& solution) {
  std::vector<std::string> warnings;
  const bool strange = solution.sigma0 > kStrangeSigma0 && solution.sigma0 > solution.sigma0_high;
  double weights = 0, weighted_squares = 0;
  int told = 0;
  std::vector<std::string> refocused;
  for (const SolvedPhoto& photo : solution.photos) {
    const double change = photo.focal_change, u = photo.focal_change_u;
    if (!std::isfinite(change) || !(u > 0)) continue;
    ++told;
    weights += 1 / (u * u);
    weighted_squares += change * change / (u * u);
    if (std::abs(change) < kNamedFocus * u) continue;
    refocused.push_back(photo.file + " (" + (change > 0 ? "+" : "-") +
                        number(100 * std::abs(change), 2) + " %)");
  }
  const bool focus_differs = told > 1 && weighted_squares > kFocusChiSquare * told &&
                             weighted_squares > kFocusSpread * kFocusSpread * weights;
  if (focus_differs && !refocused.empty()) {
    warnings.push_back(
        "the focal length differs between photos: " + joined(refocused) +
        ". Was the lens refocused or zoomed between the shots, or did stabilisation or in-camera "
        "lens correction work? Fix the focus, switch both off, and take the set again");
  }
  if (strange) {
    const auto worst = std::max_element(
        solution.photos.begin(), solution.photos.end(),
        [](const SolvedPhoto& a, const SolvedPhoto& b) { return a.rms_px < b.rms_px; });
    std::string text = "the corners fit " + number(solution.sigma0, 2) +
                       " times worse than they were found (" +
                       number(solution.residual_sigma_px, 2) + " px a coordinate; worst in " +
                       worst->file + ", rms " + number(worst->rms_px, 2) + " px): ";
    text +=
        solution.board.shape_estimated
            ? "likely the board bent between the photos, or the lens was refocused or stabilised"
            : "likely the board is not flat or not printed true, or the lens was refocused or "
              "stabilised";
    warnings.push_back(text + ". The uncertainties are enlarged to match, but do not rely on them");
  }
  return warnings;
}

std::vector<std::string> left_out_warnings(const IntrinsicsSolution& solution) {
  std::vector<std::string> warnings;
  for (const SolvedPhoto& photo : solution.photos) {
    std::vector<std::string> points;
    for (const CornerResidual& corner : photo.corners) {
      if (!corner.left_out || !(corner.w > 0)) continue;
      points.push_back("corner " + std::to_string(corner.point) + " (off by " +
                       number(corner.residual_px.norm(), 2) + " px)");
    }
    if (!points.empty()) {
      warnings.push_back(
          photo.file + ": left out because the others contradict " +
          (points.size() == 1 ? "it: " : "them: ") + joined(points) +
          (static_cast<double>(points.size()) >
                   kManyLeftOut * static_cast<double>(photo.corners.size())
               ? ". So many in one photo: likely the board was bent, moved or partly "
                 "covered there; take that photo again"
               : ""));
    }
  }
  return warnings;
}

}  // namespace calib
