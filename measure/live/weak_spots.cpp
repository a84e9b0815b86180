#include "measure/live/weak_spots.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numbers>
#include <set>

#include <Eigen/Cholesky>
#include <Eigen/Geometry>

#include "measure/live/predict.h"

namespace measure {
namespace {

using calib::adjust::BlockId;
using calib::adjust::Gradient;

std::string quoted(const std::string& name) { return "\"" + name + "\""; }

/// Photo and point of a mark that could be set.
struct Candidate {
  std::string photo, point;
};

/// ∂(x, y)/∂(camera 9, pose 6, point 3) of a projection.
struct MarkRow {
  Eigen::Matrix<double, 2, 9> by_camera;
  Eigen::Matrix<double, 2, 6> by_pose;
  Eigen::Matrix<double, 2, 3> by_point;
};

MarkRow row_of(const OrientedPhoto& photo, const Eigen::Vector3d& point) {
  const Eigen::Matrix3d rotation = photo.pose.rotation_matrix();
  const Eigen::Vector3d turned = rotation * point;
  calib::ProjectionDerivatives by;
  (void)calib::project(photo.camera, turned + photo.pose.translation, &by);
  Eigen::Matrix3d cross;
  cross << 0, -turned.z(), turned.y(), turned.z(), 0, -turned.x(), -turned.y(), turned.x(), 0;
  MarkRow row;
  row.by_camera = by.by_intrinsics;
  row.by_pose.leftCols<3>() = by.by_point * (-cross * calib::left_jacobian(photo.pose.rotation));
  row.by_pose.rightCols<3>() = by.by_point;
  row.by_point = by.by_point * rotation;
  return row;
}

/// Blocks numbered once, with their joint covariance and the covariance with the dimension.
class Union {
 public:
  int offset(BlockId id, int size) {
    const auto [at, is_new] = offset_.try_emplace(id.index, total_);
    if (is_new) {
      blocks_.push_back(id);
      total_ += size;
    }
    return at->second;
  }
  [[nodiscard]] int total() const { return total_; }
  [[nodiscard]] Eigen::MatrixXd joint(const Survey& survey) const {
    return survey.covariance().joint(blocks_);
  }
  /// Q g on the blocks of the union.
  [[nodiscard]] Eigen::VectorXd with(const std::vector<Eigen::VectorXd>& moved) const {
    Eigen::VectorXd all(total_);
    for (const auto& [index, offset] : offset_) {
      const Eigen::VectorXd& part = moved[static_cast<std::size_t>(index)];
      all.segment(offset, part.size()) = part;
    }
    return all;
  }

 private:
  std::map<int, int> offset_;
  std::vector<BlockId> blocks_;
  int total_ = 0;
};

/// Everything that does not hang on one dimension.
class Planner {
 public:
  Planner(const Survey& survey, const Dossier& dossier, const WeakSpotOptions& options)
      : survey_(survey), dossier_(dossier), options_(options), predictor_(survey, dossier) {
    for (const Mark& mark : dossier.marks) marked_.emplace(mark.photo, mark.point);
    const auto& groups = survey.network().groups();
    sigma_px_ = options.mark_sigma_px * (groups.empty() ? 1.0 : groups.front().scale);
    up_ = upward(survey);
    for (const Photo& photo : dossier.photos) {
      if (const auto oriented = oriented_photo(survey, photo.name)) {
        photos_.emplace(photo.name, *oriented);
      }
    }
    for (const PointReport& point : survey.report().points) {
      if (point.placed) points_.emplace(point.name, point.position);
    }
  }

