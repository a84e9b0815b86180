#include "measure/sheet/drawing_layout.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <numbers>

#include <Eigen/Eigenvalues>

#include "measure/sheet/dimension_lines.h"
#include "measure/sheet/drawing_texts.h"
#include "measure/sheet/number_text.h"
#include "measure/sheet/sheet_font.h"

namespace measure {
namespace {

using Eigen::Vector2d;

constexpr double kNameHeight_mm = 1.8, kTextHeight_mm = 2.5;
constexpr double kRimLeader_mm = 5.0;
constexpr int kRimDirections = 16;
constexpr int kBandSteps = 16;

Vector2d at_angle(double angle) { return {std::cos(angle), std::sin(angle)}; }

PageBox bounds_of(const std::vector<PageSegment>& lines) {
  constexpr double kFar = std::numeric_limits<double>::max();
  PageBox box{Vector2d::Constant(kFar), Vector2d::Constant(-kFar)};
  for (const PageSegment& line : lines) {
    box.low = box.low.cwiseMin(line.from).cwiseMin(line.to);
    box.high = box.high.cwiseMax(line.from).cwiseMax(line.to);
  }
  return box;
}

class Layouter {
 public:
  Layouter(const TemplateDrawing& drawing, const LayoutOptions& options)
      : drawing_(drawing), options_(options) {}

  LaidOutDrawing run() {
    draw_shapes();
    for (const Stroke& stroke : out_.strokes) {
      append_pieces(stroke, stroke.layer == DrawingLayer::kCentreLines ? thin_lines_ : lines_);
    }
    PageBox body = bounds_of(lines_);
    centre_ = 0.5 * (body.low + body.high);
    draw_uncertainty();
    body = bounds_of(lines_);
    draw_dimensions(body);
    name_things();
    put_texts();
    interrupt_lines(out_.strokes, out_.texts);
    write_legend();
    return std::move(out_);
  }

 private:
  void add(DrawingLayer layer, const std::string& name, decltype(Stroke::shape) shape) {
    out_.strokes.push_back({layer, name, std::move(shape)});
  }
  static void append_pieces(const Stroke& stroke, std::vector<PageSegment>& to) {
    const auto pieces = pieces_of(stroke);
    to.insert(to.end(), pieces.begin(), pieces.end());
  }

  void draw_shapes() {
    for (const DrawnSegment& edge : drawing_.edges) {
      add(DrawingLayer::kEdges, edge.name, LineStroke{edge.from_mm, edge.to_mm});
    }
    for (const DrawnPolyline& outline : drawing_.outlines) {
      add(DrawingLayer::kEdges, outline.name, PathStroke{outline.corners_mm, outline.closed});
    }
    for (const TemplateEllipse& circle : drawing_.circles) {
      add(DrawingLayer::kCircles, circle.name,
          EllipseStroke{circle.centre_mm, circle.radius_mm,
                        std::min(circle.minor_radius_mm, circle.radius_mm), circle.turn_rad});
    }
    for (const DrawnArc& arc : drawing_.arcs) {
      add(DrawingLayer::kCircles, arc.name,
          ArcStroke{arc.centre_mm, arc.radius_mm, arc.from_rad, arc.to_rad});
    }
    for (const DrawnCentreLine& line : drawing_.centre_lines) {
      add(DrawingLayer::kCentreLines, "", LineStroke{line.from_mm, line.to_mm});
    }
    for (const DrawnPoint& point : drawing_.points) {
      add(DrawingLayer::kPoints, point.name, PlaceStroke{point.at_mm});
      blocked_.push_back({point.at_mm - Vector2d::Constant(0.5 * kPlaceCross_mm),
                          point.at_mm + Vector2d::Constant(0.5 * kPlaceCross_mm)});
    }
  }

