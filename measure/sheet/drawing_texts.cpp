#include "measure/sheet/drawing_texts.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "measure/sheet/sheet_font.h"

namespace measure {
namespace {

using Eigen::Vector2d;

constexpr double kBorder_mm = 6.0;       // white around all that is drawn
constexpr double kMoreBorder_mm = 15.0;  // where the labels found no room
constexpr double kLongestNameLeader_mm = 9.0;
constexpr double kSamePlace_mm = 1.0;
constexpr std::size_t kCrowd = 3;  // names of one place that are better listed
constexpr double kNumberHeight_mm = 1.8;
constexpr double kListGap_mm = 6.0, kListIndent_mm = 1.0, kListLine_mm = 3.4, kColumnGap_mm = 5.0;
constexpr double kAroundText_mm = 0.3;

/// Texts that share a place and one label.
using Group = std::vector<std::size_t>;

bool by_place(const Vector2d& a, const Vector2d& b) {
  return std::pair(a.x(), -a.y()) < std::pair(b.x(), -b.y());
}

/// A numbered list below the drawing, in columns that keep off the seams.
class List {
 public:
  explicit List(std::span<const PageSegment> seams) : seams_(seams) {}

  void write(const std::vector<std::string>& lines, PlacedTexts& to) const {
    double widest = 0.0;
    for (const std::string& line : lines) {
      widest = std::max(widest, text_width(line, kNumberHeight_mm));
    }
    to.frame.high.x() = std::max(to.frame.high.x(), to.frame.low.x() + kListIndent_mm + widest);
    const auto xs = columns(to.frame, widest);
    const std::size_t rows = (lines.size() + xs.size() - 1) / xs.size();
    double lowest = to.frame.low.y();
    for (std::size_t column = 0; column * rows < lines.size(); ++column) {
      double y = to.frame.low.y() - kListGap_mm;
      for (std::size_t i = column * rows; i < std::min(lines.size(), (column + 1) * rows); ++i) {
        LaidOutText text;
        text.text = lines[i];
        text.height_mm = kNumberHeight_mm;
        text.width_mm = text_width(lines[i], kNumberHeight_mm);
        text.at_mm = {xs[column], y};
        while (on_seam(text)) {
          text.at_mm.y() -= 1.0;
        }
        y = text.at_mm.y() - kListLine_mm;
        to.texts.push_back(std::move(text));
      }
      lowest = std::min(lowest, y);
    }
    to.frame.low.y() = lowest;
  }

 private:
  /// Where the columns begin; one at least.
  [[nodiscard]] std::vector<double> columns(const PageBox& frame, double widest) const {
    std::vector<double> upright;
    for (const PageSegment& seam : seams_) {
      if (seam.from.x() == seam.to.x()) {
        upright.push_back(seam.from.x());
      }
    }
    std::sort(upright.begin(), upright.end());
    std::vector<double> xs;
    double x = frame.low.x() + kListIndent_mm;
    for (const double seam : upright) {
      for (; x + widest + 1.0 < seam; x += widest + kColumnGap_mm) {
        xs.push_back(x);
      }
      // Wider than a sheet: there is no other way than over its seam.
      if (seam >= x && widest + 2.0 < frame.high.x() - seam) {
        x = seam + 1.0;
      }
    }
    for (; x + widest <= frame.high.x() + 1e-9; x += widest + kColumnGap_mm) {
      xs.push_back(x);
    }
    if (xs.empty()) {
      xs.push_back(frame.low.x() + kListIndent_mm);
    }
    return xs;
  }

  [[nodiscard]] bool on_seam(const LaidOutText& text) const {
    const TurnedBox room = room_of(text);
    return std::any_of(seams_.begin(), seams_.end(), [&](const PageSegment& seam) {
      return seam.from.x() != seam.to.x() && crosses(seam, room);
    });
  }

  std::span<const PageSegment> seams_;
};

class Placing {
 public:
  Placing(const std::vector<WaitingText>& waiting, const DrawnAlready& drawn)
      : waiting_(waiting), drawn_(drawn), numbered_(waiting.size(), false) {
    lines_.assign(drawn.lines.begin(), drawn.lines.end());
    lines_.insert(lines_.end(), drawn.seams.begin(), drawn.seams.end());
    for (const WaitingText& text : waiting) {
      largest_ = largest_.cwiseMax(text.label.size);
    }
  }

  PlacedTexts run() {
    number_crowds();
    double border = kBorder_mm + (waiting_.empty() ? 0.0 : 5.0);
    while (!attempt(border)) {
    }
    if (!list_.empty()) {
      List(drawn_.seams).write(list_, out_);
    }
    return std::move(out_);
  }