  void help(const std::string& name, const DimensionKind& kind, const DimensionResult& result,
            WeakSpot& spot) const {
    const auto gradient = dimension_gradient(survey_, dossier_, kind);
    if (!gradient) return;
    const std::vector<Eigen::VectorXd> moved =
        survey_.covariance().times(gradient->blocks, gradient->by_block);
    double variance = 0;
    for (std::size_t b = 0; b < gradient->blocks.size(); ++b) {
      variance +=
          gradient->by_block[b].dot(moved[static_cast<std::size_t>(gradient->blocks[b].index)]);
    }
    if (!(variance > 0)) return;
    // What no mark can mend: definition and form.
    const double rest = std::max(0.0, result.u * result.u - variance);
    const auto U_of = [&](double v) { return result.k * std::sqrt(std::max(0.0, v) + rest); };
    std::vector<std::string> points = points_behind(dossier_, names_of(kind));
    std::sort(points.begin(), points.end());
    points.erase(std::unique(points.begin(), points.end()), points.end());
    marks(name, points, moved, variance, U_of, result.unit, spot);
    new_photo(name, points, moved, variance, U_of, result.unit, spot);
    if (spot.helps.empty()) spot.sentence += "; " + why_nothing_helps(result, points);
  }

  /// No mark or new photo was found that is worth it: where U comes from says what is.
  static std::string why_nothing_helps(const DimensionResult& result,
                                       const std::vector<std::string>& points) {
    const auto most =
        std::max_element(result.budget.begin(), result.budget.end(),
                         [](const auto& a, const auto& b) { return a.second < b.second; });
    const std::string group = most == result.budget.end() ? "" : most->first;
    const std::string percent =
        group.empty() ? "" : std::to_string(std::lround(100 * most->second)) + " % of it";
    if (group == "definition") {
      return percent +
             " is how well its ends are defined on the original: choose others, no mark helps";
    }
    if (group == "bars") {
      return percent + " comes from the scale bars: a longer or better certified one would help";
    }
    if (group == "cameras") {
      return percent + " comes from the camera: calibrate it anew with more photos";
    }
    if (group == "temperature") {
      return percent + " comes from the temperature: measure it better";
    }
    if (group == "scale_ratio") return percent + " comes from the ratio of the scale";
    if (points.empty()) {
      return "it rests on marks along edges or rounds: more of them, in photos that see these from "
             "other sides, can help";
    }
    return "no single mark that is missing in these photos, and no new photo, would help by much";
  }

  /// A point that does not stand yet: the photo whose direction differs best from those that have
  /// it.
  void help_to_place(const std::string& point, WeakSpot& spot) const {
    std::vector<std::pair<double, std::string>> ranked;
    for (const Photo& photo : dossier_.photos) {
      if (marked_.contains({photo.name, point}) || !photos_.contains(photo.name)) continue;
      const PredictedPlace place = predictor_.predict(photo.name, point);
      if (place.epipolar.curve_px.empty()) continue;
      const auto& first = photos_.at(place.epipolar_photo);
      const auto& other = photos_.at(photo.name);
      const Eigen::Vector3d a = first.pose.rotation_matrix().row(2),
                            b = other.pose.rotation_matrix().row(2);
      const double angle = std::acos(std::clamp(a.dot(b), -1.0, 1.0));
      // Most depth at a right angle, if the place is still in sight: best near 60°.
      ranked.emplace_back(std::abs(angle - std::numbers::pi / 3), photo.name);
    }
    std::sort(ranked.begin(), ranked.end());
    for (std::size_t r = 0; r < std::min<std::size_t>(2, ranked.size()); ++r) {
      Help help;
      help.photo = ranked[r].second;
      help.point = point;
      help.sentence = "mark " + quoted(point) + " in " + quoted(help.photo) +
                      ", on the line of sight that its first mark draws there";
      spot.helps.push_back(help);
    }
  }

 private:
  [[nodiscard]] std::string U_text(double U, DimensionUnit unit) const {
    switch (unit) {
      case DimensionUnit::kMillimetre: {
        const ValueText text = length_text(0, U, options_.unit);
        return text.uncertainty + " " + text.unit;
      }
      case DimensionUnit::kSquareMillimetre: {
        const ValueText text = area_text(0, U, options_.unit);
        return text.uncertainty + " " + text.unit;
      }
      case DimensionUnit::kRadian: {
        const ValueText text = angle_text(0, U);
        return text.uncertainty + " " + text.unit;
      }
      case DimensionUnit::kRatio:
        return plain_text(0, U).uncertainty;
    }
    return {};
  }