  void draw_dimensions(const PageBox& body) {
    std::vector<TemplateDimension> linear;
    for (const TemplateDimension& dimension : drawing_.dimensions) {
      switch (dimension.kind) {
        case TemplateDimension::Kind::kLinear:
          linear.push_back(dimension);
          break;
        case TemplateDimension::Kind::kRim:
          draw_rim(dimension);
          break;
        case TemplateDimension::Kind::kAngle:
          draw_angle(dimension);
          break;
      }
    }
    for (const Stroke& stroke : later_) {
      append_pieces(stroke, thin_lines_);
    }
    std::vector<Stroke> arranged;
    for (const LaidOutDimension& dimension :
         lay_out_dimensions(linear, {lines_, thin_lines_, options_.seams}, body)) {
      for (const Stroke& stroke : dimension.strokes) {
        append_pieces(stroke, thin_lines_);
        arranged.push_back(stroke);
      }
      if (dimension.leader_from) {
        wait_for(dimension.text.text, kTextHeight_mm, *dimension.leader_from, 0.3, Vector2d::Zero(),
                 DrawingLayer::kDimensions, dimension.strokes.front().name, false);
        continue;
      }
      for (const PageBox& box : upright_cover(dimension.room)) {
        blocked_.push_back(box);
        rooms_.push_back(box);
      }
      out_.texts.push_back(dimension.text);
    }
    for (auto* strokes : {&later_, &arranged}) {
      std::move(strokes->begin(), strokes->end(), std::back_inserter(out_.strokes));
    }
    later_.clear();
  }

  /// Where on the rim the arrow stands: as asked, or turned where that meets less.
  Vector2d rim_place(const TemplateDimension& dimension) const {
    const Vector2d radius = dimension.to_mm - dimension.from_mm;
    if (!(radius.norm() > 0.0)) {
      return dimension.to_mm;
    }
    const double asked = std::atan2(radius.y(), radius.x());
    Vector2d best = dimension.to_mm;
    double best_cost = std::numeric_limits<double>::infinity();
    for (int i = 0; i < kRimDirections; ++i) {
      const double turn = std::numbers::pi * (i % 2 == 0 ? -i : i + 1) / kRimDirections;
      const Vector2d outward = at_angle(asked + turn);
      const Vector2d place = dimension.from_mm + radius.norm() * outward;
      const PageSegment leader{place + 0.1 * outward, place + kRimLeader_mm * outward};
      double cost = 0.2 * std::abs(turn);
      for (const PageSegment& line : lines_) {
        cost += crosses(line, leader) ? 1.0 : 0.0;
      }
      for (const Vector2d& other : rim_ends_) {
        cost += (other - leader.to).norm() < kRimLeader_mm ? 2.0 : 0.0;
      }
      if (cost < best_cost - 1e-9) {
        best_cost = cost;
        best = place;
      }
    }
    return best;
  }

  /// An arrow from outside onto the rim, along the radius, and the text at its end.
  void draw_rim(const TemplateDimension& asked) {
    TemplateDimension dimension = asked;
    dimension.to_mm = rim_place(asked);
    const Vector2d radius = dimension.to_mm - dimension.from_mm;
    const Vector2d outward =
        radius.norm() > 0.0 ? Vector2d(radius.normalized()) : Vector2d(Vector2d::UnitX());
    const Vector2d end = dimension.to_mm + kRimLeader_mm * outward;
    rim_ends_.push_back(end);
    later_.push_back({DrawingLayer::kDimensions, dimension.name, LineStroke{dimension.to_mm, end}});
    later_.push_back(
        {DrawingLayer::kDimensions, dimension.name, ArrowStroke{dimension.to_mm, -outward}});
    wait_for(dimension.text, kTextHeight_mm, end, 0.0, outward, DrawingLayer::kDimensions,
             dimension.name, false);
  }

