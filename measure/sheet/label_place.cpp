#include "measure/sheet/label_place.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>
#include <utility>

namespace measure {
namespace {

using Eigen::Vector2d;

// Costs in heights of the label: a text moves this far to be rid of the evil.
constexpr double kLineThroughText = 3.0;
constexpr double kLeaderThroughText = 12.0;
constexpr double kBrokenLeader = 100.0;  // in place of that where nothing may run through a text
constexpr double kLeaderOverLeader = 4.0;
constexpr double kLeaderOverLine = 0.4;
constexpr double kNeedsLeader = 1.0;
constexpr double kWrongSide = 0.8;
constexpr double kUnusualSide = 0.05;  // text right and above reads best

constexpr int kNearRings = 6;
constexpr double kInfinite = std::numeric_limits<double>::infinity();

PageBox grown(const PageBox& box, double by) {
  return {box.low - Vector2d::Constant(by), box.high + Vector2d::Constant(by)};
}

PageBox grown(const PageBox& box, const Vector2d& by) { return {box.low - by, box.high + by}; }

bool inside(const PageBox& box, const PageBox& frame) {
  constexpr double kRounding = 1e-9;
  return (box.low.array() >= frame.low.array() - kRounding).all() &&
         (box.high.array() <= frame.high.array() + kRounding).all();
}

Vector2d nearest_in(const PageBox& box, const Vector2d& to) {
  return to.cwiseMax(box.low).cwiseMin(box.high);
}

/// What lies on the page by cells of the frame, so that a text meets only what is near it.
class PageGrid {
 public:
  explicit PageGrid(const PageBox& frame)
      : origin_(frame.low),
        cell_((frame.high - frame.low).cwiseMax(1e-9) / kCells),
        cells_(kCells * kCells) {}

  void insert(std::size_t item, const PageBox& bounds) {
    each_cell(bounds, [&](auto& cell) { cell.push_back(item); });
  }
  void remove(std::size_t item, const PageBox& bounds) {
    each_cell(bounds, [&](auto& cell) { std::erase(cell, item); });
  }
  /// As insert, but into the cells that the line runs through only.
  void insert(std::size_t item, const PageSegment& line) {
    const auto [from, to] = range(bounds_of(line));
    for (int y = from[1]; y <= to[1]; ++y) {
      for (int x = from[0]; x <= to[0]; ++x) {
        const Vector2d low = origin_ + cell_.cwiseProduct(Vector2d(x, y));
        // Cells at the border of the frame hold what lies outside, too.
        const bool border = x == 0 || y == 0 || x == kCells - 1 || y == kCells - 1;
        if (border || crosses(line, grown({low, low + cell_}, 1e-6 * cell_.norm()))) {
          cells_[static_cast<std::size_t>(y * kCells + x)].push_back(item);
        }
      }
    }
  }

  /// Whether `holds` is true of an item near the bounds; items may be met more than once.
  template <typename Holds>
  [[nodiscard]] bool any(const PageBox& bounds, const Holds& holds) const {
    const auto [from, to] = range(bounds);
    for (int y = from[1]; y <= to[1]; ++y) {
      for (int x = from[0]; x <= to[0]; ++x) {
        const auto& cell = cells_[static_cast<std::size_t>(y * kCells + x)];
        if (std::any_of(cell.begin(), cell.end(), holds)) {
          return true;
        }
      }
    }
    return false;
  }

  [[nodiscard]] static PageBox bounds_of(const PageSegment& line) {
    return {line.from.cwiseMin(line.to), line.from.cwiseMax(line.to)};
  }

 private:
  static constexpr int kCells = 48;
  using Cell = std::array<int, 2>;

  template <typename Change>
  void each_cell(const PageBox& bounds, const Change& change) {
    const auto [from, to] = range(bounds);
    for (int y = from[1]; y <= to[1]; ++y) {
      for (int x = from[0]; x <= to[0]; ++x) {
        change(cells_[static_cast<std::size_t>(y * kCells + x)]);
      }
    }
  }