  template <typename UOf>
  void marks(const std::string& name, const std::vector<std::string>& points,
             const std::vector<Eigen::VectorXd>& moved, double variance, const UOf& U_of,
             DimensionUnit unit, WeakSpot& spot) const {
    std::vector<Candidate> candidates;
    for (const std::string& point : points) {
      if (!points_.contains(point)) continue;
      for (const auto& [photo, oriented] : photos_) {
        if (marked_.contains({photo, point})) continue;
        const Sight sight = predictor_.sight(photo, point);
        if (sight == Sight::kLikely || sight == Sight::kUnclear)
          candidates.push_back({photo, point});
      }
    }
    if (candidates.empty()) return;
    Union all;
    std::vector<std::array<int, 3>> offsets;
    for (const Candidate& c : candidates) {
      offsets.push_back({all.offset(*survey_.camera_block(c.photo), 9),
                         all.offset(*survey_.pose_block(c.photo), 6),
                         all.offset(*survey_.point(c.point), 3)});
    }
    const Eigen::Index rows = 2 * static_cast<Eigen::Index>(candidates.size());
    Eigen::MatrixXd J = Eigen::MatrixXd::Zero(rows, all.total());
    for (std::size_t c = 0; c < candidates.size(); ++c) {
      const MarkRow row = row_of(photos_.at(candidates[c].photo), points_.at(candidates[c].point));
      const Eigen::Index r = 2 * static_cast<Eigen::Index>(c);
      J.block<2, 9>(r, offsets[c][0]) = row.by_camera;
      J.block<2, 6>(r, offsets[c][1]) = row.by_pose;
      J.block<2, 3>(r, offsets[c][2]) = row.by_point;
    }
    const Eigen::MatrixXd S = J * all.joint(survey_) * J.transpose() +
                              sigma_px_ * sigma_px_ * Eigen::MatrixXd::Identity(rows, rows);
    const Eigen::VectorXd h = J * all.with(moved);

    std::vector<std::size_t> chosen;
    double before = U_of(variance);
    for (std::size_t step = 0; step < options_.most_marks; ++step) {
      double best_gain = 0;
      std::size_t best = candidates.size();
      for (std::size_t c = 0; c < candidates.size(); ++c) {
        if (std::find(chosen.begin(), chosen.end(), c) != chosen.end()) continue;
        chosen.push_back(c);
        const double gain = gain_of(S, h, chosen);
        chosen.pop_back();
        if (gain > best_gain) {
          best_gain = gain;
          best = c;
        }
      }
      if (best == candidates.size()) break;
      const double U = U_of(variance - best_gain);
      if (U > 0.99 * before) break;  // not worth a click
      chosen.push_back(best);
      before = U;
      Help help;
      help.photo = candidates[best].photo;
      help.point = candidates[best].point;
      help.predicted_U = U;
      help.sentence = "mark " + quoted(help.point) + " in " + quoted(help.photo) + ": " +
                      (chosen.size() > 1 ? "together with the above, " : "") + "U of " +
                      quoted(name) + " becomes " + U_text(U, unit);
      spot.helps.push_back(help);
      if (spot.tolerance && U <= *spot.tolerance) break;
    }
  }

  static double gain_of(const Eigen::MatrixXd& S, const Eigen::VectorXd& h,
                        const std::vector<std::size_t>& chosen) {
    std::vector<Eigen::Index> rows;
    for (const std::size_t c : chosen) {
      rows.push_back(2 * static_cast<Eigen::Index>(c));
      rows.push_back(2 * static_cast<Eigen::Index>(c) + 1);
    }
    const Eigen::MatrixXd s = S(rows, rows);
    const Eigen::VectorXd part = h(rows);
    return part.dot(s.llt().solve(part));
  }