  void draw_angle(const TemplateDimension& dimension) {
    const Vector2d first = dimension.from_mm - dimension.vertex_mm;
    const Vector2d second = dimension.to_mm - dimension.vertex_mm;
    double from = std::atan2(first.y(), first.x()), to = std::atan2(second.y(), second.x());
    if (std::remainder(to - from, 2.0 * std::numbers::pi) < 0.0) {
      std::swap(from, to);
    }
    to = from + std::abs(std::remainder(to - from, 2.0 * std::numbers::pi));
    const double radius = std::clamp(0.5 * std::min(first.norm(), second.norm()), 6.0, 20.0);
    later_.push_back({DrawingLayer::kDimensions, dimension.name,
                      ArcStroke{dimension.vertex_mm, radius, from, to}});
    // Legs that end before the arc are drawn out to it.
    for (const auto& [leg, angle] : {std::pair(first, from), std::pair(second, to)}) {
      const Vector2d direction = leg.norm() > 0.0 ? Vector2d(leg.normalized()) : at_angle(angle);
      if (leg.norm() < radius) {
        later_.push_back({DrawingLayer::kDimensions, dimension.name,
                          LineStroke{dimension.vertex_mm + leg,
                                     dimension.vertex_mm + (radius + 1.5) * direction}});
      }
    }
    const bool inside = radius * (to - from) >= 2.0 * kArrowLength_mm + 1.0;
    const double turned = inside ? 1.0 : -1.0;
    // The chord of an arrow's length: it lies on the arc, not beside it.
    const double lean = 0.5 * kArrowLength_mm / radius;
    const Vector2d start = at_angle(from), end = at_angle(to);
    const Vector2d into_start = at_angle(from - 0.5 * std::numbers::pi + turned * lean);
    const Vector2d into_end = at_angle(to + 0.5 * std::numbers::pi - turned * lean);
    later_.push_back({DrawingLayer::kDimensions, dimension.name,
                      ArrowStroke{dimension.vertex_mm + radius * start, turned * into_start}});
    later_.push_back({DrawingLayer::kDimensions, dimension.name,
                      ArrowStroke{dimension.vertex_mm + radius * end, turned * into_end}});
    const Vector2d middle = at_angle(0.5 * (from + to));
    wait_for(dimension.text, kTextHeight_mm, dimension.vertex_mm + radius * middle, 0.5, middle,
             DrawingLayer::kDimensions, dimension.name, false);
  }

  /// Ellipses and bands, ± k u wide, times larger where asked.
  void draw_uncertainty() {
    const double wide = drawing_.k * drawing_.uncertainty_times;
    const std::size_t first = out_.strokes.size();
    const auto ellipse = [&](const std::string& name, const Vector2d& at,
                             const Eigen::Matrix2d& covariance) {
      const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> axes(
          0.5 * (covariance + covariance.transpose()));
      const Vector2d u = axes.eigenvalues().cwiseMax(0.0).cwiseSqrt();
      if (u[1] <= 0.0) {
        return;
      }
      const Vector2d direction = axes.eigenvectors().col(1);
      // An ellipse without any width is no ellipse to a reader of DXF.
      add(DrawingLayer::kUncertainty, name,
          EllipseStroke{at, wide * u[1], wide * std::max(u[0], 1e-3 * u[1]),
                        std::atan2(direction.y(), direction.x())});
    };
    for (const DrawnPoint& point : drawing_.points) {
      if (point.covariance_mm2) {
        ellipse(point.name, point.at_mm, *point.covariance_mm2);
      }
    }
    for (const DrawnSegment& edge : drawing_.edges) {
      if (edge.covariance_mm2) {
        draw_band(edge, wide);
      }
    }
    for (const TemplateEllipse& circle : drawing_.circles) {
      if (circle.centre_covariance_mm2) {
        ellipse(circle.name, circle.centre_mm, *circle.centre_covariance_mm2);
      }
      if (circle.u_radius_mm > 0.0) {
        const double share = wide * circle.u_radius_mm / circle.radius_mm;
        for (const double times : {1.0 - share, 1.0 + share}) {
          if (times > 0.0 && circle.minor_radius_mm > 0.0) {
            add(DrawingLayer::kUncertainty, circle.name,
                EllipseStroke{circle.centre_mm, times * circle.radius_mm,
                              times * circle.minor_radius_mm, circle.turn_rad});
          }
        }
      }
    }
    for (const DrawnArc& arc : drawing_.arcs) {
      for (const double side : {-1.0, 1.0}) {
        const double radius = arc.radius_mm + side * wide * arc.u_radius_mm;
        if (arc.u_radius_mm > 0.0 && radius > 0.0) {
          add(DrawingLayer::kUncertainty, arc.name,
              ArcStroke{arc.centre_mm, radius, arc.from_rad, arc.to_rad});
        }
      }
    }
    for (std::size_t i = first; i < out_.strokes.size(); ++i) {
      append_pieces(out_.strokes[i], lines_);
      has_uncertainty_ = true;
    }
  }

