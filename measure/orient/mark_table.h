// The marks as orientation needs them, and the model that grows from them. For the .cpp files of
// this room only.
#pragma once

#include <optional>
#include <vector>

#include <Eigen/Core>

#include "measure/orient/orient.h"

namespace measure::internal {

/// A mark with its distortion removed.
struct UsableMark {
  int input = -1;              ///< index in OrientationInput::marks
  int photo = -1, point = -1;  ///< in the table's order
  Eigen::Vector2d position_px = Eigen::Vector2d::Zero();
  double sigma_px = 0.5;
  Eigen::Vector2d ideal = Eigen::Vector2d::Zero();  ///< normalised: (x/z, y/z) in the camera frame
  double sigma = 0.0;                               ///< of `ideal`, a coordinate
  Eigen::Vector3d ray = Eigen::Vector3d::Zero();    ///< unit length, camera frame
};

/// All usable marks. Photos, points and marks stand in the order of their names, so that nothing
/// that follows depends on the order in which they were given.
struct MarkTable {
  std::vector<int> photo_input, point_input;         ///< index in OrientationInput of each
  std::vector<calib::Intrinsics> cameras;            ///< of each photo
  std::vector<UsableMark> marks;                     ///< sorted by photo, then point
  std::vector<std::vector<int>> of_photo, of_point;  ///< indices into marks

  [[nodiscard]] int photo_count() const { return static_cast<int>(of_photo.size()); }
  [[nodiscard]] int point_count() const { return static_cast<int>(of_point.size()); }
};

/// Marks that the camera model cannot undo (beyond its reach) are not in the table.
MarkTable make_mark_table(const OrientationInput& input);

/// camera_from_object, as a matrix: resection and intersection evaluate it often.
struct CameraPose {
  Eigen::Matrix3d rotation = Eigen::Matrix3d::Identity();
  Eigen::Vector3d translation = Eigen::Vector3d::Zero();

  [[nodiscard]] Eigen::Vector3d operator*(const Eigen::Vector3d& point) const {
    return rotation * point + translation;
  }
  [[nodiscard]] Eigen::Vector3d centre() const { return -(rotation.transpose() * translation); }
};

/// What is placed so far.
struct Model {
  std::vector<std::optional<CameraPose>> poses;
  std::vector<std::optional<Eigen::Vector3d>> points;
  std::vector<bool> in_use;  ///< of each mark of the table

  explicit Model(const MarkTable& table)
      : poses(table.photo_count()),
        points(table.point_count()),
        in_use(table.marks.size(), false) {}
  [[nodiscard]] bool holds(const UsableMark& mark) const {
    return poses[mark.photo].has_value() && points[mark.point].has_value();
  }
  [[nodiscard]] int placed_photos() const;
  [[nodiscard]] int placed_points() const;
};

/// Square of the residual in units of σ, in the normalised image; infinite behind the camera.
[[nodiscard]] double squared_residual(const UsableMark& mark, const CameraPose& pose,
                                      const Eigen::Vector3d& point);

/// What is let pass.
struct Tolerance {
  double limit = 8.0;  ///< in σ; what a blunder exceeds
  double min_angle_rad = 0.035;
  double ambiguity_chi_square = 13.82;
};

/// Difference of Σ(v/σ)² below which two solutions of one set of marks both stand, for σ that fit.
///
/// Two least-squares solutions project the same noise on different subspaces; the difference of
/// their sums has variance 2 tr((P − Q)²) ≤ 4 min(redundancy, unknowns). Its 99.9 % point,
/// normal: 6.18 √min(…). In a pair of photos, where points absorb three quarters of the noise, a
/// wrong solution that fits exactly comes out better by far more than the constant that would do
/// for nested hypotheses.
[[nodiscard]] double ambiguity_bar(const Tolerance& tolerance, int redundancy, int unknowns);

/// Robust σ factor from squared residuals of two coordinates each: 1 where the a-priori σ fits.
/// Median based: the median of χ²(2) is 2 ln 2.
[[nodiscard]] double robust_factor(std::vector<double> squared_residuals);

}  // namespace measure::internal