  /// Directions all around and above, at the distance from which the others were taken.
  template <typename UOf>
  void new_photo(const std::string& name, const std::vector<std::string>& points,
                 const std::vector<Eigen::VectorXd>& moved, double variance, const UOf& U_of,
                 DimensionUnit unit, WeakSpot& spot) const {
    if (photos_.empty()) return;
    // The points to be marked in it: those of the dimension, and the best spread of the others, so
    // that the new photo stands firmly.
    std::vector<std::string> used = points;
    std::erase_if(used, [&](const std::string& p) { return !points_.contains(p); });
    if (used.empty()) return;
    Eigen::Vector3d target = Eigen::Vector3d::Zero();
    for (const std::string& p : used) target += points_.at(p) / static_cast<double>(used.size());
    constexpr std::size_t kControl = 10;
    while (used.size() < points.size() + kControl && used.size() < points_.size()) {
      double farthest = -1;
      std::string next;
      for (const auto& [p, position] : points_) {
        double nearest = std::numeric_limits<double>::infinity();
        for (const std::string& u : used) {
          nearest = std::min(nearest, (position - points_.at(u)).squaredNorm());
        }
        if (nearest > farthest) {
          farthest = nearest;
          next = p;
        }
      }
      used.push_back(next);
    }
    std::map<BlockId, int, bool (*)(BlockId, BlockId)> votes(
        [](BlockId a, BlockId b) { return a.index < b.index; });
    std::vector<double> distances;
    for (const auto& [photo, oriented] : photos_) {
      ++votes[*survey_.camera_block(photo)];
      distances.push_back((oriented.pose.centre() - target).norm());
    }
    const BlockId camera =
        std::max_element(votes.begin(), votes.end(), [](const auto& a, const auto& b) {
          return a.second < b.second;
        })->first;
    std::nth_element(distances.begin(),
                     distances.begin() + static_cast<std::ptrdiff_t>(distances.size() / 2),
                     distances.end());
    const double distance = distances[distances.size() / 2];
    const auto intrinsics = calib::Intrinsics::from_vector(survey_.network().block(camera).values);
    calib::ImageSize size;
    for (const Photo& photo : dossier_.photos) {
      if (photos_.contains(photo.name) && *survey_.camera_block(photo.name) == camera) {
        size = photo.size;
      }
    }
    Union all;
    const int camera_at = all.offset(camera, 9);
    std::vector<int> at;
    for (const std::string& p : used) at.push_back(all.offset(*survey_.point(p), 3));
    const Eigen::MatrixXd Q = all.joint(survey_);
    const Eigen::VectorXd q = all.with(moved);

    const Eigen::Vector3d side = up_.unitOrthogonal(), front = up_.cross(side);
    double best_gain = 0;
    Eigen::Vector3d best = Eigen::Vector3d::Zero();
    constexpr int kAround = 24;
    for (const double elevation : {0.1, 0.5, 0.9, 1.3}) {
      for (int k = 0; k < kAround; ++k) {
        const double turn = 2 * std::numbers::pi * k / kAround;
        const Eigen::Vector3d direction =
            std::cos(elevation) * (std::cos(turn) * side + std::sin(turn) * front) +
            std::sin(elevation) * up_;
        const Eigen::Vector3d centre = target + distance * direction;
        const OrientedPhoto photo{intrinsics, pose_towards(centre, target)};
        std::vector<Eigen::Index> seen;
        for (std::size_t u = 0; u < used.size(); ++u) {
          if (can_be_seen(photo, size, used[u], centre))
            seen.push_back(static_cast<Eigen::Index>(u));
        }
        const bool shows_the_dimension = std::any_of(seen.begin(), seen.end(), [&](Eigen::Index u) {
          return static_cast<std::size_t>(u) < points.size();
        });
        if (seen.size() < 4 || !shows_the_dimension) continue;
        const Eigen::Index rows = 2 * static_cast<Eigen::Index>(seen.size());
        Eigen::MatrixXd J = Eigen::MatrixXd::Zero(rows, all.total());
        Eigen::MatrixXd A(rows, 6);
        for (std::size_t s = 0; s < seen.size(); ++s) {
          const auto u = static_cast<std::size_t>(seen[s]);
          const MarkRow row = row_of(photo, points_.at(used[u]));
          const Eigen::Index r = 2 * static_cast<Eigen::Index>(s);
          J.block<2, 9>(r, camera_at) = row.by_camera;
          J.block<2, 3>(r, at[u]) = row.by_point;
          A.middleRows<2>(r) = row.by_pose;
        }
        const Eigen::LLT<Eigen::MatrixXd> S(
            J * Q * J.transpose() + sigma_px_ * sigma_px_ * Eigen::MatrixXd::Identity(rows, rows));
        const Eigen::VectorXd h = J * q;
        const Eigen::VectorXd weighted = S.solve(h);
        const Eigen::MatrixXd weighted_A = S.solve(A);
        const Eigen::VectorXd lost = A.transpose() * weighted;
        const double gain =
            h.dot(weighted) - lost.dot((A.transpose() * weighted_A).ldlt().solve(lost));
        if (gain > best_gain) {
          best_gain = gain;
          best = centre;
        }
      }
    }
    if (!(best_gain > 0)) return;
    const double U = U_of(variance - best_gain);
    if (U > 0.95 * U_of(variance)) return;  // not worth a photo
    Help help;
    help.kind = Help::Kind::kNewPhoto;
    help.camera_position = best;
    help.looking_at = target;
    help.predicted_U = U;
    help.sentence = "or take a new photo " + whereabouts(best, target) + " and mark " +
                    (points.size() > 1 ? "its points" : quoted(points.front())) +
                    " and some others in it: U of " + quoted(name) + " becomes " + U_text(U, unit);
    spot.helps.push_back(help);
  }