  /// Both sides of the band that the edge lies in: ± k u across it, from end to end.
  void draw_band(const DrawnSegment& edge, double wide) {
    const Vector2d along = edge.to_mm - edge.from_mm;
    if (!(along.norm() > 0.0)) {
      return;
    }
    const Vector2d across = Vector2d(-along.y(), along.x()).normalized();
    PathStroke left, right;
    double largest = 0.0;
    for (int i = 0; i <= kBandSteps; ++i) {
      const double t = static_cast<double>(i) / kBandSteps;
      Eigen::Vector4d weights;
      weights << (1.0 - t) * across, t * across;
      const double variance = weights.dot(*edge.covariance_mm2 * weights);
      const double half = wide * std::sqrt(std::max(variance, 0.0));
      largest = std::max(largest, half);
      left.corners_mm.emplace_back(edge.from_mm + t * along + half * across);
      right.corners_mm.emplace_back(edge.from_mm + t * along - half * across);
    }
    if (largest > 0.0) {
      add(DrawingLayer::kUncertainty, edge.name, left);
      add(DrawingLayer::kUncertainty, edge.name, right);
    }
  }

  void wait_for(const std::string& text, double height_mm, const Vector2d& anchor, double gap,
                const Vector2d& side, DrawingLayer layer, const std::string& name,
                bool may_be_listed) {
    if (text.empty()) {
      return;
    }
    WaitingText waiting;
    waiting.text.layer = layer;
    waiting.text.text = text;
    waiting.text.height_mm = height_mm;
    waiting.text.width_mm = text_width(text, height_mm);
    waiting.label.anchor = anchor;
    waiting.label.size = {waiting.text.width_mm, text_box_height(height_mm)};
    waiting.label.gap = gap;
    waiting.label.wanted_side = side;
    waiting.name = name;
    waiting.may_be_listed = may_be_listed;
    waiting_.push_back(std::move(waiting));
  }

  void name_things() {
    if (options_.names) {
      const auto name = [&](const std::string& text, const Vector2d& at, double gap,
                            const Vector2d& side) {
        wait_for(text, kNameHeight_mm, at, gap, side, DrawingLayer::kNames, text, true);
      };
      for (const DrawnPoint& point : drawing_.points) {
        name(point.name, point.at_mm, 0.5 * kPlaceCross_mm, Vector2d::Zero());
      }
      for (const DrawnSegment& edge : drawing_.edges) {
        const Vector2d along = edge.to_mm - edge.from_mm, middle = edge.from_mm + 0.5 * along;
        const Vector2d across(-along.y(), along.x());
        name(edge.name, middle, 0.3,
             across.dot(middle - centre_) < 0.0 ? Vector2d(-across) : across);
      }
      for (const DrawnPolyline& outline : drawing_.outlines) {
        name(outline.name, outline.corners_mm.front(), 0.3, Vector2d::Zero());
      }
      for (const TemplateEllipse& circle : drawing_.circles) {
        // Up to the right on the rim, off the centre lines.
        const Vector2d to = at_angle(0.25 * std::numbers::pi - circle.turn_rad);
        const Vector2d in_axes(circle.radius_mm * to.x(), circle.minor_radius_mm * to.y());
        const double c = std::cos(circle.turn_rad), s = std::sin(circle.turn_rad);
        const Vector2d out(c * in_axes.x() - s * in_axes.y(), s * in_axes.x() + c * in_axes.y());
        name(circle.name, circle.centre_mm + out, 0.3, out);
      }
      for (const DrawnArc& arc : drawing_.arcs) {
        const Vector2d out = at_angle(0.5 * (arc.from_rad + arc.to_rad));
        name(arc.name, arc.centre_mm + arc.radius_mm * out, 0.3, out);
      }
    }
    for (const DrawnNote& note : drawing_.notes) {
      wait_for(note.text, kTextHeight_mm, note.at_mm, 1.0, Vector2d::Zero(), DrawingLayer::kNames,
               "", true);
    }
  }

