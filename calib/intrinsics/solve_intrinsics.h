// The camera from the corners of a flat pattern in several photos, with everything that is known of
// its errors.
#pragma once

#include <array>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/camera/intrinsics.h"
#include "calib/camera/projection.h"
#include "calib/intrinsics/corner_set.h"

namespace calib {

enum class BoardShape {
  kPerfect,  ///< the nominal points are the truth
  kPrior,    ///< the nominal points are known as well as BoardPrior says; the photos improve them
  kFree,     ///< nothing is known but one distance, which sets the scale
};

/// How well a printed board agrees with its drawing, as standard uncertainties.
///
/// Two kinds of error: what differs from point to point, and what a printer or a bent plate does to
/// the board as a whole (one direction longer than the other, a sheared grid; a bow along and
/// across, a twist). The overall size cannot be told from the distance and does not touch the
/// camera: it stays nominal.
struct BoardPrior {
  double in_plane_mm = 0.1;           ///< of one point, a coordinate
  double in_plane_relative = 0.0005;  ///< stretch of one axis against the other, and shear
  double out_of_plane_mm = 0.5;  ///< of one point, and of the bows and the twist at the board's rim
};

/// The distance that sets the scale of a board of free shape.
struct ScaleDistance {
  int from = 0, to = 0;  ///< points of the board
  double length_mm = 0.0;
};

/// How to solve a camera. The defaults suit a printed board and photos of any camera without
/// fisheye lens.
struct SolveIntrinsicsOptions {
  /// Parameters that may vary, in the order of IntrinsicIndex; the others keep their start values.
  std::array<bool, kIntrinsicCount> free{true, true, true, true, true, true, true, true, true};
  /// Start values, and the values of parameters that do not vary. Without it: the focal lengths
  /// come from the photos, the principal point is the middle of the photo, the distortion 0.
  std::optional<Intrinsics> start{};
  /// A first guess of the focal length, px (EXIF); only a help, and not needed.
  std::optional<double> focal_length_px{};
  /// Whether a parameter that the photos do not determine is held (see solve_intrinsics).
  bool hold_undetermined = true;

  BoardShape shape = BoardShape::kPrior;
  BoardPrior prior{};
  std::optional<ScaleDistance>
      scale{};  ///< kFree only; without it the two nominally furthest points

  /// Whether corners that fail the test are left out.
  bool outlier_test = true;
  /// Chance that a whole calibration without outlying corners loses one; shared among its corners.
  double outlier_significance = 0.05;

  bool want_board_covariance = false;  ///< the joint covariance of all board points
  int threads = 2;
  std::function<bool()> cancelled{};

  /// The first rule these options break, or nothing if they can be used.
  [[nodiscard]] std::optional<std::string> first_problem() const;
};

/// A corner after the adjustment.
struct CornerResidual {
  int point = 0;
  Eigen::Vector2d position_px;
  Eigen::Vector2d residual_px;  ///< found − computed; of a corner that is left out, too
  bool left_out = false;
  double w = 0.0;  ///< of a corner left out: test statistic in standard deviations of the others
};

struct SolvedPhoto {
  std::string file;
  Pose pose;              ///< camera_from_board
  double tilt_rad = 0.0;  ///< between the board's normal and the camera's axis
  double rms_px = 0.0;    ///< √(Σ(dx²+dy²)/N) of the corners that are used
  std::vector<CornerResidual> corners;
  /// How much longer the focal length of this photo alone would be, in parts, and its u: the trace
  /// of refocusing between the shots. NaN where the network does not tell.
  double focal_change = 0.0, focal_change_u = 0.0;
};

struct SolvedBoard {
  std::vector<Eigen::Vector3d>
      points_mm;                 ///< where the shape is estimated: in the best-fitting position
  std::vector<bool> determined;  ///< whether a photo that is used saw the point
  /// 3n×3n in the datum of inner constraints where the shape is free, mm²; empty unless asked for.
  Eigen::MatrixXd covariance_mm2;
  bool shape_estimated = false;
  /// max − min of the distances from the best plane, and its standard uncertainty (first order).
  /// NaN where the board was taken as perfect.
  double flatness_mm = 0.0, flatness_u_mm = 0.0;
  std::string datum;  ///< what the observations leave free, in words
  int datum_defect = 0;
};

/// The answer: values, uncertainties, quality.
struct IntrinsicsSolution {
  ImageSize image_size;
  Intrinsics intrinsics;
  std::array<bool, kIntrinsicCount> held{};
  /// 9×9, rows and columns of held parameters zero; s0 is in it.
  IntrinsicMatrix covariance = IntrinsicMatrix::Zero();
  std::vector<SolvedPhoto> photos;  ///< in the order given
  SolvedBoard board;

  int corners_used = 0;
  double rms_px = 0.0;  ///< √(Σ(dx²+dy²)/N)
  double sigma0 = 0.0;  ///< of the corners, a coordinate, relative to their a-priori σ
  double sigma0_low = 0.0,
         sigma0_high = 0.0;  ///< where 95 % of sigma0 lie if that σ is right (chi-square)
  int redundancy = 0;  ///< of the corners: their coordinates less the unknowns that they pay for
  double residual_sigma_px = 0.0;  ///< sigma0 times the typical a-priori σ: what a corner is worth
  double largest_radius = 0.0;     ///< normalised, ideal: how far out the distortion was observed
  std::vector<std::string> warnings;  ///< sentences
};

/// Parameters count as determined up to this u. Beyond it the photos tell less than what is known
/// of lenses anyway. Distortion is judged by what it moves at the radius r of the frame's furthest
/// corner (normalised), where the camera will be used, too.
struct DeterminationLimits {
  double focal_length = 0.03;     ///< u(f)/f; beyond it the camera is refused
  double principal_point = 0.02;  ///< u(c) over the photo's diagonal; beyond it held in the middle
  double k1 = 0.05;               ///< u(k1) r²: relative to the radius
  double k2 = 0.03;               ///< u(k2) r⁴
  double k3 = 0.02;               ///< u(k3) r⁶
  double tangential = 0.01;       ///< u(p) 3r
};

/// Solves focal lengths, principal point, distortion, poses and the shape of the board by least
/// squares.
///
/// Start: Zhang's closed form for one focal length, planar resection, robust adjustment. Then
/// weighted least squares in calib/adjust with s0 from the residuals; outlying corners by test, one
/// suspect at a time, left out and named. Parameters whose u exceeds DeterminationLimits are held
/// at their start values, one after another in the order k3, p1 with p2, k2, k1, cx with cy, and
/// said to be held: their error is in no uncertainty. (Not whether they differ from 0 is asked:
/// leaving out what is determined but small would make the error bars of the others too small.)
///
/// @param board_points_mm  the nominal pattern, n ≥ 4, near the plane z = 0, any arrangement.
/// @param sets  one a photo, at least 2 (1 if nothing of the camera may vary), each with at least 4
/// corners that
///              are not in one line.
/// Errors (kSurvey): too few photos or corners; focal length and distance cannot be told apart; no
/// solution.
///        (kInput): points or options that make no sense.
/// Source: Z. Zhang, IEEE TPAMI 22(11) 2000 (start, model); K. H. Strobl & G. Hirzinger, ICCV
/// Workshops 2011 (shape of the board).
[[nodiscard]] Result<IntrinsicsSolution, Problem> solve_intrinsics(
    std::span<const Eigen::Vector3d> board_points_mm, std::span<const CornerSet> sets,
    ImageSize image_size, const SolveIntrinsicsOptions& options = {});

}  // namespace calib