  [[nodiscard]] calib::Pose pose_towards(const Eigen::Vector3d& centre,
                                         const Eigen::Vector3d& target) const {
    const Eigen::Vector3d z = (target - centre).normalized();
    Eigen::Vector3d x = z.cross(up_);
    x = x.norm() > 1e-6 ? Eigen::Vector3d(x.normalized()) : up_.unitOrthogonal();
    Eigen::Matrix3d rotation;
    rotation.row(0) = x;
    rotation.row(1) = z.cross(x);
    rotation.row(2) = z;
    return calib::Pose::from_matrix(rotation, -(rotation * centre));
  }

  /// In the frame, and within 60° of a direction from which the point is marked already.
  [[nodiscard]] bool can_be_seen(const OrientedPhoto& photo, const calib::ImageSize& size,
                                 const std::string& point, const Eigen::Vector3d& centre) const {
    const Eigen::Vector3d& position = points_.at(point);
    const auto px = project(photo, position);
    if (!px || px->x() < 0 || px->y() < 0 || px->x() > size.width - 1 ||
        px->y() > size.height - 1) {
      return false;
    }
    const Eigen::Vector3d direction = (centre - position).normalized();
    return std::any_of(photos_.begin(), photos_.end(), [&](const auto& entry) {
      return marked_.contains({entry.first, point}) &&
             (entry.second.pose.centre() - position).normalized().dot(direction) > 0.5;
    });
  }

  /// In words: between which photos, and how high.
  [[nodiscard]] std::string whereabouts(const Eigen::Vector3d& centre,
                                        const Eigen::Vector3d& target) const {
    std::vector<std::pair<double, std::string>> near;
    for (const auto& [photo, oriented] : photos_) {
      near.emplace_back((oriented.pose.centre() - centre).norm(), photo);
    }
    std::sort(near.begin(), near.end());
    const double elevation =
        std::asin(std::clamp((centre - target).normalized().dot(up_), -1.0, 1.0));
    const int degrees = static_cast<int>(std::lround(elevation * 180 / std::numbers::pi / 5) * 5);
    std::string words = "from about " + std::to_string(degrees) + "° above the middle of it, ";
    words += near.size() > 1
                 ? "between " + quoted(near[0].second) + " and " + quoted(near[1].second)
                 : "beside " + quoted(near[0].second);
    return words;
  }