  void put_texts() {
    std::vector<PageSegment> lines = lines_;
    lines.insert(lines.end(), thin_lines_.begin(), thin_lines_.end());
    PageBox bounds = bounds_of(lines);
    for (const PageBox& room : rooms_) {
      bounds.low = bounds.low.cwiseMin(room.low);
      bounds.high = bounds.high.cwiseMax(room.high);
    }
    PlacedTexts placed = place_texts(waiting_, {lines, blocked_, options_.seams, bounds});
    out_.frame = placed.frame;
    std::move(placed.texts.begin(), placed.texts.end(), std::back_inserter(out_.texts));
    std::move(placed.leaders.begin(), placed.leaders.end(), std::back_inserter(out_.strokes));
    has_list_ = placed.listed > 0;
  }

  void write_legend() {
    std::string first = drawing_.title;
    for (const std::string& part : {drawing_.view, drawing_.scale_text}) {
      if (!part.empty()) {
        first += (first.empty() ? "" : ", ") + part;
      }
    }
    if (!first.empty()) {
      out_.legend.push_back(first);
    }
    out_.legend.push_back("Drawn 1:1 at the size to be built, in mm; each length bears its unit.");
    if (has_list_) {
      out_.legend.push_back("Numbers without a unit: names in the list below the drawing.");
    }
    if (has_uncertainty_) {
      out_.legend.push_back("Dotted: uncertainty of places, edges and radii, ± U with k = " +
                            number_text(drawing_.k) + ".");
      if (drawing_.uncertainty_times != 1.0) {
        out_.legend.push_back("Uncertainty is drawn " + number_text(drawing_.uncertainty_times) +
                              " times larger than it is.");
      }
    }
  }

