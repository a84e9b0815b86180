// Where each photo was taken and where each point lies, from marks alone: the start of the bundle
// adjustment.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/camera/intrinsics.h"
#include "calib/camera/projection.h"

namespace measure {

struct PhotoToOrient {
  std::string name;  ///< unique; used in sentences, and to make the result independent of the order
  calib::Intrinsics camera;
  calib::ImageSize size;
};

/// Where a point is seen in a photo; both by their index in OrientationInput.
struct MarkToOrient {
  int photo = -1;
  int point = -1;
  Eigen::Vector2d position_px = Eigen::Vector2d::Zero();  ///< as clicked, distortion included
  double sigma_px = 0.5;                                  ///< a coordinate, a priori; > 0
};

/// All that orientation needs to know. At most one mark a point and photo.
struct OrientationInput {
  std::vector<PhotoToOrient> photos;
  std::vector<std::string> point_names;  ///< unique
  std::vector<MarkToOrient> marks;
};

/// How to orient. The defaults suit marks by hand and some tens of photos.
struct OrientationOptions {
  /// Rays that meet at less place no point.
  double min_intersection_angle_rad = 0.035;
  /// A mark off by more than this many of its σ is left out as a gross blunder (lesser ones stay
  /// in).
  double blunder_limit = 8.0;
  /// Two solutions closer than this in Σ(v/σ)² both stand: 99.9 % of χ²(2), a likelihood ratio of
  /// 1000. At the least: two solutions feel different parts of the noise, hence 6.18
  /// √min(redundancy, unknowns) if more.
  double ambiguity_chi_square = 13.82;
  /// Two-view starts that are tried before the best result is taken as it is.
  int max_starts = 4;
  int threads = 2;
  std::uint32_t seed = 1;  ///< of the random samples; the result is repeatable
  std::function<bool()> cancelled;
};

/// One solution. Lengths in SurveyUnits: the points' centroid is the origin and their rms radius
/// is 1.
struct Orientation {
  std::vector<std::optional<calib::Pose>> poses;  ///< camera_from_object of each photo, if placed
  std::vector<std::optional<Eigen::Vector3d>> points;  ///< of each point, if placed
  std::vector<bool>
      mark_in_use;  ///< of each mark: its photo and point are placed, and it is no gross blunder
  double chi_square = 0.0;  ///< Σ(v/σ)² of the marks in use; a mark left out counts blunder_limit²
  double rms_px = 0.0;      ///< √(Σ(dx²+dy²)/N) of the marks in use
};

/// Photos that could be oriented to each other.
struct PhotoGroup {
  std::vector<int> photos;  ///< ascending
  std::vector<int> points;  ///< placed in the group's own frame, ascending
};

struct OrientationResult {
  /// The best first. More than one: all of them fit, and only another photo can tell (`ambiguity`
  /// says so).
  std::vector<Orientation> solutions;
  std::string ambiguity;  ///< a sentence; empty with one solution
  /// Difference of Σ(v/σ)² up to which another solution stood beside the best; see
  /// OrientationOptions.
  double ambiguity_bar = 0.0;
  /// groups[0] is the one oriented in `solutions`; others could not be joined to it.
  std::vector<PhotoGroup> groups;
  std::vector<std::string>
      photo_lacks;  ///< of each photo, what it lacks, to follow its name; empty if placed
  std::vector<std::string> point_lacks;  ///< of each point likewise
  std::vector<int> gross_marks;  ///< of placed photos and points, yet left out: probable blunders
};

enum class OrientationError {
  kTooFewPhotos,        ///< fewer than two photos have marks
  kTooFewCommonPoints,  ///< no two photos share six points
  kPointsInLine,        ///< in every pair of photos the common points lie in one line
  kOneSpot,             ///< no pair of photos has parallax
  kContradiction,       ///< no pair of photos has a relative orientation that its marks agree on
  kCancelled,
};

struct OrientationFailure {
  OrientationError error = OrientationError::kContradiction;
  calib::Problem problem;  ///< sentence with remedy; Blame::kSurvey
};

/// Orients all photos that can be, in any order and without start values.
///
/// Two-view starts are ranked by common points, parallax and spread; relative orientation comes
/// from five-point samples and, for planar objects, from the homography with both of its solutions.
/// Photos follow by resection (three-point samples, then least squares; poses that are weak or have
/// a rival wait for more points), points by intersection, with a robust bundle adjustment in
/// between. Photos that share too little with the others are grouped apart, never glued. Where a
/// start has several solutions all are carried through, and those that fit equally well are
/// returned.
///
/// Time: 16 photos × 90 points some 0.2 s, 100 × 2,000 (6 marks a point) some seconds.
/// Errors: see OrientationError.
/// Sources: D. Nistér, IEEE PAMI 26(6) 2004 (five points); O. Faugeras & F. Lustman 1988
/// (homography);
///          Hartley & Zisserman, Multiple View Geometry, 2nd ed. (2004), ch. 9, 12, 18.
[[nodiscard]] calib::Result<OrientationResult, OrientationFailure> orient(
    const OrientationInput& input, const OrientationOptions& options = {});

/// Photos and points that stand already, in any frame and unit; nothing where they do not.
struct KnownOrientation {
  std::vector<std::optional<calib::Pose>> poses;       ///< as OrientationInput::photos
  std::vector<std::optional<Eigen::Vector3d>> points;  ///< as OrientationInput::point_names
};

/// Goes on from what stands: resection and intersection of the rest, without a new start. What no
/// longer has the marks to stand is taken out. Photos apart are not grouped, and no other shape is
/// looked for: that is orient()'s work.
///
/// Errors: kTooFewPhotos if fewer than two photos stay placed.
[[nodiscard]] calib::Result<OrientationResult, OrientationFailure> orient_from(
    const OrientationInput& input, const KnownOrientation& known,
    const OrientationOptions& options = {});

}  // namespace measure
