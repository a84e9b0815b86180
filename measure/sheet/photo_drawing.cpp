#include "measure/sheet/photo_drawing.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>

#include <Eigen/Geometry>

#include "measure/sheet/label_place.h"

namespace measure {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

constexpr double kFirstLine = 50.0;     // of a dimension line from the feature
constexpr double kNextLine = 48.0;      // between one dimension line and the next: text and air
constexpr double kFeatureGap = 7.0;     // between a feature and its extension line
constexpr double kOvershoot = 9.0;      // of an extension line beyond the dimension line
constexpr double kOutsideArrow = 46.0;  // of the line beyond its ends, where arrows stand outside
constexpr double kTextGap = 4.0;        // between text and line
constexpr double kClearance = 5.0;      // between texts
constexpr int kLevels = 6;
constexpr int kPasses = 4;
constexpr int kArcPieces = 24;
constexpr int kRimPieces = 72;
constexpr int kRoundTurns = 8;  // directions in which a radius or a diameter is tried

// Costs, in units of "one line further out".
constexpr double kNever = 1e6;
constexpr double kTextOnText = 1e4;
constexpr double kTextOnArrow = 40.0;
constexpr double kTextOnLine = 14.0;
constexpr double kLineOnLine = 2.0;
constexpr double kExtensionCrossing = 0.6;
constexpr double kLinesCoincide = 12.0;
constexpr double kOutOfFrame = 30.0;
constexpr double kInward = 1.2;
constexpr double kLevel = 1.0;
constexpr double kTextOffMiddle = 0.25;
constexpr double kTextBelow = 0.8;
constexpr double kTextBeyond = 1.0;

struct Candidate {
  std::vector<DrawnStroke> strokes;
  std::vector<DrawnArrow> arrows;
  std::optional<DrawnLabel> label;
  Vector2d anchor = Vector2d::Zero();  ///< what the text belongs to
  double own_cost = 0.0;               ///< without its neighbours
  double own_text_cost = 0.0;          ///< of the text on its own lines, or out of the frame
};

double wrapped(double angle) {
  while (angle > std::numbers::pi / 2 + 1e-9) angle -= std::numbers::pi;
  while (angle <= -std::numbers::pi / 2 + 1e-9) angle += std::numbers::pi;
  return angle;
}

std::array<Vector2d, 4> corners(const DrawnLabel& label, double grown) {
  const Vector2d x(std::cos(label.angle_rad), std::sin(label.angle_rad)), y(-x.y(), x.x());
  const Vector2d half = label.size / 2 + Vector2d::Constant(grown);
  return {label.centre - half.x() * x - half.y() * y, label.centre + half.x() * x - half.y() * y,
          label.centre + half.x() * x + half.y() * y, label.centre - half.x() * x + half.y() * y};
}

/// Whether a segment runs through a turned box: in the box's own frame it is an upright one.
bool runs_through(const Vector2d& from, const Vector2d& to, const DrawnLabel& label, double grown) {
  const Vector2d x(std::cos(label.angle_rad), std::sin(label.angle_rad)), y(-x.y(), x.x());
  const auto in_frame = [&](const Vector2d& p) {
    const Vector2d arm = p - label.centre;
    return Vector2d(arm.dot(x), arm.dot(y));
  };
  const Vector2d half = label.size / 2 + Vector2d::Constant(grown);
  return crosses(PageSegment{in_frame(from), in_frame(to)}, PageBox{-half, half});
}

bool runs_through(const DrawnStroke& stroke, const DrawnLabel& label, double grown) {
  for (std::size_t i = 1; i < stroke.points.size(); ++i) {
    if (runs_through(stroke.points[i - 1], stroke.points[i], label, grown)) return true;
  }
  return false;
}

bool runs_through(const DrawnArrow& arrow, const DrawnLabel& label) {
  return runs_through(arrow.tip, arrow.tip - kArrowLength * arrow.direction, label,
                      kArrowWidth / 2);
}

int crossings(const DrawnStroke& a, const DrawnStroke& b) {
  int count = 0;
  for (std::size_t i = 1; i < a.points.size(); ++i) {
    for (std::size_t j = 1; j < b.points.size(); ++j) {
      count += crosses(PageSegment{a.points[i - 1], a.points[i]},
                       PageSegment{b.points[j - 1], b.points[j]})
                   ? 1
                   : 0;
    }
  }
  return count;
}

double distance_to_segment(const Vector2d& p, const Vector2d& a, const Vector2d& b) {
  const Vector2d along = b - a;
  const double length2 = along.squaredNorm();
  const double t = length2 > 0 ? std::clamp((p - a).dot(along) / length2, 0.0, 1.0) : 0.0;
  return (a + t * along - p).norm();
}

/// Whether two dimension lines lie on each other over a stretch: a crossing is none.
bool coincide(const DrawnStroke& a, const DrawnStroke& b) {
  int near = 0;
  for (const double t : {0.25, 0.5, 0.75}) {
    const Vector2d p = a.points.front() + t * (a.points.back() - a.points.front());
    for (std::size_t j = 1; j < b.points.size(); ++j) {
      if (distance_to_segment(p, b.points[j - 1], b.points[j]) < 12.0) {
        ++near;
        break;
      }
    }
  }
  return near >= 2;
}

Vector2d middle_of(const std::vector<Vector2d>& curve, double share) {
  double length = 0;
  for (std::size_t i = 1; i < curve.size(); ++i) length += (curve[i] - curve[i - 1]).norm();
  double left = share * length;
  for (std::size_t i = 1; i < curve.size(); ++i) {
    const double piece = (curve[i] - curve[i - 1]).norm();
    if (piece >= left && piece > 0) return curve[i - 1] + left / piece * (curve[i] - curve[i - 1]);
    left -= piece;
  }
  return curve.back();
}

double length_of(const std::vector<Vector2d>& curve) {
  double length = 0;
  for (std::size_t i = 1; i < curve.size(); ++i) length += (curve[i] - curve[i - 1]).norm();
  return length;
}

Vector2d unit_or_x(const Vector2d& v) {
  return v.norm() > 1e-9 ? Vector2d(v.normalized()) : Vector2d::UnitX();
}

/// A dimension line with its arrows, drawn outside where there is no room for them between.
void add_dimension_line(std::vector<Vector2d> curve, bool arrow_from, bool arrow_to,
                        Candidate& candidate) {
  const Vector2d start = curve.front(), end = curve.back();
  const Vector2d at_start = unit_or_x(start - curve[1]);
  const Vector2d at_end = unit_or_x(end - curve[curve.size() - 2]);
  const bool outside = length_of(curve) < 2.6 * kArrowLength;
  if (outside) {
    if (arrow_from) curve.insert(curve.begin(), start + kOutsideArrow * at_start);
    if (arrow_to) curve.push_back(end + kOutsideArrow * at_end);
  }
  if (arrow_from) candidate.arrows.push_back({start, outside ? Vector2d(-at_start) : at_start});
  if (arrow_to) candidate.arrows.push_back({end, outside ? Vector2d(-at_end) : at_end});
  candidate.strokes.push_back({std::move(curve), StrokeKind::kDimensionLine});
}

/// The text on a dimension line: at a share of its length, above or below.
void add_texts(const Candidate& base, const std::vector<Vector2d>& line, const Vector2d& text_size,
               std::vector<Candidate>& candidates) {
  const Vector2d along = unit_or_x(line.back() - line.front());
  const double angle = wrapped(std::atan2(along.y(), along.x()));
  const Vector2d x(std::cos(angle), std::sin(angle)), below(-x.y(), x.x());
  const double up = text_size.y() / 2 + kTextGap;
  const double length = length_of(line);
  const auto add = [&](const Vector2d& at, double side, double cost) {
    Candidate candidate = base;
    candidate.label = DrawnLabel{at + side * up * below, text_size, angle};
    candidate.own_cost += cost + (side > 0 ? kTextBelow : 0.0);
    candidates.push_back(std::move(candidate));
  };
  for (const double side : {-1.0, 1.0}) {
    for (const double share : {0.5, 0.3, 0.7}) {
      add(middle_of(line, share), side, share == 0.5 ? 0.0 : kTextOffMiddle);
    }
    // Beyond an end, the line drawn out under the text.
    for (const bool at_end : {false, true}) {
      const Vector2d end = at_end ? line.back() : line.front();
      const Vector2d out = at_end ? along : Vector2d(-along);
      const double reach = kOvershoot + kArrowLength + text_size.x();
      Candidate candidate = base;
      candidate.strokes.push_back({{end, end + reach * out}, StrokeKind::kDimensionLine});
      candidate.label =
          DrawnLabel{end + (reach - text_size.x() / 2) * out + side * up * below, text_size, angle};
      candidate.own_cost +=
          kTextBeyond + (side > 0 ? kTextBelow : 0.0) + (length > 1.5 * text_size.x() ? 1.0 : 0.0);
      candidates.push_back(std::move(candidate));
    }
  }
}

class Drawer {
 public:
  Drawer(const PictureView& view, const std::vector<DimensionToDraw>& dimensions)
      : view_(view), dimensions_(dimensions), size_(view.size()) {
    Vector2d sum = Vector2d::Zero();
    double count = 0;
    for (const DimensionToDraw& d : dimensions) {
      for (const Vector3d& place : d.figure->extent) {
        if (const auto px = view.project(place)) {
          sum += *px;
          ++count;
        }
      }
    }
    middle_ = count > 0 ? Vector2d(sum / count) : Vector2d(size_ / 2);
    for (const DimensionToDraw& d : dimensions) candidates_.push_back(candidates_of(d));
    chosen_.assign(dimensions.size(), kNone);
  }

