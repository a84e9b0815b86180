#include "measure/sheet/dimension_lines.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include "measure/sheet/sheet_font.h"

namespace measure {
namespace {

using Eigen::Vector2d;

constexpr double kTextHeight_mm = 2.5;
constexpr double kFirstOffset_mm = 8.0, kStep_mm = 6.0;  // common practice, no source
constexpr double kExtensionGap_mm = 0.8, kExtensionBeyond_mm = 1.5;
constexpr double kTextAbove_mm = 0.5;
constexpr double kOutsideTail_mm = 5.0;
constexpr int kNearLevels = 4;
constexpr int kFarLevels = 40;

// What a place costs, in millimetres further out.
constexpr double kLineThroughText = 40.0;  // which is then interrupted
constexpr double kLineOverDrawing = 4.0;
constexpr double kOffMiddle = 6.0;
constexpr double kExtensionOverLine = 5.0;
constexpr double kSeamThroughText = 120.0;
constexpr double kExtensionThroughText = 100.0;
constexpr double kWrongSide = 10.0;
constexpr double kTextByLeader = 50.0;

struct Candidate {
  LaidOutDimension dimension;
  PageSegment line;                     ///< of the dimension, tails included
  std::vector<PageSegment> extensions;  ///< one or two
  TurnedBox corridor;                   ///< no other dimension line lies in it
};

void add_line(LaidOutDimension& to, const std::string& name, const PageSegment& line) {
  to.strokes.push_back({DrawingLayer::kDimensions, name, LineStroke{line.from, line.to}});
}

/// @param offset  signed distance of the dimension line from the measured one, along its left side.
/// @param shift   of the text along the line, as a share of the room there is; -1 to 1.
/// @param with_text  false: the text is elsewhere, and a leader runs there.
Candidate candidate_at(const TemplateDimension& asked, double offset, double shift,
                       bool with_text = true) {
  Candidate made;
  const Vector2d span = asked.to_mm - asked.from_mm;
  const double length = span.norm();
  Vector2d along = length > 1e-9 ? Vector2d(span / length) : Vector2d(Vector2d::UnitX());
  const Vector2d left(-along.y(), along.x());
  const Vector2d a = asked.from_mm + offset * left, b = asked.to_mm + offset * left;
  const double side = offset < 0.0 ? -1.0 : 1.0;
  for (const auto& [from, to] : {std::pair(asked.from_mm, a), std::pair(asked.to_mm, b)}) {
    const PageSegment extension{from + side * kExtensionGap_mm * left,
                                to + side * kExtensionBeyond_mm * left};
    made.extensions.push_back(extension);
    add_line(made.dimension, asked.name, extension);
  }
  LaidOutText& text = made.dimension.text;
  text.layer = DrawingLayer::kDimensions;
  text.text = asked.text;
  text.height_mm = kTextHeight_mm;
  text.width_mm = with_text ? text_width(asked.text, kTextHeight_mm) : 0.0;

  const bool arrows_inside = length >= 2.0 * kArrowLength_mm + 2.0;
  const bool text_inside = !with_text || length >= text.width_mm + 1.0;
  // Text reads from below or from the right.
  Vector2d reading = along;
  if (reading.x() < -1e-9 || (std::abs(reading.x()) <= 1e-9 && reading.y() < 0.0)) {
    reading = -reading;
  }
  const Vector2d above(-reading.y(), reading.x());
  made.line = {a, b};
  double middle = 0.5 * length;  // of the text, from a along the line
  if (text_inside) {
    middle += shift * 0.5 * (length - text.width_mm - 1.0);
  } else {
    // Beyond the end at b, or at a, over a line that is drawn out under it.
    const double reach = (arrows_inside ? 1.0 : kOutsideTail_mm) + 0.5 * text.width_mm;
    middle = shift >= 0.0 ? length + reach : -reach;
    const Vector2d tail = a + (middle + (shift >= 0.0 ? 0.5 : -0.5) * text.width_mm) * along;
    (shift >= 0.0 ? made.line.to : made.line.from) = tail;
  }
  if (!arrows_inside) {
    made.line.from = (made.line.from - a).norm() < kOutsideTail_mm
                         ? Vector2d(a - kOutsideTail_mm * along)
                         : made.line.from;
    made.line.to = (made.line.to - b).norm() < kOutsideTail_mm
                       ? Vector2d(b + kOutsideTail_mm * along)
                       : made.line.to;
  }
  add_line(made.dimension, asked.name, made.line);
  const double inward = arrows_inside ? 1.0 : -1.0;
  made.dimension.strokes.push_back(
      {DrawingLayer::kDimensions, asked.name, ArrowStroke{a, -inward * along}});
  made.dimension.strokes.push_back(
      {DrawingLayer::kDimensions, asked.name, ArrowStroke{b, inward * along}});

  const double box_height = text_box_height(kTextHeight_mm);
  TurnedBox& room = made.dimension.room;
  room.along = reading;
  room.half = {0.5 * text.width_mm, 0.5 * box_height};
  room.centre = a + middle * along + (kTextAbove_mm + 0.5 * box_height) * above;
  text.turn_rad = std::atan2(reading.y(), reading.x());
  text.at_mm = room.centre - room.half.x() * reading +
               (baseline_in_box(kTextHeight_mm) - room.half.y()) * above;

  if (!with_text) {
    made.dimension.leader_from = 0.5 * (a + b);
  }
  made.corridor.along = along;
  made.corridor.centre = 0.5 * (made.line.from + made.line.to);
  made.corridor.half = {0.5 * (made.line.to - made.line.from).norm() + 1.0, 1.5};
  return made;
}

TurnedBox grown(TurnedBox box, double by) {
  box.half += Vector2d::Constant(by);
  return box;
}

bool collides(const Candidate& a, const Candidate& b) {
  const bool text_of_a = !a.dimension.leader_from, text_of_b = !b.dimension.leader_from;
  const TurnedBox text_a = grown(a.dimension.room, 0.4), text_b = grown(b.dimension.room, 0.4);
  if ((text_of_a && text_of_b && overlap(text_a, text_b)) ||
      (text_of_b && overlap(a.corridor, text_b)) || (text_of_a && overlap(b.corridor, text_a))) {
    return true;
  }
  const bool parallel = std::abs(a.corridor.along.dot(b.corridor.along)) > 0.95;
  if (parallel && overlap(a.corridor, b.corridor)) {
    return true;
  }
  return false;
}

int extensions_through_text(const Candidate& one, const Candidate& other) {
  if (other.dimension.leader_from) {
    return 0;
  }
  const TurnedBox text = grown(other.dimension.room, 0.4);
  return static_cast<int>(
      std::count_if(one.extensions.begin(), one.extensions.end(),
                    [&](const PageSegment& line) { return crosses(line, text); }));
}

class Arranger {
 public:
  Arranger(const DimensionGround& ground, const PageBox& bounds)
      : ground_(ground), centre_(0.5 * (bounds.low + bounds.high)) {}