  [[nodiscard]] std::pair<Cell, Cell> range(const PageBox& bounds) const {
    Cell from{}, to{};
    for (int axis = 0; axis < 2; ++axis) {
      const auto at = static_cast<std::size_t>(axis);
      const auto cell = [&](double value) {
        return static_cast<int>(
            std::clamp(std::floor((value - origin_[axis]) / cell_[axis]), 0.0, kCells - 1.0));
      };
      from[at] = cell(bounds.low[axis]);
      to[at] = cell(bounds.high[axis]);
    }
    return {from, to};
  }

  Vector2d origin_, cell_;
  std::vector<std::vector<std::size_t>> cells_;
};

/// Counts which of the drawn lines run through something.
class LineCounter {
 public:
  LineCounter(std::span<const PageSegment> lines, const PageBox& frame)
      : lines_(lines), grid_(frame), seen_(lines.size(), 0) {
    for (std::size_t i = 0; i < lines.size(); ++i) {
      grid_.insert(i, lines[i]);
    }
  }

  template <typename Shape>
  int crossings(const Shape& shape, const PageBox& bounds) const {
    ++turn_;
    int count = 0;
    (void)grid_.any(bounds, [&](std::size_t i) {
      count += std::exchange(seen_[i], turn_) != turn_ && crosses(lines_[i], shape) ? 1 : 0;
      return false;
    });
    return count;
  }

 private:
  std::span<const PageSegment> lines_;
  PageGrid grid_;
  mutable std::vector<unsigned> seen_;  // turn in which a line was last met
  mutable unsigned turn_ = 0;
};

class Placer {
 public:
  Placer(std::span<const LabelBox> labels, std::span<const PageSegment> lines,
         std::span<const PageBox> blocked, const LabelOptions& options)
      : labels_(labels),
        blocked_(blocked),
        options_(options),
        drawn_(lines, options.frame),
        blocked_grid_(options.frame),
        placed_grid_(options.frame),
        placed_(labels.size()) {
    for (std::size_t i = 0; i < blocked.size(); ++i) {
      blocked_grid_.insert(i, blocked[i]);
    }
  }

  std::vector<PlacedLabel> run() {
    const std::vector<std::size_t> order = most_crowded_first();
    for (const std::size_t i : order) {
      improve(i);
    }
    for (int pass = 0; pass < options_.passes; ++pass) {
      bool moved = false;
      for (const std::size_t i : order) {
        moved = improve(i) || moved;
      }
      if (!moved) {
        break;
      }
    }
    for (PlacedLabel& label : placed_) {
      if (label.placed) {
        label.lines_crossed = drawn_.crossings(label.box, label.box);
      }
    }
    return placed_;
  }

 private:
  std::vector<std::size_t> most_crowded_first() const {
    std::vector<int> neighbours(labels_.size(), 0);
    for (std::size_t i = 0; i < labels_.size(); ++i) {
      for (std::size_t j = 0; j < labels_.size(); ++j) {
        const Vector2d reach = labels_[i].size + labels_[j].size;
        const Vector2d apart = (labels_[i].anchor - labels_[j].anchor).cwiseAbs();
        neighbours[i] += (apart.array() < reach.array()).all() ? 1 : 0;
      }
    }
    std::vector<std::size_t> order(labels_.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    // Those that may be left out come last.
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
      const bool first = std::isinf(labels_[a].longest_leader),
                 second = std::isinf(labels_[b].longest_leader);
      return first != second ? first : neighbours[a] > neighbours[b];
    });
    return order;
  }

