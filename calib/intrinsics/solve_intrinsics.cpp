#include "calib/intrinsics/solve_intrinsics.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <set>
#include <sstream>
#include <utility>

#include <Eigen/Eigenvalues>
#include <Eigen/Geometry>

#include "calib/adjust/datum.h"
#include "calib/adjust/distributions.h"
#include "calib/adjust/network.h"
#include "calib/adjust/observations.h"
#include "calib/adjust/snooping.h"
#include "calib/adjust/solve.h"
#include "calib/adjust/variance_factors.h"
#include "calib/intrinsics/board_shape.h"
#include "calib/intrinsics/first_guess.h"
#include "calib/intrinsics/judge_geometry.h"

namespace calib {
namespace {

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
/// Parameters are held in this order; those that only together mean something go together.
const std::vector<std::vector<int>> kHoldOrder = {{kK3}, {kP1, kP2}, {kK2}, {kK1}, {kCx, kCy}};
/// How far a nominal point may lie from the plane, in parts of the pattern's size: the start takes
/// it as flat.
constexpr double kNearlyFlat = 0.05;
/// u of the distance that sets the scale, in parts: small against all that photos can tell, and not
/// so small that the normal matrix loses its digits.
constexpr double kScaleDistanceU = 1e-7;

/// s0 below which corners are no measurements.
constexpr double kExactCorners = 1e-3;
constexpr const char* kNotSeparable =
    "focal length and distance cannot be told apart: the photos look at the board too nearly "
    "straight on, or "
    "are too few. Take photos tilted by 30 to 45 degrees to the left, right, up and down";

Problem survey_problem(std::string sentence) { return {std::move(sentence), Blame::kSurvey}; }
Problem input_problem(std::string sentence) { return {std::move(sentence), Blame::kInput}; }

double pattern_size_mm(std::span<const Eigen::Vector3d> points_mm) {
  Eigen::Vector3d low = points_mm.front(), high = points_mm.front();
  for (const Eigen::Vector3d& point : points_mm) {
    low = low.cwiseMin(point);
    high = high.cwiseMax(point);
  }
  return (high - low).norm();
}

/// Whether points spread in two directions: the smaller spread against the larger.
double spread_ratio(const std::vector<Eigen::Vector2d>& points) {
  Eigen::Vector2d middle = Eigen::Vector2d::Zero();
  for (const Eigen::Vector2d& point : points) middle += point / static_cast<double>(points.size());
  Eigen::Matrix2d scatter = Eigen::Matrix2d::Zero();
  for (const Eigen::Vector2d& point : points) {
    scatter += (point - middle) * (point - middle).transpose();
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> axes(scatter);
  const Eigen::Vector2d squares = axes.eigenvalues().cwiseMax(0.0);
  return squares[1] > 0 ? std::sqrt(squares[0] / squares[1]) : 0.0;
}

std::optional<Problem> first_problem_of(std::span<const Eigen::Vector3d> points_mm,
                                        std::span<const CornerSet> sets, ImageSize image_size,
                                        const SolveIntrinsicsOptions& options) {
  if (const auto problem = options.first_problem()) return input_problem(*problem);
  if (image_size.width < 1 || image_size.height < 1) {
    return input_problem("the size of the photos must be at least 1x1 pixel");
  }
  if (points_mm.size() < 4) return input_problem("the board needs at least 4 points");
  const int point_count = static_cast<int>(points_mm.size());
  std::vector<Eigen::Vector2d> flat;
  for (const Eigen::Vector3d& point : points_mm) {
    if (!point.allFinite()) return input_problem("a point of the board is not a number");
    flat.push_back(point.head<2>());
  }
  if (spread_ratio(flat) < 1e-3) return input_problem("the points of the board lie in one line");
  const double size_mm = pattern_size_mm(points_mm);
  for (const Eigen::Vector3d& point : points_mm) {
    if (std::abs(point.z()) > kNearlyFlat * size_mm) {
      return input_problem("the board must be flat: its points must lie near the plane z = 0");
    }
  }
  if (options.scale) {
    const ScaleDistance& scale = *options.scale;
    if (scale.from < 0 || scale.from >= point_count || scale.to < 0 || scale.to >= point_count ||
        scale.from == scale.to || !(scale.length_mm > 0)) {
      return input_problem(
          "the distance that sets the scale needs two points and a length above 0");
    }
  }
  const bool any_free =
      std::find(options.free.begin(), options.free.end(), true) != options.free.end();
  const std::size_t least_photos = any_free ? 2 : 1;
  if (sets.size() < least_photos) {
    return survey_problem("a camera needs at least " + std::to_string(least_photos) +
                          " photos of the board: only " + std::to_string(sets.size()) + " given");
  }
  for (const CornerSet& set : sets) {
    std::set<int> seen;
    std::vector<Eigen::Vector2d> on_board;
    for (const Corner& corner : set.corners) {
      if (corner.point < 0 || corner.point >= point_count) {
        return input_problem(set.file + ": a corner names point " + std::to_string(corner.point) +
                             ", but the board has " + std::to_string(point_count));
      }
      if (!seen.insert(corner.point).second) {
        return input_problem(set.file + ": point " + std::to_string(corner.point) +
                             " is given twice");
      }
      const Eigen::Matrix2d& c = corner.covariance_px2;
      if (!corner.position_px.allFinite() || !(c(0, 0) > 0) || !(c.determinant() > 0)) {
        return input_problem(set.file + ": point " + std::to_string(corner.point) +
                             " has no usable position or uncertainty");
      }
      on_board.push_back(flat[static_cast<std::size_t>(corner.point)]);
    }
    if (on_board.size() < 4 || spread_ratio(on_board) < 1e-3) {
      return survey_problem(set.file + ": needs at least 4 corners that are not in one line");
    }
  }
  return std::nullopt;
}

std::string names_of(const std::vector<int>& parameters) {
  std::string text;
  for (const int k : parameters) {
    text +=
        (text.empty() ? "" : " and ") + std::string(kIntrinsicNames[static_cast<std::size_t>(k)]);
  }
  return text;
}

/// The network of one calibration, and how it is driven from start values to the answer.
class CameraNetwork {
 public:
  CameraNetwork(std::span<const Eigen::Vector3d> points_mm, std::span<const CornerSet> sets,
                ImageSize image_size, const SolveIntrinsicsOptions& options)
      : points_mm_(points_mm), sets_(sets), image_size_(image_size), options_(options) {
    solve_options_.threads = options.threads;
    solve_options_.cancelled = options.cancelled;
    start_ = options.start.value_or(
        Intrinsics{.cx = (image_size.width - 1) / 2.0, .cy = (image_size.height - 1) / 2.0});
    for (int k = 0; k < kIntrinsicCount; ++k) held_[k] = !options.free[k];
  }

  Result<IntrinsicsSolution, Problem> run();

 private:
  std::optional<Problem> guess();
  void build();
  void set_held(const std::vector<int>& free_now);
  void set_board_held(bool held);
  void set_robust_scale();
  bool solve_robust();
  void choose_poses_anew();
  /// Holds the first of the loose parameters in kHoldOrder; where none of those can be held, the
  /// next at all.
  bool hold_next(const std::string& why, const std::vector<int>& loose);
  std::optional<Problem> find_outlying();
  enum class Holding { kOnlySingular, kUndetermined };
  std::optional<Problem> adjust_and_hold(Holding holding);
  IntrinsicsSolution answer() const;
  void judge_focus(const adjust::Covariance& covariance, IntrinsicsSolution& solution) const;

  [[nodiscard]] bool shape_is_estimated() const { return options_.shape != BoardShape::kPerfect; }
  [[nodiscard]] bool cancelled() const { return options_.cancelled && options_.cancelled(); }
  [[nodiscard]] Intrinsics camera() const {
    return Intrinsics::from_vector(network_.block(camera_).values);
  }
  [[nodiscard]] Pose pose(std::size_t photo) const {
    return Pose::from_vector(network_.block(poses_[photo]).values);
  }
  [[nodiscard]] double largest_radius() const;
  [[nodiscard]] double frame_radius(const Intrinsics& camera) const;
  template <typename Visit>
  void for_each_corner(Visit visit) const {
    for (std::size_t p = 0; p < sets_.size(); ++p) {
      for (std::size_t c = 0; c < sets_[p].corners.size(); ++c) visit(p, c, marks_[p][c]);
    }
  }

  std::span<const Eigen::Vector3d> points_mm_;
  std::span<const CornerSet> sets_;
  ImageSize image_size_;
  const SolveIntrinsicsOptions& options_;
  adjust::SolveOptions solve_options_;

  Intrinsics start_;
  std::vector<Pose> start_poses_;
  std::array<bool, kIntrinsicCount> held_{};

  adjust::Network network_;
  adjust::BlockId camera_;
  std::vector<adjust::BlockId> poses_, board_;
  std::optional<adjust::BlockId> deformation_;
  adjust::GroupId corners_, stated_;
  std::vector<std::vector<adjust::ObservationId>> marks_;  ///< [photo][corner]
  std::vector<bool> lone_;  ///< board points that too few photos see for a place of their own
  adjust::Datum datum_;
  std::optional<adjust::Covariance> covariance_;
  adjust::FitStatistics fit_;
  std::vector<adjust::DoubtedMark> doubted_;
  bool outliers_gave_up_ = false;
  std::vector<std::string> hold_sentences_;
};

std::optional<Problem> CameraNetwork::guess() {
  const Eigen::Vector2d centre(start_.cx, start_.cy);
  std::vector<Intrinsics> candidates;
  if (options_.start && start_.fx > 0 && start_.fy > 0) {
    candidates.push_back(start_);
  } else {
    std::vector<double> focal = focal_length_candidates(points_mm_, sets_, image_size_, centre);
    if (options_.focal_length_px) focal.insert(focal.begin(), *options_.focal_length_px);
    for (const double f : focal) {
      Intrinsics camera = start_;
      camera.fx = camera.fy = f;
      candidates.push_back(camera);
    }
  }
  double best = std::numeric_limits<double>::infinity();
  std::string without_pose;
  for (const Intrinsics& candidate : candidates) {
    std::vector<Pose> poses;
    double cost = 0;
    for (const CornerSet& set : sets_) {
      const auto guesses = pose_candidates(points_mm_, set, candidate);
      if (guesses.empty()) {
        without_pose = set.file;
        break;
      }
      poses.push_back(guesses.front().pose);
      // Pixels, and by photo a root of squares: one photo with blunders must not choose the focal
      // length.
      cost += candidate.fx * std::sqrt(guesses.front().squared_error);
    }
    if (poses.size() == sets_.size() && cost < best) {
      best = cost;
      start_.fx = candidate.fx;
      start_.fy = candidate.fy;
      start_poses_ = poses;
    }
  }
  if (start_poses_.empty()) {
    return survey_problem(without_pose +
                          ": no position of the camera fits its corners: check that they belong "
                          "to this board, or leave the photo out");
  }
  return std::nullopt;
}

void CameraNetwork::build() {
  corners_ = network_.add_group({"corners", true, 1.0});
  stated_ = network_.add_group({"board", false, 1.0});
  camera_ = network_.add_block(
      {"camera", start_.vector(), {}, adjust::DatumRole::kNone, adjust::BlockRole::kKept});
  for (std::size_t p = 0; p < sets_.size(); ++p) {
    poses_.push_back(network_.add_block({sets_[p].file,
                                         start_poses_[p].vector(),
                                         {},
                                         adjust::DatumRole::kPose,
                                         adjust::BlockRole::kKept}));
  }
  std::optional<ScaleDistance> scale;
  if (options_.shape == BoardShape::kFree) {
    scale = options_.scale;
    if (!scale) {
      scale = ScaleDistance{};
      for (std::size_t a = 0; a < points_mm_.size(); ++a) {
        for (std::size_t b = a + 1; b < points_mm_.size(); ++b) {
          const double length = (points_mm_[a] - points_mm_[b]).norm();
          if (length > scale->length_mm) {
            scale = ScaleDistance{static_cast<int>(a), static_cast<int>(b), length};
          }
        }
      }
    }
  }
  for (std::size_t i = 0; i < points_mm_.size(); ++i) {
    // The two points of the scale share an observation and so must stay in the reduced system.
    const bool kept =
        scale && (scale->from == static_cast<int>(i) || scale->to == static_cast<int>(i));
    board_.push_back(
        network_.add_block({"point " + std::to_string(i),
                            points_mm_[i],
                            {},
                            adjust::DatumRole::kPoint,
                            kept ? adjust::BlockRole::kKept : adjust::BlockRole::kEliminated}));
  }
  std::vector<int> photos_of(points_mm_.size(), 0);
  for (const CornerSet& set : sets_) {
    auto& marks = marks_.emplace_back();
    for (const Corner& corner : set.corners) {
      ++photos_of[static_cast<std::size_t>(corner.point)];
      marks.push_back(network_.add_observation(
          adjust::mark_observation(corner.position_px, corner.covariance_px2),
          {poses_[marks_.size() - 1], camera_, board_[static_cast<std::size_t>(corner.point)]},
          corners_));
    }
  }
  lone_.assign(points_mm_.size(), false);
  if (options_.shape == BoardShape::kPrior) {
    const BoardModes modes(points_mm_);
    deformation_ = network_.add_block({"deformation of the board",
                                       BoardDeformation::Zero(),
                                       {},
                                       adjust::DatumRole::kNone,
                                       adjust::BlockRole::kKept});
    for (std::size_t i = 0; i < points_mm_.size(); ++i) {
      network_.add_observation(
          board_point_prior(points_mm_[i], modes.of(points_mm_[i]), options_.prior),
          {board_[i], *deformation_}, stated_);
    }
    const BoardDeformation u = deformation_uncertainties(options_.prior);
    network_.add_observation(
        adjust::prior_observation(BoardDeformation::Zero(), u.cwiseInverse().asDiagonal()),
        {*deformation_}, stated_);
  } else if (options_.shape == BoardShape::kFree) {
    for (std::size_t i = 0; i < points_mm_.size(); ++i) lone_[i] = photos_of[i] < 2;
    // In the corners' group, so that it stays as small beside them whatever their s0 is; it has no
    // residual and no redundancy of its own.
    network_.add_observation(
        adjust::distance_observation(scale->length_mm, kScaleDistanceU * scale->length_mm),
        {board_[static_cast<std::size_t>(scale->from)],
         board_[static_cast<std::size_t>(scale->to)]},
        corners_);
  }
}

void CameraNetwork::set_held(const std::vector<int>& free_now) {
  auto& held = network_.block(camera_).held;
  held.assign(kIntrinsicCount, true);
  for (const int k : free_now)
    held[static_cast<std::size_t>(k)] = held_[static_cast<std::size_t>(k)];
  datum_ = adjust::find_datum(network_);
}

void CameraNetwork::set_board_held(bool held) {
  for (const adjust::BlockId id : board_) network_.block(id).held.assign(3, held);
  // A point of its own place needs two photos: with fewer it would follow its one corner.
  for_each_corner([&](std::size_t p, std::size_t c, adjust::ObservationId id) {
    if (lone_[static_cast<std::size_t>(sets_[p].corners[c].point)]) network_.set_active(id, held);
  });
}

void CameraNetwork::set_robust_scale() {
  std::vector<double> squares;
  for_each_corner([&](std::size_t, std::size_t, adjust::ObservationId id) {
    if (!network_.observation(id).active) return;
    const double square = network_.residuals(id).squaredNorm();
    if (std::isfinite(square)) squares.push_back(square);
  });
  if (squares.empty()) return;
  const auto middle = squares.begin() + static_cast<std::ptrdiff_t>(squares.size() / 2);
  std::nth_element(squares.begin(), middle, squares.end());
  const double per_coordinate = *middle / adjust::chi_square_quantile(0.5, 2);
  network_.group(corners_).scale = std::max(std::sqrt(per_coordinate), 1e-3);
}

bool CameraNetwork::solve_robust() {
  adjust::SolveOptions robust = solve_options_;
  robust.robust = true;
  robust.function_tolerance = 1e-8;
  const auto summary = adjust::solve(network_, datum_, robust);
  return summary.termination == adjust::Termination::kConverged ||
         summary.termination == adjust::Termination::kIterationLimit;
}

void CameraNetwork::choose_poses_anew() {
  for (std::size_t p = 0; p < sets_.size(); ++p) {
    const auto cost = [&] {
      double sum = 0;  // robust: square roots of squares
      for (const adjust::ObservationId id : marks_[p]) {
        const double norm = network_.residuals(id).norm();
        sum += std::isfinite(norm) ? norm : 1e6;
      }
      return sum;
    };
    adjust::Block& block = network_.block(poses_[p]);
    Eigen::VectorXd best = block.values;
    double least = cost();
    for (const GuessedPose& guess : pose_candidates(points_mm_, sets_[p], camera())) {
      block.values = guess.pose.vector();
      const double left = cost();
      if (left < least) {
        least = left;
        best = block.values;
      }
    }
    block.values = best;
  }
}

bool CameraNetwork::hold_next(const std::string& why, const std::vector<int>& loose) {
  const auto is_loose = [&](int k) {
    return !held_[static_cast<std::size_t>(k)] &&
           std::find(loose.begin(), loose.end(), k) != loose.end();
  };
  const bool any = std::any_of(kHoldOrder.begin(), kHoldOrder.end(), [&](const auto& parameters) {
    return std::any_of(parameters.begin(), parameters.end(), is_loose);
  });
  for (const std::vector<int>& parameters : kHoldOrder) {
    if (any && std::none_of(parameters.begin(), parameters.end(), is_loose)) continue;
    std::vector<int> now_held;
    for (const int k : parameters) {
      if (held_[static_cast<std::size_t>(k)]) continue;
      held_[static_cast<std::size_t>(k)] = true;
      network_.block(camera_).held[static_cast<std::size_t>(k)] = true;
      network_.block(camera_).values[k] = start_.vector()[k];
      now_held.push_back(k);
    }
    if (now_held.empty()) continue;
    const bool centre = now_held.front() == kCx || now_held.front() == kCy;
    hold_sentences_.push_back(
        names_of(now_held) + (now_held.size() > 1 ? " are" : " is") + " held at " +
        (options_.start ? "the start value"
         : centre       ? "the middle of the photo"
                        : "0") +
        ": " + why +
        "; what that is wrong by is in no uncertainty. Photos tilted by 30 to 45 degrees in "
        "different "
        "directions, with the board near the frame's edges, would determine " +
        (now_held.size() > 1 ? "them" : "it"));
    return true;
  }
  return false;
}

double CameraNetwork::frame_radius(const Intrinsics& values) const {
  const double across = std::max(values.cx, image_size_.width - 1 - values.cx) / values.fx;
  const double down = std::max(values.cy, image_size_.height - 1 - values.cy) / values.fy;
  return std::hypot(across, down);
}

double CameraNetwork::largest_radius() const {
  double largest = 0;
  for_each_corner([&](std::size_t p, std::size_t c, adjust::ObservationId id) {
    if (!network_.observation(id).active) return;
    const Pose at = pose(p);
    const Eigen::Vector3d in_camera =
        at.rotation_matrix() *
            network_.block(board_[static_cast<std::size_t>(sets_[p].corners[c].point)])
                .values.head<3>() +
        at.translation;
    if (in_camera.z() > 0) largest = std::max(largest, in_camera.hnormalized().norm());
  });
  return largest;
}

std::optional<Problem> CameraNetwork::find_outlying() {
  doubted_.clear();
  std::vector<adjust::Suspect> suspects;
  for_each_corner([&](std::size_t p, std::size_t c, adjust::ObservationId id) {
    const int point = sets_[p].corners[c].point;
    if (lone_[static_cast<std::size_t>(point)]) return;
    network_.set_active(id, true);
    suspects.push_back({id, static_cast<int>(p), board_[static_cast<std::size_t>(point)]});
  });
  adjust::SnoopingOptions snooping;
  snooping.solve = solve_options_;
  snooping.significance =
      std::min(0.001, options_.outlier_significance / static_cast<double>(suspects.size()));
  // Corners that agree better than their stated σ are tested against that: a hundredth of a pixel
  // is no blunder because its neighbours lie within a thousandth.
  set_robust_scale();
  adjust::Group& group = network_.group(corners_);
  const bool factor = group.scale > 1;
  group.factor_from_residuals = factor;
  group.scale = 1;
  const auto report = adjust::snoop(network_, datum_, suspects, snooping);
  network_.group(corners_).factor_from_residuals = true;
  if (!report) return survey_problem("the corners do not determine " + report.error().item);
  doubted_ = report->doubted;
  outliers_gave_up_ = report->gave_up;
  return std::nullopt;
}

std::optional<Problem> CameraNetwork::adjust_and_hold(Holding holding) {
  const DeterminationLimits limits;
  const double diagonal_px = std::hypot(image_size_.width, image_size_.height);
  for (;;) {
    if (cancelled()) return input_problem("cancelled before the camera was solved");
    datum_ = adjust::find_datum(network_);
    const auto adjusted = adjust::adjust(network_, datum_, solve_options_);
    if (adjusted && adjusted->solve.termination == adjust::Termination::kFailed) {
      return survey_problem("the adjustment of the camera found no solution: " +
                            adjusted->solve.message);
    }
    auto covariance = adjust::Covariance::compute(network_, datum_);
    if (adjust::Group& group = network_.group(corners_);
        !adjusted && group.factor_from_residuals && group.scale < kExactCorners) {
      // Made-up corners without noise: beside such weights what is known of the board would vanish.
      group.factor_from_residuals = false;
      group.scale = kExactCorners;
      continue;
    }
    if (!adjusted || !covariance) {
      if (options_.hold_undetermined &&
          hold_next("the photos do not determine all parameters together", {})) {
        continue;
      }
      covariance_.reset();
      return survey_problem(kNotSeparable);
    }
    covariance_.emplace(std::move(*covariance));
    fit_ = adjusted->fit;
    if (!options_.hold_undetermined || holding == Holding::kOnlySingular) return std::nullopt;

    const std::array<adjust::BlockId, 1> camera_only{camera_};
    const Eigen::VectorXd u = covariance_->joint(camera_only).diagonal().cwiseMax(0.0).cwiseSqrt();
    const Intrinsics values = camera();
    const double r = frame_radius(values), r2 = r * r;
    const auto undetermined = [&](int k) {
      switch (k) {
        case kFx:
          return u[k] / values.fx > limits.focal_length;
        case kFy:
          return u[k] / values.fy > limits.focal_length;
        case kCx:
        case kCy:
          return u[k] / diagonal_px > limits.principal_point;
        case kK1:
          return u[k] * r2 > limits.k1;
        case kK2:
          return u[k] * r2 * r2 > limits.k2;
        case kK3:
          return u[k] * r2 * r2 * r2 > limits.k3;
        default:
          return u[k] * 3 * r > limits.tangential;
      }
    };
    std::vector<int> loose;
    for (int k = 0; k < kIntrinsicCount; ++k) {
      if (!held_[static_cast<std::size_t>(k)] && undetermined(k)) loose.push_back(k);
    }
    if (loose.empty()) return std::nullopt;
    std::ostringstream why;
    why.precision(2);
    why << "the photos leave " << names_of({loose.front()}) << " uncertain by " << u[loose.front()];
    if (loose.front() <= kCy) why << " px";
    if (hold_next(why.str(), loose)) continue;
    return survey_problem(kNotSeparable);
  }
}

void CameraNetwork::judge_focus(const adjust::Covariance& covariance,
                                IntrinsicsSolution& solution) const {
  // Score test of one more unknown, the focal length of this photo alone: with g the derivative of
  // its scaled residuals, δ = −gᵀv / gᵀRg, u(δ) = 1/√(gᵀRg), R = I − JQJᵀ, without adjusting anew.
  std::vector<Eigen::VectorXd> zero;
  std::vector<adjust::BlockId> all;
  for (std::size_t b = 0; b < network_.blocks().size(); ++b) {
    zero.emplace_back(Eigen::VectorXd::Zero(network_.blocks()[b].values.size()));
    all.push_back({static_cast<int>(b)});
  }
  std::vector<Eigen::VectorXd> longer = zero;
  longer[camera_.index][kFx] = solution.intrinsics.fx;
  longer[camera_.index][kFy] = solution.intrinsics.fy;
  const double scale = network_.group(corners_).scale;
  const std::vector<bool> in_use = network_.blocks_in_use();
  for (std::size_t p = 0; p < sets_.size(); ++p) {
    double gg = 0, gv = 0;
    std::vector<Eigen::VectorXd> b = zero;
    for (const adjust::ObservationId id : marks_[p]) {
      if (!network_.observation(id).active) continue;
      const Eigen::VectorXd g = covariance.jacobian_times(id, longer);
      gg += g.squaredNorm();
      gv += g.dot(network_.residuals(id) / scale);
      covariance.add_jacobian_transposed(id, g, b);
    }
    std::vector<adjust::BlockId> blocks;
    std::vector<Eigen::VectorXd> gradient;
    for (std::size_t k = 0; k < b.size(); ++k) {
      if (!in_use[k] || b[k].isZero(0)) continue;
      blocks.push_back(all[k]);
      gradient.push_back(b[k]);
    }
    const std::vector<Eigen::VectorXd> moved = covariance.times(blocks, gradient);
    double explained = 0;
    for (std::size_t k = 0; k < blocks.size(); ++k) {
      explained += gradient[k].dot(moved[static_cast<std::size_t>(blocks[k].index)]);
    }
    const double information = gg - explained;
    const bool told = information > 1e-9 * gg;
    solution.photos[p].focal_change = told ? -gv / information : kNaN;
    solution.photos[p].focal_change_u = told ? 1 / std::sqrt(information) : kNaN;
  }
}

IntrinsicsSolution CameraNetwork::answer() const {
  IntrinsicsSolution solution;
  solution.image_size = image_size_;
  solution.intrinsics = camera();
  solution.held = held_;
  const std::array<adjust::BlockId, 1> camera_only{camera_};
  solution.covariance = covariance_->joint(camera_only);

  double squares = 0, sigma_squares = 0;
  for (std::size_t p = 0; p < sets_.size(); ++p) {
    SolvedPhoto photo;
    photo.file = sets_[p].file;
    photo.pose = pose(p);
    const Eigen::Matrix3d rotation = photo.pose.rotation_matrix();
    photo.tilt_rad = std::acos(std::clamp(std::abs(rotation(2, 2)), 0.0, 1.0));
    double photo_squares = 0;
    int used = 0;
    for (std::size_t c = 0; c < sets_[p].corners.size(); ++c) {
      const Corner& found = sets_[p].corners[c];
      CornerResidual corner;
      corner.point = found.point;
      corner.position_px = found.position_px;
      const Eigen::Vector3d in_camera =
          rotation *
              network_.block(board_[static_cast<std::size_t>(found.point)]).values.head<3>() +
          photo.pose.translation;
      corner.residual_px = found.position_px - project(solution.intrinsics, in_camera);
      corner.left_out = !network_.observation(marks_[p][c]).active;
      for (const adjust::DoubtedMark& doubted : doubted_) {
        if (doubted.observation == marks_[p][c]) corner.w = doubted.w;
      }
      if (!corner.left_out) {
        ++used;
        photo_squares += corner.residual_px.squaredNorm();
        sigma_squares += found.covariance_px2.trace() / 2;
      }
      photo.corners.push_back(corner);
    }
    photo.rms_px = used > 0 ? std::sqrt(photo_squares / used) : kNaN;
    squares += photo_squares;
    solution.corners_used += used;
    solution.photos.push_back(std::move(photo));
  }
  solution.rms_px = std::sqrt(squares / solution.corners_used);

  const adjust::GroupFit& fit = fit_.groups[static_cast<std::size_t>(corners_.index)];
  solution.sigma0 = fit.s0;
  solution.redundancy = static_cast<int>(std::lround(fit.redundancy));
  if (fit.redundancy >= 1) {
    solution.sigma0_low =
        std::sqrt(adjust::chi_square_quantile(0.025, fit.redundancy) / fit.redundancy);
    solution.sigma0_high =
        std::sqrt(adjust::chi_square_quantile(0.975, fit.redundancy) / fit.redundancy);
  }
  solution.residual_sigma_px = fit.s0 * std::sqrt(sigma_squares / solution.corners_used);
  solution.largest_radius = largest_radius();

  SolvedBoard& board = solution.board;
  board.shape_estimated = shape_is_estimated();
  const std::vector<bool> in_use = network_.blocks_in_use();
  std::vector<int> seen(points_mm_.size(), 0);
  for_each_corner([&](std::size_t p, std::size_t c, adjust::ObservationId id) {
    if (network_.observation(id).active)
      ++seen[static_cast<std::size_t>(sets_[p].corners[c].point)];
  });
  for (std::size_t i = 0; i < board_.size(); ++i) {
    board.points_mm.emplace_back(network_.block(board_[i]).values.head<3>());
    board.determined.push_back(seen[i] > 0);
  }
  board.datum = datum_.description;
  board.datum_defect = datum_.defect;
  board.flatness_mm = board.flatness_u_mm = kNaN;
  if (board.shape_estimated) {
    const Flatness flatness = flatness_of(board.points_mm, board.determined);
    std::vector<adjust::BlockId> blocks;
    std::vector<Eigen::VectorXd> gradient;
    for (std::size_t i = 0; i < board_.size(); ++i) {
      if (!board.determined[i]) continue;
      blocks.push_back(board_[i]);
      gradient.emplace_back(flatness.gradient[i]);
    }
    const std::vector<Eigen::VectorXd> moved = covariance_->times(blocks, gradient);
    double variance = 0;
    for (std::size_t k = 0; k < blocks.size(); ++k) {
      variance += gradient[k].dot(moved[static_cast<std::size_t>(blocks[k].index)]);
    }
    board.flatness_mm = flatness.value_mm;
    board.flatness_u_mm = std::sqrt(std::max(variance, 0.0));
    if (options_.want_board_covariance) board.covariance_mm2 = covariance_->joint_inner(board_);
  }
  judge_focus(*covariance_, solution);

  solution.warnings = hold_sentences_;
  if (outliers_gave_up_) {
    solution.warnings.push_back(
        "more than a fifth of the corners do not fit: check the board's counts, and that "
        "all photos show the same board");
  }
  if (fit.redundancy < adjust::kLeastRedundancyOfAFactor) {
    solution.warnings.push_back(
        "too few corners to judge their uncertainty from the residuals: the stated one is "
        "used; add photos");
  }
  for (auto warnings :
       {geometry_warnings(solution), residual_warnings(solution), left_out_warnings(solution)}) {
    solution.warnings.insert(solution.warnings.end(), warnings.begin(), warnings.end());
  }
  return solution;
}

Result<IntrinsicsSolution, Problem> CameraNetwork::run() {
  if (const auto problem = guess()) return Unexpected(*problem);
  build();
  const auto no_solution = [&] {
    return Unexpected(
        cancelled()
            ? input_problem("cancelled before the camera was solved")
            : survey_problem("no camera fits the corners: check that all photos show this board, "
                             "unturned, and come from one camera"));
  };
  // From few unknowns to many: a start that is pixels off would send k3 or the shape of the board
  // astray.
  set_board_held(true);
  set_robust_scale();
  set_held({kFx, kFy, kK1});
  if (!solve_robust()) return no_solution();
  choose_poses_anew();
  set_robust_scale();
  set_held({kFx, kFy, kCx, kCy, kK1, kK2, kP1, kP2});
  if (!solve_robust()) return no_solution();
  choose_poses_anew();
  set_robust_scale();
  set_board_held(!shape_is_estimated());
  set_held({kFx, kFy, kCx, kCy, kK1, kK2, kP1, kP2, kK3});
  if (!solve_robust()) return no_solution();

  // For the outlier test only what is singular must be held: what blunders do to s0 says nothing of
  // how well the photos determine a parameter.
  if (options_.outlier_test) {
    if (const auto problem = adjust_and_hold(Holding::kOnlySingular)) return Unexpected(*problem);
    if (const auto problem = find_outlying()) return Unexpected(*problem);
  }
  if (const auto problem = adjust_and_hold(Holding::kUndetermined)) return Unexpected(*problem);
  if (!covariance_) return no_solution();
  if (!network_.block(camera_).values.allFinite() || !(camera().fx > 0) || !(camera().fy > 0))
    return no_solution();
  return answer();
}

}  // namespace

std::optional<std::string> SolveIntrinsicsOptions::first_problem() const {
  if (!(prior.in_plane_mm > 0) || !(prior.in_plane_relative > 0) || !(prior.out_of_plane_mm > 0)) {
    return "the uncertainties of the board must be above 0 (a perfect board is a choice of its "
           "own)";
  }
  if (!(outlier_significance > 0) || outlier_significance > 0.5) {
    return "the outlier test needs a significance between 0 and 0.5";
  }
  if (threads < 1) return "at least one thread is needed";
  if (focal_length_px && !(*focal_length_px > 0))
    return "the first guess of the focal length must be above 0";
  if (start && (!start->vector().allFinite() || start->fx < 0 || start->fy < 0)) {
    return "the start values of the camera are no numbers that a camera can have";
  }
  const bool focal_known = start && start->fx > 0 && start->fy > 0;
  if ((!free[kFx] || !free[kFy]) && !focal_known)
    return "a focal length that is held needs a start value";
  return std::nullopt;
}

Result<IntrinsicsSolution, Problem> solve_intrinsics(
    std::span<const Eigen::Vector3d> board_points_mm, std::span<const CornerSet> sets,
    ImageSize image_size, const SolveIntrinsicsOptions& options) {
  if (const auto problem = first_problem_of(board_points_mm, sets, image_size, options)) {
    return Unexpected(*problem);
  }
  return CameraNetwork(board_points_mm, sets, image_size, options).run();
}

}  // namespace calib