  void place(const TemplateDimension& asked, std::size_t at, std::vector<LaidOutDimension>& out) {
    const Vector2d span = asked.to_mm - asked.from_mm;
    const Vector2d along =
        span.norm() > 1e-9 ? Vector2d(span.normalized()) : Vector2d(Vector2d::UnitX());
    const Vector2d left(-along.y(), along.x());
    const Vector2d middle = 0.5 * (asked.from_mm + asked.to_mm);
    // Away from the middle of the body; above and to the right where it runs through it.
    const double away = (middle - centre_).dot(left);
    const double outside = std::abs(away) > 1e-6 ? std::copysign(1.0, away)
                           : left.y() > 1e-9 || (std::abs(left.y()) <= 1e-9 && left.x() > 0.0)
                               ? 1.0
                               : -1.0;
    Candidate best;
    double best_cost = std::numeric_limits<double>::infinity();
    for (const double side : {outside, -outside}) {
      double beyond = 0.0;  // where the drawing ends on this side, over the length of the dimension
      for (const PageSegment& line : ground_.lines) {
        for (const Vector2d& end : {line.from, line.to}) {
          beyond = std::max(beyond, side * (end - middle).dot(left));
        }
      }
      for (int level = 0; level < kNearLevels + kFarLevels; ++level) {
        const double offset = level < kNearLevels
                                  ? kFirstOffset_mm + kStep_mm * level
                                  : beyond + kFirstOffset_mm + kStep_mm * (level - kNearLevels);
        const double base = offset + (side == outside ? 0.0 : kWrongSide);
        if (base >= best_cost) {
          continue;
        }
        const auto attempt = [&](const Candidate& candidate, double more) {
          const double its_cost = base + more + cost(candidate);
          if (its_cost < best_cost && is_free(candidate)) {
            best_cost = its_cost;
            best = candidate;
          }
        };
        for (const double shift : {0.0, 0.25, -0.25, 0.5, -0.5, 0.75, -0.75, 1.0, -1.0}) {
          const Candidate candidate = candidate_at(asked, side * offset, shift);
          attempt(candidate, kOffMiddle * std::abs(shift));
          if (shift == 0.0) {
            attempt(candidate_at(asked, side * offset, 0.0, false), kTextByLeader);
          }
        }
      }
    }
    if (!std::isfinite(best_cost)) {
      // Nothing is free: outside of all that was placed so far.
      double reach = kFirstOffset_mm + kStep_mm * (kFarLevels + 1.0);
      do {
        best = candidate_at(asked, outside * reach, 0.0);
        reach *= 1.3;
      } while (!is_free(best) && reach < 1e6);
    }
    placed_.push_back(best);
    out[at] = best.dimension;
  }

