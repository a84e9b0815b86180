// A dossier adjusted: from marks, cameras and bars to oriented photos and points with their joint
// covariance.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "calib/adjust/budget.h"
#include "calib/adjust/covariance.h"
#include "calib/adjust/curve_blocks.h"
#include "calib/adjust/network.h"
#include "calib/adjust/snooping.h"
#include "calib/adjust/variance_factors.h"
#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/camera/camera.h"
#include "calib/camera/projection.h"
#include "measure/dossier/dossier.h"

namespace measure {

class Survey;

/// How to adjust a dossier.
struct SurveyOptions {
  /// A solution of nearly the same dossier: what it places is not oriented anew but goes on from
  /// there, photos and points told apart by name. Not kept.
  const Survey* start = nullptr;
  /// Overrides what the dossier says of its cameras.
  std::optional<CameraUse> camera_use;
  /// Leave the doubted marks out of the result. Without it they are reported, and used.
  bool leave_out_doubted = false;
  /// Run the trial that finds doubted marks. Monte Carlo runs do without.
  bool look_for_blunders = true;
  /// Tells how far the work is, 0 to 1, with what is being done.
  std::function<void(double, const std::string&)> progress;
  std::function<bool()> cancelled;
};

struct PhotoReport {
  std::string name;
  bool placed = false;
  std::string reason;            ///< what it lacks; empty where placed
  std::optional<double> rms_px;  ///< √(Σ(dx²+dy²)/N) of the marks in use
  int marks = 0;                 ///< in use
  calib::Pose pose;              ///< camera_from_object, in the unit of the survey
};

struct MarkReport {
  std::string photo, point;
  Eigen::Vector2d residual_px = Eigen::Vector2d::Zero();  ///< projected − marked
  /// The same against the survey without the doubted marks, as the test sees it: of a doubted mark,
  /// from it to where the others put its point.
  Eigen::Vector2d residual_without_doubted_px = Eigen::Vector2d::Zero();
  double w = 0.0;  ///< normalised residual, against critical_w
  double critical_w = 0.0;
  double redundancy = 0.0;  ///< 0: its own residual shows nothing of a blunder; 1: all of it
  bool controlled = true;   ///< redundancy of at least 0.05
  bool in_use = true;
  bool doubted = false;
};

/// A mark on an edge, circle or cylinder.
struct ShapeMarkReport {
  std::string photo, shape;
  Eigen::Vector2d position_px = Eigen::Vector2d::Zero();  ///< as marked
  Eigen::Vector2d foot_px = Eigen::Vector2d::Zero();      ///< the nearest place of the shape
  double residual_px = 0.0;                               ///< how far beside: to the foot, ≥ 0
  double w = 0.0;  ///< normalised residual, against critical_w
  double critical_w = 0.0;
  double redundancy = 0.0;
  bool controlled = true;  ///< redundancy of at least 0.05
  bool in_use = true;
  bool doubted = false;
};

/// An edge, circle or cylinder that is measured by marks of its own.
struct SeenShapeReport {
  std::string name;
  bool placed = false;
  std::string reason;           ///< what it lacks
  int marks = 0;                ///< in use
  int photos = 0;               ///< that these are in
  double from = 0.0, to = 0.0;  ///< what was marked of it, along its direction from its place
};

struct PointReport {
  std::string name;
  bool placed = false;
  std::string reason;  ///< what it lacks
  Eigen::Vector3d position = Eigen::Vector3d::Zero();
  Eigen::Matrix3d covariance =
      Eigen::Matrix3d::Zero();  ///< free network (inner constraints over all points)
  int marks = 0;
};

struct BarReport {
  std::string name;
  bool used = false;          ///< false: a check length, or its ends are not placed
  std::string reason;         ///< why it could not be compared
  double certified_mm = 0.0;  ///< at the temperature of the day
  double u_mm = 0.0;          ///< of that, own and common part
  double found_mm = 0.0;
  double error_mm = 0.0;    ///< found − certified
  double u_error_mm = 0.0;  ///< standard uncertainty of the error
  /// Something else than the bar itself says how long it is. Else it fits by itself, and its error
  /// means nothing: a single bar, or one so much better than the others that they cannot judge it.
  bool checked = false;
  bool contradicts =
      false;  ///< against the other bars, |error| beyond 3.29 of its standard uncertainty
};

struct CameraReport {
  std::string name;
  CameraUse use = CameraUse::kPrior;
  calib::Intrinsics intrinsics;  ///< after the adjustment
  calib::IntrinsicMatrix covariance = calib::IntrinsicMatrix::Zero();
  std::optional<double> change_d2;  ///< Δᵀ(Σ_prior − Σ_post)⁺Δ
  bool as_calibrated = true;        ///< false beyond the 99.9 % point of χ²
  std::string changed_parameter;    ///< the one that moved most against its u
};

/// Unit of the survey's lengths: millimetres with a scale bar, else one that only ratios survive.
enum class LengthUnit { kMillimetre, kFree };

struct SurveyReport {
  LengthUnit unit = LengthUnit::kMillimetre;
  double rms_px = 0.0;
  calib::adjust::FitStatistics fit;
  std::vector<std::string> group_names;  ///< of fit.groups
  std::vector<PhotoReport> photos;
  std::vector<PointReport> points;
  std::vector<MarkReport> marks;
  std::vector<SeenShapeReport> shapes;  ///< all seen shapes of the dossier, in its order
  std::vector<ShapeMarkReport> shape_marks;
  std::vector<BarReport> bars;
  std::vector<CameraReport> cameras;
  std::vector<std::pair<std::string, std::pair<std::string, std::string>>>
      swaps;  ///< photo, two points
  /// Groups of marks (photo, point or shape) of which one is wrong, and no other mark tells which;
  /// none of them is doubted, and all are in use.
  std::vector<std::vector<std::pair<std::string, std::string>>> one_of_these;
  double expected_false_doubts = 0.0;
  std::string datum;                  ///< what the observations leave free
  std::vector<std::string> warnings;  ///< sentences
  std::string temperature_sentence;   ///< at which temperature the lengths hold
};

/// An edge, circle or cylinder as an unknown of the network.
struct SeenShape {
  calib::adjust::BlockId block;
  calib::adjust::CurveKind kind = calib::adjust::CurveKind::kEdge;
  calib::adjust::CurveFrame frame;
  double from = 0.0, to = 0.0;  ///< as in SeenShapeReport
};

/// The adjusted network of a dossier. Everything a dimension needs: values, gradients' blocks,
/// covariance.
class Survey {
 public:
  Survey(Survey&&) noexcept;
  Survey& operator=(Survey&&) noexcept;
  ~Survey();