 private:
  /// Texts that may be listed by the place that they share.
  [[nodiscard]] std::vector<Group> groups(const std::vector<bool>& taken) const {
    std::vector<std::size_t> order;
    for (std::size_t i = 0; i < waiting_.size(); ++i) {
      if (waiting_[i].may_be_listed && taken[i]) {
        order.push_back(i);
      }
    }
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
      return by_place(waiting_[a].label.anchor, waiting_[b].label.anchor);
    });
    std::vector<Group> made;
    for (const std::size_t i : order) {
      const auto same = std::find_if(made.begin(), made.end(), [&](const Group& group) {
        return (waiting_[group.front()].label.anchor - waiting_[i].label.anchor).norm() <
               kSamePlace_mm;
      });
      if (same != made.end()) {
        same->push_back(i);
      } else {
        made.push_back({i});
      }
    }
    return made;
  }

  void number_crowds() {
    for (const Group& group : groups(std::vector<bool>(waiting_.size(), true))) {
      if (group.size() >= kCrowd) {
        for (const std::size_t i : group) {
          numbered_[i] = true;
        }
      }
    }
  }

  /// False where another one is needed: with more numbers, or a wider border.
  bool attempt(double& border) {
    out_ = {};
    list_.clear();
    std::vector<WaitingText> texts;
    std::vector<std::size_t> origin;
    for (std::size_t i = 0; i < waiting_.size(); ++i) {
      if (!numbered_[i]) {
        texts.push_back(waiting_[i]);
        if (waiting_[i].may_be_listed) {
          texts.back().label.longest_leader = kLongestNameLeader_mm;
        }
        origin.push_back(i);
      }
    }
    for (const Group& group : groups(numbered_)) {
      texts.push_back(number_label(group));
    }
    std::vector<LabelBox> labels;
    for (const WaitingText& text : texts) {
      labels.push_back(text.label);
    }
    Vector2d half = 0.5 * (drawn_.bounds.high - drawn_.bounds.low) + Vector2d::Constant(border);
    half = half.cwiseMax(0.5 * largest_);
    const Vector2d middle = 0.5 * (drawn_.bounds.low + drawn_.bounds.high);
    out_.frame = {middle - half, middle + half};
    const auto placed =
        place_labels(labels, lines_, drawn_.blocked, {.frame = out_.frame, .keep_off_lines = true});
    bool more_numbers = false, all_placed = true;
    for (std::size_t i = 0; i < placed.size(); ++i) {
      all_placed = all_placed && placed[i].placed;
      if (!placed[i].placed && i < origin.size() && waiting_[origin[i]].may_be_listed) {
        numbered_[origin[i]] = more_numbers = true;
      }
    }
    if (!all_placed) {
      border += more_numbers ? 0.0 : kMoreBorder_mm;
      return false;
    }
    for (std::size_t i = 0; i < placed.size(); ++i) {
      LaidOutText& text = texts[i].text;
      text.at_mm = placed[i].box.low + Vector2d(0.0, baseline_in_box(text.height_mm));
      if (placed[i].leader) {
        const Vector2d from = texts[i].label.anchor, along = placed[i].leader_to - from;
        const double white = std::min(kAroundText_mm, 0.5 * along.norm());
        out_.leaders.push_back({text.layer, texts[i].name,
                                LineStroke{from, from + along - white * along.normalized()}});
      }
      out_.texts.push_back(text);
    }
    out_.listed = static_cast<int>(list_.size());
    return true;
  }

  /// The label of a group, which goes onto the list.
  WaitingText number_label(const Group& group) {
    const std::size_t first = list_.size() + 1;
    WaitingText made = waiting_[group.front()];
    for (const std::size_t i : group) {
      list_.push_back(std::to_string(list_.size() + 1) + ": " + waiting_[i].text.text);
      made.label.gap = std::max(made.label.gap, waiting_[i].label.gap);
    }
    made.text.text = std::to_string(first);
    if (group.size() > 1) {
      made.text.text += (group.size() == 2 ? ", " : "–") + std::to_string(list_.size());
      made.label.wanted_side.setZero();
    }
    made.text.height_mm = kNumberHeight_mm;
    made.text.width_mm = text_width(made.text.text, kNumberHeight_mm);
    made.label.size = {made.text.width_mm, text_box_height(kNumberHeight_mm)};
    return made;
  }

  const std::vector<WaitingText>& waiting_;
  const DrawnAlready& drawn_;
  std::vector<bool> numbered_;
  std::vector<PageSegment> lines_;
  Vector2d largest_ = Vector2d::Zero();
  std::vector<std::string> list_;
  PlacedTexts out_;
};