  std::vector<DrawnDimension> run() {
    // Short ones first: they stay nearest to the original.
    std::vector<std::size_t> order(dimensions_.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return extent(a) < extent(b); });
    for (int pass = 0; pass < kPasses; ++pass) {
      bool moved = false;
      for (const std::size_t i : order) moved = choose(i) || moved;
      if (!moved) break;
    }
    std::vector<DrawnDimension> drawn;
    std::vector<std::size_t> apart;
    for (std::size_t i = 0; i < dimensions_.size(); ++i) {
      DrawnDimension one;
      one.dimension = dimensions_[i].dimension;
      if (chosen_[i] != kNone) {
        const Candidate& candidate = candidates_[i][chosen_[i]];
        one.strokes = candidate.strokes;
        one.arrows = candidate.arrows;
        // A text that something runs through stands apart.
        double of_text = 0;
        (void)cost(i, chosen_[i], &of_text);
        if (of_text <= 0) {
          one.label = candidate.label;
        } else {
          apart.push_back(i);
          // Without the line that was drawn out under its text.
          if (candidate.strokes.size() > base_strokes_[i]) one.strokes.pop_back();
        }
      }
      drawn.push_back(std::move(one));
    }
    place_apart(apart, drawn);
    return drawn;
  }

 private:
  static constexpr std::size_t kNone = std::numeric_limits<std::size_t>::max();