  [[nodiscard]] const SurveyReport& report() const;
  [[nodiscard]] const calib::adjust::Network& network() const;
  [[nodiscard]] const calib::adjust::Covariance& covariance() const;

  /// Block of a placed point, or nothing with the reason in `why`.
  [[nodiscard]] std::optional<calib::adjust::BlockId> point(const std::string& name,
                                                            std::string* why = nullptr) const;
  /// A placed seen shape, or nothing with the reason in `why`.
  [[nodiscard]] std::optional<SeenShape> shape(const std::string& name,
                                               std::string* why = nullptr) const;
  /// Block of a placed photo's pose (6), and of the camera it was taken with (9); else nothing.
  [[nodiscard]] std::optional<calib::adjust::BlockId> pose_block(const std::string& photo) const;
  [[nodiscard]] std::optional<calib::adjust::BlockId> camera_block(const std::string& photo) const;
  /// Blocks of the original's temperature and expansion, where the dossier tells them.
  [[nodiscard]] std::optional<calib::adjust::BlockId> temperature() const;
  [[nodiscard]] std::optional<calib::adjust::BlockId> expansion() const;

  /// Budget groups of the network's groups: "marks", "cameras", "bars", "temperature".
  [[nodiscard]] const std::vector<std::string>& budget_groups() const;
  /// Degrees of freedom of each group's factor: its redundancy where estimated, else infinite.
  [[nodiscard]] std::vector<double> group_degrees_of_freedom() const;

  /// Largest change of a function that a blunder in one mark makes which the test finds with
  /// probability 0.80 only (external reliability; Baarda 1968). Marks that no test controls have no
  /// such bound.
  [[nodiscard]] double external_reliability(const calib::adjust::Gradient& gradient) const;

  /// Values of all blocks of one simulated survey: marks, bars, cameras and temperature drawn anew
  /// about the adjusted ones with their (scaled) σ, and solved again. Nothing if the solution
  /// failed.
  [[nodiscard]] std::optional<std::vector<Eigen::VectorXd>> simulate(std::uint32_t seed) const;

  struct State;
  explicit Survey(std::unique_ptr<State> state);

 private:
  std::unique_ptr<State> state_;
};

/// Orients and adjusts. Cameras are given by name, as read from their files.
///
/// Errors: kInput where the dossier contradicts itself (mark outside its photo, camera of another
/// size);
///         kSurvey where no survey can be solved, or two shapes fit equally well.
[[nodiscard]] calib::Result<Survey, calib::Problem> solve_survey(
    const Dossier& dossier, const std::map<std::string, calib::Camera>& cameras,
    const SurveyOptions& options = {});

}  // namespace measure