  const TemplateDrawing& drawing_;
  const LayoutOptions& options_;
  LaidOutDrawing out_;
  Vector2d centre_ = Vector2d::Zero();
  std::vector<PageSegment> lines_;       // of what is cut along, and of its uncertainty
  std::vector<PageSegment> thin_lines_;  // that may be interrupted
  bool has_uncertainty_ = false, has_list_ = false;
  std::vector<PageBox> blocked_, rooms_;
  std::vector<Vector2d> rim_ends_;
  std::vector<Stroke> later_;
  std::vector<WaitingText> waiting_;
};

std::vector<PageSegment> chain(const std::vector<Vector2d>& corners, bool closed) {
  std::vector<PageSegment> pieces;
  for (std::size_t i = 1; i < corners.size(); ++i) {
    pieces.push_back({corners[i - 1], corners[i]});
  }
  if (closed && corners.size() > 2) {
    pieces.push_back({corners.back(), corners.front()});
  }
  return pieces;
}

/// Steps of a curve of that radius and length such that no chord is further from it.
int steps_for(double radius, double sweep, double tolerance) {
  const double step =
      2.0 * std::acos(std::clamp(1.0 - tolerance / std::max(radius, tolerance), 0.0, 1.0));
  return std::clamp(static_cast<int>(std::ceil(sweep / std::max(step, 1e-3))), 8, 720);
}

}  // namespace

const LayerPen& pen_of(DrawingLayer layer) {
  static constexpr std::array<double, 4> kContinuous{}, kChain{6.0, 1.0, 0.6, 1.0},
      kDotted{0.4, 0.5, 0.4, 0.5};
  static constexpr std::array<double, 3> kBlack{}, kGrey{0.35, 0.35, 0.35};
  static constexpr LayerPen kEdges{"edges", "Edges and outlines", 0.35, kContinuous, kBlack},
      kCircles{"circles", "Circles and arcs", 0.35, kContinuous, kBlack},
      kCentreLines{"centre-lines", "Centre lines", 0.18, kChain, kBlack},
      kPoints{"points", "Points", 0.18, kContinuous, kBlack},
      kDimensions{"dimensions", "Dimensions", 0.18, kContinuous, kBlack},
      kUncertainty{"uncertainty", "Uncertainty", 0.13, kDotted, kGrey},
      kNames{"names", "Names and notes", 0.13, kContinuous, kBlack};
  switch (layer) {
    case DrawingLayer::kEdges:
      return kEdges;
    case DrawingLayer::kCircles:
      return kCircles;
    case DrawingLayer::kCentreLines:
      return kCentreLines;
    case DrawingLayer::kPoints:
      return kPoints;
    case DrawingLayer::kDimensions:
      return kDimensions;
    case DrawingLayer::kUncertainty:
      return kUncertainty;
    case DrawingLayer::kNames:
      break;
  }
  return kNames;
}

std::vector<PageSegment> pieces_of(const Stroke& stroke, double tolerance_mm) {
  struct {
    double tolerance;
    std::vector<PageSegment> operator()(const LineStroke& line) const {
      return {{line.from_mm, line.to_mm}};
    }
    std::vector<PageSegment> operator()(const EllipseStroke& ellipse) const {
      const int steps = steps_for(ellipse.major_mm, 2.0 * std::numbers::pi, tolerance);
      const Vector2d along = at_angle(ellipse.turn_rad), across(-along.y(), along.x());
      std::vector<Vector2d> corners;
      for (int i = 0; i < steps; ++i) {
        const Vector2d at = at_angle(2.0 * std::numbers::pi * i / steps);
        corners.emplace_back(ellipse.centre_mm + ellipse.major_mm * at.x() * along +
                             ellipse.minor_mm * at.y() * across);
      }
      return chain(corners, true);
    }
    std::vector<PageSegment> operator()(const ArcStroke& arc) const {
      double sweep = std::fmod(arc.to_rad - arc.from_rad, 2.0 * std::numbers::pi);
      sweep += sweep <= 0.0 ? 2.0 * std::numbers::pi : 0.0;
      const int steps = steps_for(arc.radius_mm, sweep, tolerance);
      std::vector<Vector2d> corners;
      for (int i = 0; i <= steps; ++i) {
        corners.emplace_back(arc.centre_mm +
                             arc.radius_mm * at_angle(arc.from_rad + sweep * i / steps));
      }
      return chain(corners, false);
    }
    std::vector<PageSegment> operator()(const PathStroke& path) const {
      return chain(path.corners_mm, path.closed);
    }
    std::vector<PageSegment> operator()(const PlaceStroke& place) const {
      const Vector2d x(0.5 * kPlaceCross_mm, 0.0), y(0.0, 0.5 * kPlaceCross_mm);
      return {{place.at_mm - x, place.at_mm + x}, {place.at_mm - y, place.at_mm + y}};
    }
    std::vector<PageSegment> operator()(const ArrowStroke& arrow) const {
      const Vector2d base = arrow.tip_mm - kArrowLength_mm * arrow.direction;
      const Vector2d side =
          0.5 * kArrowWidth_mm * Vector2d(-arrow.direction.y(), arrow.direction.x());
      return {{arrow.tip_mm, base}, {arrow.tip_mm, base + side}, {arrow.tip_mm, base - side}};
    }
  } visitor{tolerance_mm};
  return std::visit(visitor, stroke.shape);
}

LaidOutDrawing lay_out(const TemplateDrawing& drawing, const LayoutOptions& options) {
  return Layouter(drawing, options).run();
}

}  // namespace measure