  [[nodiscard]] double extent(std::size_t i) const {
    Vector2d low = Vector2d::Constant(1e9), high = -low;
    for (const Vector3d& place : dimensions_[i].figure->extent) {
      if (const auto px = view_.project(place)) {
        low = low.cwiseMin(*px);
        high = high.cwiseMax(*px);
      }
    }
    return (high - low).norm();
  }

  std::vector<Candidate> candidates_of(const DimensionToDraw& d) {
    Candidate fixed;
    std::vector<Vector2d> longest;  // piece of what is measured along a curve
    for (const FigureCurve& curve : d.figure->curves) {
      std::vector<Vector2d> points;
      for (std::size_t i = 1; i < curve.points.size(); ++i) {
        const auto piece = view_.line(curve.points[i - 1], curve.points[i]);
        if (curve.style == FigureCurve::Style::kDimension && piece.size() >= 2 &&
            (longest.empty() || length_of(piece) > length_of(longest))) {
          longest = piece;
        }
        points.insert(points.end(), piece.begin(), piece.end());
      }
      if (points.size() < 2) continue;
      if (curve.arrow_from) {
        fixed.arrows.push_back({points.front(), unit_or_x(points.front() - points[1])});
      }
      if (curve.arrow_to) {
        fixed.arrows.push_back(
            {points.back(), unit_or_x(points.back() - points[points.size() - 2])});
      }
      fixed.strokes.push_back({std::move(points), stroke_of(curve.style)});
    }
    for (const FigureRound& round : d.figure->rounds) add_rim(rim_of(round), fixed);
    std::vector<Candidate> all;
    std::size_t base = fixed.strokes.size();
    if (!d.figure->lengths.empty()) {
      // Further lengths of a row stand in one line with the first.
      for (const double side : {1.0, -1.0}) {
        for (int level = 0; level < (d.figure->lengths.front().moved_off ? kLevels : 1); ++level) {
          Candidate candidate = fixed;
          std::vector<Vector2d> first;
          bool seen = true;
          for (const FigureLength& length : d.figure->lengths) {
            auto line = add_length(length, side, kFirstLine + level * kNextLine, candidate);
            seen = seen && line.size() >= 2;
            if (first.empty()) first = std::move(line);
          }
          if (!seen) continue;
          base = candidate.strokes.size();
          candidate.own_cost += kLevel * level;
          candidate.anchor = middle_of(first, 0.5);
          if (d.figure->lengths.front().moved_off &&
              points_inward(d.figure->lengths.front(), first)) {
            candidate.own_cost += kInward;
          }
          add_texts(candidate, first, d.label_size, all);
        }
        if (!d.figure->lengths.front().moved_off) break;
      }
    } else if (d.figure->angle) {
      for (const double share : {0.5, 0.36, 0.66, 0.85, 1.1}) {
        Candidate candidate = fixed;
        const auto arc = add_angle(*d.figure->angle, share, candidate);
        if (arc.size() < 2) continue;
        base = candidate.strokes.size();
        candidate.own_cost += std::abs(share - 0.5) * 2;
        candidate.anchor = middle_of(arc, 0.5);
        add_angle_texts(candidate, arc, *d.figure->angle, d.label_size, all);
      }
    } else if (const FigureRound* round = measured_round(*d.figure)) {
      const Rim rim = rim_of(*round);
      for (int turn = 0; turn < kRoundTurns; ++turn) {
        Candidate candidate = fixed;
        const auto line = add_round_line(rim, round->measures, turn, candidate);
        if (line.size() < 2) continue;
        base = candidate.strokes.size();
        candidate.anchor = middle_of(line, 0.5);
        add_texts(candidate, line, d.label_size, all);
      }
    } else if (d.figure->label_at) {
      if (longest.size() >= 2) {
        Candidate candidate = fixed;
        candidate.own_cost = 0.5;
        candidate.anchor = middle_of(longest, 0.5);
        add_texts(candidate, longest, d.label_size, all);
      }
      if (const auto at = view_.project(*d.figure->label_at)) {
        fixed.anchor = *at;
        for (const double up : {0.0, -1.0, 1.0}) {
          Candidate candidate = fixed;
          candidate.label = DrawnLabel{*at + Vector2d(0, up * (d.label_size.y() / 2 + kTextGap)),
                                       d.label_size, 0};
          candidate.own_cost = std::abs(up);
          all.push_back(std::move(candidate));
        }
      }
    }
    base_strokes_.push_back(base);
    // A frame that is left costs whoever the neighbours are.
    for (Candidate& candidate : all) {
      for (const DrawnStroke& stroke : candidate.strokes) {
        for (const Vector2d& p : stroke.points) {
          if (!in_frame(p)) {
            candidate.own_cost += kOutOfFrame;
            break;
          }
        }
      }
      for (const Vector2d& corner : corners(*candidate.label, 2.0)) {
        if (!in_frame(corner)) {
          candidate.own_text_cost += kNever;
          break;
        }
      }
      for (std::size_t s = 0; s < candidate.strokes.size(); ++s) {
        // Its own line touches the foot of the text's air, not the text.
        if (runs_through(candidate.strokes[s], *candidate.label, 0.0)) {
          candidate.own_text_cost += kTextOnLine;
        }
      }
      for (const DrawnArrow& arrow : candidate.arrows) {
        if (runs_through(arrow, *candidate.label)) candidate.own_text_cost += kTextOnArrow;
      }
      candidate.own_cost += candidate.own_text_cost;
    }
    return all;
  }