  /// Whether the label found a better place than it has.
  bool improve(std::size_t i) {
    const LabelBox& label = labels_[i];
    PlacedLabel best = placed_[i];
    double best_cost = best.placed ? cost(i, best, kInfinite) : kInfinite;
    const double before = best_cost;
    const PageBox centres = grown(options_.frame, -0.5 * label.size);
    if ((centres.low.array() > centres.high.array()).any()) {
      return false;  // larger than the frame
    }
    const auto attempt = [&](Vector2d centre, bool leader) {
      if (leader) {
        centre = nearest_in(centres, centre);
      }
      PlacedLabel candidate;
      candidate.placed = true;
      candidate.box = {centre - 0.5 * label.size, centre + 0.5 * label.size};
      candidate.leader = leader;
      candidate.leader_to = nearest_in(candidate.box, label.anchor);
      if (leader && (candidate.leader_to - label.anchor).norm() > label.longest_leader) {
        return;
      }
      if (least_cost(label, candidate) >= best_cost || !is_free(i, candidate.box)) {
        return;
      }
      if (const double its_cost = cost(i, candidate, best_cost); its_cost < best_cost) {
        best_cost = its_cost;
        best = candidate;
      }
    };
    const Vector2d reach = 0.5 * label.size + Vector2d::Constant(label.gap + nearest_gap(label));
    for (const auto& side : kSides) {
      attempt(label.anchor + reach.cwiseProduct(side), false);
    }
    const double height = std::max(label.size.y(), 1e-9);
    const double diagonal = (options_.frame.high - options_.frame.low).norm();
    const int last = static_cast<int>(std::min(std::ceil(diagonal / height), 400.0));
    for (int ring = 1; ring <= last; ++ring) {
      // Far rings are for labels that found nothing near: nothing beyond can cost less.
      const double away = ring * height;
      if (away > label.longest_leader) {
        break;
      }
      if (kNeedsLeader + ring - 1.0 >= best_cost && ring > kNearRings) {
        break;
      }
      const Vector2d radii = reach + Vector2d::Constant(away);
      const int steps = std::min(16 + 8 * ring, 240);
      for (int step = 0; step < steps; ++step) {
        const double angle = 2.0 * 3.14159265358979323846 * step / steps;
        attempt(label.anchor + radii.cwiseProduct(Vector2d(std::cos(angle), std::sin(angle))),
                true);
      }
    }
    if (!(best_cost < before - 1e-9)) {
      return false;
    }
    if (placed_[i].placed) {
      placed_grid_.remove(i, placed_[i].box);
    }
    placed_grid_.insert(i, best.box);
    placed_[i] = best;
    return true;
  }

  // A text needs a little air even beside a point without a symbol.
  static double nearest_gap(const LabelBox& label) { return 0.25 * label.size.y(); }

  bool is_free(std::size_t i, const PageBox& box) const {
    if (!inside(box, options_.frame)) {
      return false;
    }
    const PageBox wide = grown(box, options_.clearance);
    return !blocked_grid_.any(wide, [&](std::size_t j) { return overlap(wide, blocked_[j]); }) &&
           !placed_grid_.any(
               wide, [&](std::size_t j) { return j != i && overlap(wide, placed_[j].box); });
  }

  // What it costs by itself, before its neighbours are looked at.
  static double least_cost(const LabelBox& label, const PlacedLabel& place) {
    const double height = std::max(label.size.y(), 1e-9);
    const double away = (place.leader_to - label.anchor).norm() - label.gap - nearest_gap(label);
    double sum = std::max(away, 0.0) / height + (place.leader ? kNeedsLeader : 0.0);
    const Vector2d side = 0.5 * (place.box.low + place.box.high) - label.anchor;
    if (label.wanted_side.squaredNorm() > 0.0 && side.squaredNorm() > 0.0) {
      sum += kWrongSide * (1.0 - side.normalized().dot(label.wanted_side.normalized()));
    } else if (side.x() < 0.0) {
      sum += kUnusualSide;
    }
    return sum;
  }