/// Shares of a line, 0 to 1, that lie in none of the rooms.
std::vector<std::pair<double, double>> shares_outside(const PageSegment& line,
                                                      std::span<const TurnedBox> rooms) {
  std::vector<std::pair<double, double>> inside;
  const double length = (line.to - line.from).norm();
  for (const TurnedBox& room : rooms) {
    if (!crosses(line, room)) {
      continue;
    }
    double from = 0.0, to = 1.0;
    const Vector2d start = room.local(line.from), along = room.local(line.to) - start;
    for (int axis = 0; axis < 2; ++axis) {
      if (along[axis] != 0.0) {
        const double one = (-room.half[axis] - start[axis]) / along[axis],
                     other = (room.half[axis] - start[axis]) / along[axis];
        from = std::max(from, std::min(one, other));
        to = std::min(to, std::max(one, other));
      }
    }
    inside.emplace_back(from, to);
  }
  std::sort(inside.begin(), inside.end());
  std::vector<std::pair<double, double>> outside;
  double at = 0.0;
  for (const auto& [from, to] : inside) {
    if ((from - at) * length > kAroundText_mm) {
      outside.emplace_back(at, from);
    }
    at = std::max(at, to);
  }
  if ((1.0 - at) * length > kAroundText_mm || inside.empty()) {
    outside.emplace_back(at, 1.0);
  }
  return outside;
}

bool may_be_interrupted(DrawingLayer layer) {
  return layer == DrawingLayer::kDimensions || layer == DrawingLayer::kCentreLines ||
         layer == DrawingLayer::kNames;
}

/// The arc's pieces outside the rooms.
std::vector<ArcStroke> pieces_outside(const ArcStroke& arc, std::span<const TurnedBox> rooms) {
  // In steps of a twentieth of a millimetre: an arc may meet a room's border many times.
  const double sweep = arc.to_rad - arc.from_rad;
  const int steps = std::clamp(static_cast<int>(std::ceil(20.0 * arc.radius_mm * sweep)), 1, 20000);
  const auto angle = [&](int i) { return arc.from_rad + sweep * i / steps; };
  const auto at = [&](int i) {
    return Vector2d(arc.centre_mm +
                    arc.radius_mm * Vector2d(std::cos(angle(i)), std::sin(angle(i))));
  };
  std::vector<ArcStroke> pieces;
  bool open = false;
  for (int i = 0; i < steps; ++i) {
    const PageSegment step{at(i), at(i + 1)};
    const bool hidden = std::any_of(rooms.begin(), rooms.end(),
                                    [&](const TurnedBox& room) { return crosses(step, room); });
    if (!hidden && open) {
      pieces.back().to_rad = angle(i + 1);
    } else if (!hidden) {
      pieces.push_back(arc);
      pieces.back().from_rad = angle(i);
      pieces.back().to_rad = angle(i + 1);
    }
    open = !hidden;
  }
  return pieces;
}

}  // namespace

PlacedTexts place_texts(const std::vector<WaitingText>& waiting, const DrawnAlready& drawn) {
  return Placing(waiting, drawn).run();
}

TurnedBox room_of(const LaidOutText& text) {
  TurnedBox room;
  const double height = text_box_height(text.height_mm);
  room.along = {std::cos(text.turn_rad), std::sin(text.turn_rad)};
  room.half = {0.5 * text.width_mm, 0.5 * height};
  room.centre = text.at_mm + room.half.x() * room.along +
                (room.half.y() - baseline_in_box(text.height_mm)) * room.across();
  return room;
}

void interrupt_lines(std::vector<Stroke>& strokes, std::span<const LaidOutText> texts) {
  std::vector<TurnedBox> rooms;
  for (const LaidOutText& text : texts) {
    rooms.push_back(room_of(text));
    rooms.back().half += Vector2d::Constant(kAroundText_mm);
  }
  std::vector<Stroke> kept;
  for (Stroke& stroke : strokes) {
    // A leader ends at its text and a dimension line runs below it: neither is within a text's own
    // room, only within the white around it.
    const auto crossed = [&](const PageSegment& piece) {
      return std::any_of(texts.begin(), texts.end(),
                         [&](const LaidOutText& text) { return crosses(piece, room_of(text)); });
    };
    const auto pieces = pieces_of(stroke);
    if (!may_be_interrupted(stroke.layer) || std::none_of(pieces.begin(), pieces.end(), crossed)) {
      kept.push_back(std::move(stroke));
      continue;
    }
    if (const auto* line = std::get_if<LineStroke>(&stroke.shape)) {
      const PageSegment whole{line->from_mm, line->to_mm};
      std::vector<TurnedBox> over;
      for (std::size_t i = 0; i < rooms.size(); ++i) {
        if (crosses(whole, room_of(texts[i]))) {
          over.push_back(rooms[i]);
        }
      }
      for (const auto& [from, to] : shares_outside(whole, over)) {
        const Vector2d along = whole.to - whole.from;
        kept.push_back({stroke.layer, stroke.name,
                        LineStroke{whole.from + from * along, whole.from + to * along}});
      }
    } else if (const auto* arc = std::get_if<ArcStroke>(&stroke.shape)) {
      for (const ArcStroke& piece : pieces_outside(*arc, rooms)) {
        kept.push_back({stroke.layer, stroke.name, piece});
      }
    } else {
      kept.push_back(std::move(stroke));
    }
  }
  strokes = std::move(kept);
}

}  // namespace measure