  static StrokeKind stroke_of(FigureCurve::Style style) {
    switch (style) {
      case FigureCurve::Style::kThin:
        return StrokeKind::kExtensionLine;
      case FigureCurve::Style::kCentre:
        return StrokeKind::kCentreLine;
      case FigureCurve::Style::kDimension:
        return StrokeKind::kDimensionLine;
    }
    return StrokeKind::kExtensionLine;
  }

  /// A circle of space; of a ball the one that the camera sees as its outline.
  struct Rim {
    Vector3d centre, x, y;
    double radius = 0.0;
    [[nodiscard]] Vector3d at(double turn) const {
      return centre + radius * (std::cos(turn) * x + std::sin(turn) * y);
    }
  };
  [[nodiscard]] Rim rim_of(const FigureRound& round) const {
    Vector3d centre = round.centre, normal = round.normal;
    double radius = round.radius;
    if (round.ball) {
      const Vector3d sight = view_.to_camera(round.centre);
      const double away = sight.norm();
      if (away > radius) {
        normal = sight / away;
        centre += radius * radius / away * normal;
        radius *= std::sqrt(1 - radius * radius / (away * away));
      }
    }
    const Vector3d x = normal.unitOrthogonal();
    return {centre, x, normal.cross(x), radius};
  }

  void add_rim(const Rim& rim, Candidate& candidate) const {
    std::vector<Vector2d> points;
    for (int i = 0; i <= kRimPieces; ++i) {
      const auto px = view_.project(rim.at(2 * std::numbers::pi * i / kRimPieces));
      if (!px) return;
      points.push_back(*px);
    }
    candidate.strokes.push_back({std::move(points), StrokeKind::kExtensionLine});
  }