  /// What a place costs; some value of at least `bound` where it costs that much.
  double cost(std::size_t i, const PlacedLabel& place, double bound) const {
    const LabelBox& label = labels_[i];
    const PageSegment leader{label.anchor, place.leader_to};
    const double through_text = options_.keep_off_lines ? kBrokenLeader : kLeaderThroughText;
    double sum = least_cost(label, place);
    for (std::size_t j = 0; j < placed_.size() && sum < bound; ++j) {
      if (j == i || !placed_[j].placed) {
        continue;
      }
      const PageSegment other{labels_[j].anchor, placed_[j].leader_to};
      if (place.leader && crosses(leader, placed_[j].box)) {
        sum += through_text;
      }
      if (placed_[j].leader && crosses(other, place.box)) {
        sum += through_text;
      }
      if (place.leader && placed_[j].leader && crosses(leader, other)) {
        sum += kLeaderOverLeader;
      }
    }
    if (sum < bound) {
      const int lines = drawn_.crossings(place.box, place.box);
      if (options_.keep_off_lines && lines > 0) {
        return kInfinite;
      }
      sum += kLineThroughText * lines;
    }
    if (place.leader && sum < bound) {
      sum += kLeaderOverLine * drawn_.crossings(leader, PageGrid::bounds_of(leader));
      // Its own symbol is a blocked box, too, and no evil.
      const bool over_blocked = blocked_grid_.any(PageGrid::bounds_of(leader), [&](std::size_t j) {
        return crosses(leader, blocked_[j]) &&
               !crosses(PageSegment{label.anchor, label.anchor}, blocked_[j]);
      });
      sum += over_blocked ? std::max(kLeaderOverLeader, options_.keep_off_lines ? 20.0 : 0.0) : 0.0;
    }
    return sum;
  }

  inline static const std::array<Vector2d, 8> kSides = {
      Vector2d(1, -1), Vector2d(1, 1),  Vector2d(1, 0),   Vector2d(0, -1),
      Vector2d(0, 1),  Vector2d(-1, 0), Vector2d(-1, -1), Vector2d(-1, 1)};

  std::span<const LabelBox> labels_;
  std::span<const PageBox> blocked_;
  const LabelOptions& options_;
  LineCounter drawn_;
  PageGrid blocked_grid_, placed_grid_;
  std::vector<PlacedLabel> placed_;
};

}  // namespace

bool overlap(const PageBox& a, const PageBox& b) {
  return (a.low.array() < b.high.array()).all() && (b.low.array() < a.high.array()).all();
}

bool crosses(const PageSegment& segment, const PageBox& box) {
  // The part of the segment between all four borders (Liang & Barsky 1984, from memory).
  const Vector2d along = segment.to - segment.from;
  double from = 0.0, to = 1.0;
  for (int axis = 0; axis < 2; ++axis) {
    if (along[axis] == 0.0) {
      if (segment.from[axis] <= box.low[axis] || segment.from[axis] >= box.high[axis]) {
        return false;
      }
      continue;
    }
    double first = (box.low[axis] - segment.from[axis]) / along[axis];
    double second = (box.high[axis] - segment.from[axis]) / along[axis];
    if (first > second) {
      std::swap(first, second);
    }
    from = std::max(from, first);
    to = std::min(to, second);
  }
  // A point inside, or a stretch of some length: what only touches the border does not cross it.
  return along.isZero(0.0) || from < to;
}

bool crosses(const PageSegment& a, const PageSegment& b) {
  const auto side = [](const PageSegment& line, const Vector2d& point) {
    const Vector2d along = line.to - line.from, to = point - line.from;
    return along.x() * to.y() - along.y() * to.x();
  };
  return side(a, b.from) * side(a, b.to) < 0.0 && side(b, a.from) * side(b, a.to) < 0.0;
}

std::vector<PlacedLabel> place_labels(std::span<const LabelBox> labels,
                                      std::span<const PageSegment> lines,
                                      std::span<const PageBox> blocked,
                                      const LabelOptions& options) {
  return Placer(labels, lines, blocked, options).run();
}

}  // namespace measure