 private:
  bool is_free(const Candidate& candidate) const {
    return std::none_of(
               ground_.lines.begin(), ground_.lines.end(),
               [&](const PageSegment& line) { return crosses(line, candidate.dimension.room); }) &&
           std::none_of(placed_.begin(), placed_.end(),
                        [&](const Candidate& other) { return collides(candidate, other); });
  }

  double cost(const Candidate& candidate) const {
    double sum = 0.0;
    for (const auto& lines : {ground_.lines, ground_.thin}) {
      for (const PageSegment& line : lines) {
        sum += crosses(line, candidate.line) ? kLineOverDrawing : 0.0;
      }
    }
    for (const PageSegment& line : ground_.thin) {
      sum += crosses(line, candidate.dimension.room) ? kLineThroughText : 0.0;
    }
    for (const PageSegment& seam : ground_.seams) {
      sum += crosses(seam, candidate.dimension.room) ? kSeamThroughText : 0.0;
    }
    for (const Candidate& other : placed_) {
      sum += kExtensionThroughText * (extensions_through_text(candidate, other) +
                                      extensions_through_text(other, candidate));
      for (const PageSegment& extension : candidate.extensions) {
        sum += crosses(extension, other.line) ? kExtensionOverLine : 0.0;
      }
      for (const PageSegment& extension : other.extensions) {
        sum += crosses(extension, candidate.line) ? kExtensionOverLine : 0.0;
      }
    }
    return sum;
  }

  DimensionGround ground_;
  Vector2d centre_;
  std::vector<Candidate> placed_;
};

}  // namespace

std::vector<LaidOutDimension> lay_out_dimensions(std::span<const TemplateDimension> dimensions,
                                                 const DimensionGround& ground,
                                                 const PageBox& bounds) {
  std::vector<std::size_t> order(dimensions.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return (dimensions[a].to_mm - dimensions[a].from_mm).norm() <
           (dimensions[b].to_mm - dimensions[b].from_mm).norm();
  });
  std::vector<LaidOutDimension> out(dimensions.size());
  Arranger arranger(ground, bounds);
  for (const std::size_t i : order) {
    arranger.place(dimensions[i], i, out);
  }
  return out;
}

}  // namespace measure