  static const FigureRound* measured_round(const DimensionFigure& figure) {
    for (const FigureRound& round : figure.rounds) {
      if (round.measures != FigureRound::Measures::kNothing) return &round;
    }
    return nullptr;
  }

  /// Through the centre, or from it to the rim; empty where it cannot be seen.
  std::vector<Vector2d> add_round_line(const Rim& rim, FigureRound::Measures measures, int turn,
                                       Candidate& candidate) const {
    const bool whole = measures == FigureRound::Measures::kDiameter;
    const double angle = (whole ? 1 : 2) * std::numbers::pi * turn / kRoundTurns;
    auto line = view_.line(whole ? rim.at(angle + std::numbers::pi) : rim.centre, rim.at(angle));
    if (line.size() < 2) return {};
    add_dimension_line(line, whole, true, candidate);
    return line;
  }

  [[nodiscard]] bool in_frame(const Vector2d& p) const {
    return p.x() >= 4 && p.y() >= 4 && p.x() <= size_.x() - 4 && p.y() <= size_.y() - 4;
  }

  /// Returns the dimension line, empty where it cannot be seen.
  std::vector<Vector2d> add_length(const FigureLength& length, double side, double off,
                                   Candidate& candidate) const {
    const Vector3d run = (length.to - length.from).dot(length.along) * length.along;
    const Vector3d apart = (length.to - length.from) - run;
    if (!length.moved_off) {
      const auto line = view_.line(length.from, length.to);
      if (line.size() < 2) return {};
      add_dimension_line(line, length.arrow_from, length.arrow_to, candidate);
      return line;
    }
    // Off the original across the line of sight, so that the photo shows it in full.
    const Vector3d middle = (length.from + length.to) / 2;
    Vector3d across = length.along.cross(view_.to_camera(middle).normalized());
    if (across.norm() < 1e-6) across = length.along.unitOrthogonal();
    across.normalize();
    // How far it has to go in space: a step that the photo shows, scaled.
    const auto here = view_.project(middle);
    const double step = 1e-3 * view_.to_camera(middle).norm();
    const auto there = view_.project(middle + step * across);
    if (!here || !there || !((*there - *here).norm() > 1e-9)) return {};
    const double per_unit = step / (*there - *here).norm();
    const double beyond = std::max(0.0, side * apart.dot(across));
    const Vector3d away = side * (beyond + off * per_unit) * across;
    const Vector3d start = length.from + away, end = start + run;
    auto line = view_.line(start, end);
    if (line.size() < 2) return {};
    for (const auto& [feature, foot] : {std::pair(length.from, start), std::pair(length.to, end)}) {
      const Vector3d way = foot - feature;
      const auto from_px = view_.project(feature), to_px = view_.project(foot);
      if (!from_px || !to_px) return {};
      const double length_px = std::max((*to_px - *from_px).norm(), 1.0);
      const auto extension = view_.line(feature + std::min(0.4, kFeatureGap / length_px) * way,
                                        foot + kOvershoot / length_px * way);
      if (extension.size() < 2) return {};
      candidate.strokes.push_back({extension, StrokeKind::kExtensionLine});
    }
    add_dimension_line(line, length.arrow_from, length.arrow_to, candidate);
    return line;
  }