  const Survey& survey_;
  const Dossier& dossier_;
  const WeakSpotOptions& options_;
  Predictor predictor_;
  std::set<std::pair<std::string, std::string>> marked_;
  std::map<std::string, OrientedPhoto> photos_;
  std::map<std::string, Eigen::Vector3d> points_;
  double sigma_px_ = 0.5;
  Eigen::Vector3d up_ = Eigen::Vector3d::UnitZ();
};

}  // namespace

std::vector<WeakSpot> find_weak_spots(const Survey& survey, const Dossier& dossier,
                                      const std::vector<DimensionResult>& results,
                                      const WeakSpotOptions& options) {
  const auto cancelled = [&] { return options.cancelled && options.cancelled(); };
  const Planner planner(survey, dossier, options);
  std::vector<WeakSpot> spots;
  std::set<std::string> asked_points;
  for (const AskedDimension& asked : dossier.dimensions) {
    if (cancelled()) return {};
    for (const std::string& point : points_behind(dossier, names_of(asked.kind)))
      asked_points.insert(point);
    const auto found = std::find_if(results.begin(), results.end(), [&](const auto& result) {
      return result.name == asked.name && result.scale == "model";
    });
    if (found == results.end()) continue;
    WeakSpot spot;
    spot.dimension = asked.name;
    if (!found->problem.empty()) {
      spot.kind = WeakSpot::Kind::kDimensionUnmeasured;
      spot.sentence = quoted(asked.name) + " has no value: " + found->problem;
      for (const std::string& point : points_behind(dossier, names_of(asked.kind))) {
        if (!survey.point(point)) planner.help_to_place(point, spot);
      }
      spots.push_back(std::move(spot));
      continue;
    }
    // No tolerance can be given of an area or a ratio.
    if (found->unit == DimensionUnit::kRatio || found->unit == DimensionUnit::kSquareMillimetre)
      continue;
    const bool is_angle = found->unit == DimensionUnit::kRadian;
    spot.tolerance =
        is_angle ? options.tolerance_rad : asked.tolerance_mm.value_or(options.tolerance_mm);
    spot.U = found->U;
    if (found->U <= *spot.tolerance) continue;
    spot.kind = WeakSpot::Kind::kDimensionWeak;
    const ComparedTexts text = is_angle ? compared_angles(found->U, *spot.tolerance)
                                        : compared_lengths(found->U, *spot.tolerance, options.unit);
    spot.sentence = quoted(asked.name) + " is known to ± " + text.first + " " + text.unit +
                    " only; the tolerance is ± " + text.second + " " + text.unit;
    planner.help(asked.name, asked.kind, *found, spot);
    spots.push_back(std::move(spot));
  }
  for (const PointReport& point : survey.report().points) {
    if (cancelled()) return {};
    if (point.placed || asked_points.contains(point.name)) continue;
    WeakSpot spot;
    spot.kind = WeakSpot::Kind::kPointUnmeasured;
    spot.point = point.name;
    spot.sentence = "point " + quoted(point.name) + " " + point.reason;
    planner.help_to_place(point.name, spot);
    spots.push_back(std::move(spot));
  }
  for (const PhotoReport& photo : survey.report().photos) {
    if (photo.placed) continue;
    WeakSpot spot;
    spot.kind = WeakSpot::Kind::kPhotoNotOriented;
    spot.photo = photo.name;
    spot.sentence = "photo " + quoted(photo.name) + " is not oriented: it " + photo.reason;
    spot.helps.push_back({Help::Kind::kOrient, photo.name, "", {}, {}, {}, photo.reason});
    spots.push_back(std::move(spot));
  }
  for (const MarkReport& mark : survey.report().marks) {
    if (!mark.doubted) continue;
    WeakSpot spot;
    spot.kind = WeakSpot::Kind::kMarkDoubted;
    spot.photo = mark.photo;
    spot.point = mark.point;
    spot.sentence = "the mark of " + quoted(mark.point) + " in " + quoted(mark.photo) +
                    " is doubted: it contradicts the marks of the other photos";
    spot.helps.push_back({Help::Kind::kLook,
                          mark.photo,
                          mark.point,
                          {},
                          {},
                          {},
                          "look at it: place it anew, or set it aside"});
    spots.push_back(std::move(spot));
  }
  const auto rank = [](const WeakSpot& spot) {
    if (spot.kind == WeakSpot::Kind::kDimensionUnmeasured) return 1e9;
    if (spot.U && spot.tolerance) return *spot.U / *spot.tolerance;
    return -static_cast<double>(spot.kind);
  };
  std::stable_sort(spots.begin(), spots.end(),
                   [&](const WeakSpot& a, const WeakSpot& b) { return rank(a) > rank(b); });
  return spots;
}

}  // namespace measure