  /// Whether the dimension line lies between its features and the middle of all that is drawn.
  bool points_inward(const FigureLength& length, const std::vector<Vector2d>& line) const {
    const auto a = view_.project(length.from), b = view_.project(length.to);
    if (!a || !b) return false;
    const Vector2d features = (*a + *b) / 2;
    return (middle_of(line, 0.5) - features).dot(features - middle_) < 0;
  }

  std::vector<Vector2d> add_angle(const FigureAngle& angle, double share,
                                  Candidate& candidate) const {
    const Vector3d a = angle.first - angle.vertex, b = angle.second - angle.vertex;
    const double radius = share * std::min(a.norm(), b.norm());
    const Vector3d x = a.normalized();
    Vector3d y = b - b.dot(x) * x;
    if (y.norm() < 1e-9 * b.norm()) y = x.unitOrthogonal();
    y.normalize();
    const double opening = std::atan2(a.cross(b).norm(), a.dot(b));
    std::vector<Vector2d> arc;
    for (int i = 0; i <= kArcPieces; ++i) {
      const double turn = opening * i / kArcPieces;
      const auto px =
          view_.project(angle.vertex + radius * (std::cos(turn) * x + std::sin(turn) * y));
      if (!px) return {};
      arc.push_back(*px);
    }
    for (const Vector3d& arm : {a, b}) {
      const double reach = std::max(1.0, 1.06 * radius / arm.norm());
      const auto line = view_.line(angle.vertex, angle.vertex + reach * arm);
      if (line.size() < 2) return {};
      candidate.strokes.push_back({line, StrokeKind::kExtensionLine});
    }
    add_dimension_line(arc, true, true, candidate);
    return arc;
  }

  /// Upright texts outside and inside of the arc.
  void add_angle_texts(const Candidate& base, const std::vector<Vector2d>& arc,
                       const FigureAngle& angle, const Vector2d& text_size,
                       std::vector<Candidate>& candidates) const {
    const Vector2d vertex = *view_.project(angle.vertex);
    for (const double share : {0.5, 0.3, 0.7}) {
      const Vector2d at = middle_of(arc, share);
      const Vector2d out = unit_or_x(at - vertex);
      // The box touches the arc's air with its nearest border.
      const double reach =
          std::min((text_size.x() / 2 + kTextGap) / std::max(1e-6, std::abs(out.x())),
                   (text_size.y() / 2 + kTextGap) / std::max(1e-6, std::abs(out.y())));
      for (const double side : {1.0, -1.0}) {
        Candidate candidate = base;
        candidate.label = DrawnLabel{at + side * (reach + kTextGap) * out, text_size, 0.0};
        candidate.own_cost += (share == 0.5 ? 0.0 : kTextOffMiddle) + (side < 0 ? 0.4 : 0.0);
        candidates.push_back(std::move(candidate));
      }
    }
  }

  /// @param of_text  if given, the part that the text's own place costs.
  [[nodiscard]] double cost(std::size_t i, std::size_t candidate_index,
                            double* of_text = nullptr) const {
    const Candidate& candidate = candidates_[i][candidate_index];
    double sum = candidate.own_cost - candidate.own_text_cost, text = candidate.own_text_cost;
    for (std::size_t j = 0; j < chosen_.size(); ++j) {
      if (j == i || chosen_[j] == kNone) continue;
      const Candidate& other = candidates_[j][chosen_[j]];
      if (labels_overlap(*candidate.label, *other.label, kClearance)) text += kTextOnText;
      for (const DrawnArrow& arrow : other.arrows) {
        if (runs_through(arrow, *candidate.label)) text += kTextOnArrow;
      }
      for (const DrawnArrow& arrow : candidate.arrows) {
        if (runs_through(arrow, *other.label)) sum += kTextOnArrow;
      }
      for (const DrawnStroke& stroke : other.strokes) {
        if (runs_through(stroke, *candidate.label, 1.5)) text += kTextOnLine;
        const bool thin = stroke.kind != StrokeKind::kDimensionLine;
        for (const DrawnStroke& own : candidate.strokes) {
          const bool both_lines = !thin && own.kind == StrokeKind::kDimensionLine;
          sum += (both_lines ? kLineOnLine : kExtensionCrossing) * crossings(own, stroke);
          if (both_lines && coincide(own, stroke)) sum += kLinesCoincide;
        }
      }
      for (const DrawnStroke& stroke : candidate.strokes) {
        if (runs_through(stroke, *other.label, 1.5)) sum += kTextOnLine;
      }
    }
    if (of_text) *of_text = text;
    return sum + text;
  }

  /// Whether dimension i found a better place than it has.
  bool choose(std::size_t i) {
    std::size_t best = chosen_[i];
    double least = best == kNone ? std::numeric_limits<double>::infinity() : cost(i, best);
    const double before = least;
    for (std::size_t c = 0; c < candidates_[i].size(); ++c) {
      if (candidates_[i][c].own_cost >= least) continue;
      const double its = cost(i, c);
      if (its < least) {
        least = its;
        best = c;
      }
    }
    chosen_[i] = best;
    return least < before - 1e-9;
  }

  /// Texts that found no place at their line go where there is room, with a leader line.
  void place_apart(const std::vector<std::size_t>& apart,
                   std::vector<DrawnDimension>& drawn) const {
    if (apart.empty()) return;
    std::vector<PageBox> blocked;
    std::vector<PageSegment> lines;
    for (const DrawnDimension& one : drawn) {
      if (one.label) {
        // The upright box round a turned text would block corners that are free: cells along it do
        // not.
        const int cells =
            std::abs(one.label->angle_rad) < 0.02
                ? 1
                : static_cast<int>(std::ceil(one.label->size.x() / one.label->size.y()));
        for (int c = 0; c < cells; ++c) {
          DrawnLabel part = *one.label;
          const Vector2d x(std::cos(part.angle_rad), std::sin(part.angle_rad));
          part.size.x() /= cells;
          part.centre += ((c + 0.5) / cells - 0.5) * one.label->size.x() * x;
          PageBox box{part.centre, part.centre};
          for (const Vector2d& corner : corners(part, 0.0)) {
            box.low = box.low.cwiseMin(corner);
            box.high = box.high.cwiseMax(corner);
          }
          blocked.push_back(box);
        }
      }
      for (const DrawnArrow& arrow : one.arrows) {
        const Vector2d tail = arrow.tip - kArrowLength * arrow.direction;
        blocked.push_back({arrow.tip.cwiseMin(tail) - Vector2d::Constant(3),
                           arrow.tip.cwiseMax(tail) + Vector2d::Constant(3)});
      }
      for (const DrawnStroke& stroke : one.strokes) {
        for (std::size_t k = 1; k < stroke.points.size(); ++k) {
          lines.push_back({stroke.points[k - 1], stroke.points[k]});
        }
      }
    }
    std::vector<LabelBox> labels;
    for (const std::size_t i : apart) {
      const Candidate& candidate = candidates_[i][chosen_[i]];
      labels.push_back({candidate.anchor, dimensions_[i].label_size, 10.0, Vector2d::Zero()});
    }
    const LabelOptions options{
        {Vector2d::Constant(6), size_ - Vector2d::Constant(6)}, kClearance, 4};
    const auto placed = place_labels(labels, lines, blocked, options);
    for (std::size_t k = 0; k < apart.size(); ++k) {
      if (!placed[k].placed) continue;
      DrawnDimension& one = drawn[apart[k]];
      one.label = DrawnLabel{(placed[k].box.low + placed[k].box.high) / 2,
                             placed[k].box.high - placed[k].box.low, 0.0};
      if (placed[k].leader) {
        one.strokes.push_back({{labels[k].anchor, placed[k].leader_to}, StrokeKind::kLeader});
      }
    }
  }

  const PictureView& view_;
  const std::vector<DimensionToDraw>& dimensions_;
  Vector2d size_, middle_;
  std::vector<std::vector<Candidate>> candidates_;
  std::vector<std::size_t> base_strokes_;  ///< without a line drawn out under the text
  std::vector<std::size_t> chosen_;
};

}  // namespace

bool labels_overlap(const DrawnLabel& a, const DrawnLabel& b, double clearance) {
  // Separating axes: two convex boxes are apart where one side's direction shows a gap.
  const double reach = (a.size.norm() + b.size.norm()) / 2 + clearance;
  if ((a.centre - b.centre).squaredNorm() > reach * reach) return false;
  const auto corners_a = corners(a, clearance), corners_b = corners(b, 0.0);
  for (const double angle : {a.angle_rad, a.angle_rad + std::numbers::pi / 2, b.angle_rad,
                             b.angle_rad + std::numbers::pi / 2}) {
    const Vector2d axis(std::cos(angle), std::sin(angle));
    double low_a = 1e18, high_a = -1e18, low_b = 1e18, high_b = -1e18;
    for (const Vector2d& corner : corners_a) {
      low_a = std::min(low_a, corner.dot(axis));
      high_a = std::max(high_a, corner.dot(axis));
    }
    for (const Vector2d& corner : corners_b) {
      low_b = std::min(low_b, corner.dot(axis));
      high_b = std::max(high_b, corner.dot(axis));
    }
    if (high_a <= low_b || high_b <= low_a) return false;
  }
  return true;
}

std::vector<DrawnDimension> draw_dimensions(const PictureView& view,
                                            const std::vector<DimensionToDraw>& dimensions) {
  return Drawer(view, dimensions).run();
}

}  // namespace measure
