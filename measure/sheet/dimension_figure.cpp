#include "measure/sheet/dimension_figure.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <Eigen/Geometry>

#include "measure/shapes/plane.h"

namespace measure {
namespace {

using Eigen::Vector3d;
using Figure = std::optional<DimensionFigure>;
using Style = FigureCurve::Style;

std::optional<Vector3d> direction(const Vector3d& from, const Vector3d& to) {
  const Vector3d along = to - from;
  if (!(along.norm() > 1e-12)) return std::nullopt;
  return along.normalized();
}

/// A direction for two places that nearly coincide: any does.
Vector3d direction_or_any(const Vector3d& from, const Vector3d& to) {
  return direction(from, to).value_or(Vector3d::UnitX());
}

Vector3d foot_on_axis(const Form& axis, const Vector3d& place) {
  return axis.position + (place - axis.position).dot(axis.direction) * axis.direction;
}
Vector3d foot_on_plane(const Form& plane, const Vector3d& place) {
  return place - (place - plane.position).dot(plane.direction) * plane.direction;
}
bool straight(FormKind kind) { return kind == FormKind::kLine || kind == FormKind::kCylinder; }

/// The places of two axes that are nearest to each other; nothing where they are parallel.
std::optional<std::pair<Vector3d, Vector3d>> nearest_on_axes(const Form& a, const Form& b) {
  const Vector3d apart = b.position - a.position;
  const double d = a.direction.dot(b.direction), size = 1 - d * d;
  if (size < 3e-4) return std::nullopt;  // 1°
  const double s = (apart.dot(a.direction) - d * apart.dot(b.direction)) / size;
  const double t = (d * apart.dot(a.direction) - apart.dot(b.direction)) / size;
  return std::pair(Vector3d(a.position + s * a.direction), Vector3d(b.position + t * b.direction));
}

/// Two directions across a unit vector.
std::pair<Vector3d, Vector3d> across(const Vector3d& normal) {
  const Vector3d first = normal.unitOrthogonal();
  return {first, normal.cross(first)};
}

class Draw {
 public:
  Draw(const Dossier& dossier, const PlacedForms& placed) : dossier_(dossier), placed_(placed) {}

  Figure operator()(const Distance& d) const {
    const Form &a = at(d.from), &b = at(d.to);
    Vector3d from = a.position, to = b.position;
    if (straight(a.kind) && straight(b.kind)) {
      if (const auto near = nearest_on_axes(a, b)) {
        std::tie(from, to) = *near;
      } else {
        to = middle(b);
        from = foot_on_axis(a, to);
      }
    } else if (straight(b.kind)) {
      to = foot_on_axis(b, from);
    } else if (straight(a.kind)) {
      from = foot_on_axis(a, to);
    } else if (b.kind == FormKind::kPlane) {
      to = foot_on_plane(b, from);
    } else if (a.kind == FormKind::kPlane) {
      from = foot_on_plane(a, to);
    }
    DimensionFigure figure;
    add_length(figure, from, to, a.kind == FormKind::kPoint && b.kind == FormKind::kPoint);
    add_form(figure, d.from, {from});
    add_form(figure, d.to, {to});
    return figure;
  }

  Figure operator()(const DistanceAlong& d) const {
    const auto along = d.axis_to.empty()
                           ? std::optional(at(d.axis_from).direction)
                           : direction(at(d.axis_from).position, at(d.axis_to).position);
    if (!along) return std::nullopt;
    DimensionFigure figure;
    const Vector3d from = at(d.from).position, to = at(d.to).position;
    figure.lengths.push_back({from, to, *along});
    figure.extent = {from, to};
    return figure;
  }

  Figure operator()(const Angle& d) const {
    return angle_figure(at(d.vertex).position, at(d.first).position, at(d.second).position);
  }

  Figure operator()(const AngleBetween& d) const {
    const Form &a = at(d.first), &b = at(d.second);
    const bool axis_a = has_axis(a.kind), axis_b = has_axis(b.kind);
    const double reach = std::max({std::abs(a.to - a.from), std::abs(b.to - b.from),
                                   0.6 * (middle(a) - middle(b)).norm()}) /
                         2;
    if (!(reach > 0)) return std::nullopt;
    Vector3d vertex, first, second;
    if (axis_a && axis_b) {
      const auto near = nearest_on_axes(a, b);
      if (!near) return both(d.first, d.second);
      vertex = (near->first + near->second) / 2;
      first = a.direction;
      second = b.direction;
    } else if (axis_a != axis_b) {
      const Form &line = axis_a ? a : b, &plane = axis_a ? b : a;
      const double into = line.direction.dot(plane.direction);
      if (std::abs(into) < 0.017) return both(d.first, d.second);
      vertex = line.position +
               (plane.position - line.position).dot(plane.direction) / into * line.direction;
      first = line.direction;
      second = line.direction - into * plane.direction;
      if (second.norm() < 1e-3) second = plane.direction.unitOrthogonal();
      second.normalize();
    } else {
      const Vector3d edge = a.direction.cross(b.direction);
      if (edge.norm() < 0.017) return both(d.first, d.second);
      // The place of both planes that is nearest to the middle between them.
      Eigen::Matrix3d normals;
      normals << a.direction.transpose(), b.direction.transpose(), edge.normalized().transpose();
      const Vector3d between = (a.position + b.position) / 2;
      vertex = normals.fullPivLu().solve(Vector3d(a.direction.dot(a.position),
                                                  b.direction.dot(b.position),
                                                  edge.normalized().dot(between)));
      first = a.direction.cross(edge).normalized();
      second = b.direction.cross(edge).normalized();
      if (first.dot(a.position - vertex) < 0) first = -first;
    }
    // Towards what was marked, and the acute angle.
    if (axis_a && first.dot(middle(a) - vertex) < 0) first = -first;
    if (first.dot(second) < 0) second = -second;
    Figure figure = angle_figure(vertex, vertex + reach * first, vertex + reach * second);
    if (figure) {
      figure->extent = {vertex};
      add_form(*figure, d.first, {vertex});
      add_form(*figure, d.second, {vertex});
    }
    return figure;
  }

  Figure operator()(const OffsetFromLine& d) const {
    const Vector3d place = at(d.point).position;
    Form axis = at(d.line_from);
    DimensionFigure figure;
    if (d.line_to.empty()) {
      const Vector3d foot = foot_on_axis(axis, place);
      add_length(figure, place, foot, false);
      add_form(figure, d.line_from, {foot});
      return figure;
    }
    const Vector3d end = at(d.line_to).position;
    const auto along = direction(axis.position, end);
    if (!along) return std::nullopt;
    axis.direction = *along;
    axis.from = 0;
    axis.to = (end - axis.position).norm();
    const Vector3d foot = foot_on_axis(axis, place);
    add_length(figure, place, foot, false);
    add_axis(figure, axis, {foot});
    figure.extent.push_back(axis.position);
    figure.extent.push_back(end);
    return figure;
  }

  Figure operator()(const OffsetFromPlane& d) const {
    const Vector3d place = at(d.point).position;
    DimensionFigure figure;
    if (d.plane.size() == 1) {
      const Vector3d foot = foot_on_plane(at(d.plane[0]), place);
      add_length(figure, place, foot, false);
      add_form(figure, d.plane[0], {foot});
      return figure;
    }
    std::vector<Vector3d> corners;
    for (const std::string& name : d.plane) corners.push_back(at(name).position);
    const auto plane = fit_plane(corners);
    if (!plane) return std::nullopt;
    Form form;
    form.kind = FormKind::kPlane;
    form.position = plane->centroid;
    form.direction = plane->normal;
    const Vector3d foot = foot_on_plane(form, place);
    add_length(figure, place, foot, false);
    add_plane(figure, form, corners, {foot});
    return figure;
  }

  Figure operator()(const Gap& d) const {
    const Form &a = at(d.first), &b = at(d.second);
    const Vector3d from = middle(a);
    const Vector3d to = is_flat(b.kind) ? foot_on_plane(b, from) : foot_on_axis(b, from);
    DimensionFigure figure;
    add_length(figure, from, to, false);
    add_form(figure, d.first, {from});
    add_form(figure, d.second, {to});
    return figure;
  }

  Figure operator()(const Radius& d) const {
    return round_figure(d.shape, FigureRound::Measures::kRadius);
  }
  Figure operator()(const Diameter& d) const {
    return round_figure(d.shape, FigureRound::Measures::kDiameter);
  }

  Figure operator()(const ConeAngle& d) const {
    const Form& cone = at(d.shape);
    const double height = std::max(std::abs(cone.from), std::abs(cone.to));
    if (!(height > 0)) return std::nullopt;
    const Vector3d side = std::tan(cone.half_angle) * cone.direction.unitOrthogonal();
    Figure figure = angle_figure(cone.position, cone.position + height * (cone.direction + side),
                                 cone.position + height * (cone.direction - side));
    if (figure) add_form(*figure, d.shape, {});
    return figure;
  }

  Figure operator()(const ChainLength& d) const {
    FigureCurve chain{places_of(d.points), Style::kDimension, true, true};
    return curve_figure(std::move(chain));
  }

  Figure operator()(const ArcLength& d) const {
    const Form& circle = at(d.circle);
    const auto [x, y] = across(circle.direction);
    const auto turn = [&, x = x, y = y](const std::string& name) {
      const Vector3d arm = at(name).position - circle.position;
      return std::atan2(arm.dot(y), arm.dot(x));
    };
    const double full = 2 * std::numbers::pi, start = turn(d.from);
    const auto ahead = [&](double angle) { return angle - full * std::floor(angle / full); };
    double sweep = ahead(turn(d.to) - start);
    const bool other_way =
        d.via.empty() ? sweep > std::numbers::pi : ahead(turn(d.via) - start) > sweep;
    if (other_way) sweep -= full;
    FigureCurve arc{{}, Style::kDimension, true, true};
    constexpr int kPieces = 48;
    for (int i = 0; i <= kPieces; ++i) {
      const double angle = start + sweep * i / kPieces;
      arc.points.push_back(circle.position +
                           circle.radius * (std::cos(angle) * x + std::sin(angle) * y));
    }
    Figure figure = curve_figure(std::move(arc));
    if (figure) {
      figure->label_at = figure->curves.front().points[kPieces / 2];
      add_form(*figure, d.circle, {});
    }
    return figure;
  }

  Figure operator()(const RowPitch& d) const {
    const std::vector<Vector3d> places = places_of(d.points);
    if (places.size() < 2) return std::nullopt;
    DimensionFigure figure;
    const auto along = direction(places.front(), places.back());
    if (!along) return std::nullopt;
    // One spacing stands for all.
    figure.lengths.push_back({places[0], places[1], *along});
    figure.curves.push_back({places, Style::kCentre});
    figure.extent = places;
    return figure;
  }

  Figure operator()(const RowDeparture& d) const {
    return curve_figure({places_of(d.points), Style::kCentre});
  }

  Figure operator()(const OutlineArea& d) const {
    std::vector<Vector3d> places = places_of(d.points);
    if (places.size() < 3) return std::nullopt;
    Vector3d sum = Vector3d::Zero();
    for (const Vector3d& place : places) sum += place;
    const Vector3d inside = sum / static_cast<double>(places.size());
    places.push_back(places.front());
    Figure figure = curve_figure({std::move(places), Style::kDimension});
    figure->label_at = inside;
    return figure;
  }

  Figure operator()(const Coordinate& d) const {
    if (!dossier_.axes) return std::nullopt;
    const auto find = [&](const std::string& name) -> const Form* {
      const auto found = placed_.forms.find(name);
      return found == placed_.forms.end() ? nullptr : &found->second;
    };
    const Form *plane = find(dossier_.axes->plane), *line = find(dossier_.axes->line),
               *origin = find(dossier_.axes->origin);
    if (!plane || !line || !origin) return std::nullopt;
    const Vector3d z = plane->direction;
    const Vector3d flat = line->direction - line->direction.dot(z) * z;
    if (!(flat.norm() > 1e-9)) return std::nullopt;
    const Vector3d x = flat.normalized(), y = z.cross(x), place = at(d.item).position;
    const Vector3d along = d.axis == "x" ? x : d.axis == "y" ? y : z;
    const Vector3d zero = d.axis == "x"   ? origin->position
                          : d.axis == "y" ? line->position
                                          : plane->position;
    const Vector3d start = place - (place - zero).dot(along) * along;
    DimensionFigure figure;
    figure.lengths.push_back({start, place, along, false, false, true});
    figure.curves.push_back(
        {{d.axis == "x" ? origin->position : foot_on_axis(*line, start), start}, Style::kCentre});
    figure.extent = {start, place};
    return figure;
  }

  Figure operator()(const MirrorDeparture& d) const {
    const Form& mirror = at(d.mirror);
    const Vector3d one = at(d.first).position, other = at(d.second).position;
    const Vector3d image =
        one - 2 * (one - mirror.position).dot(mirror.direction) * mirror.direction;
    DimensionFigure figure;
    add_length(figure, image, other, false);
    figure.curves.push_back({{one, image}, Style::kCentre});
    figure.extent.push_back(one);
    return figure;
  }

 private:
  [[nodiscard]] const Form& at(const std::string& name) const { return placed_.forms.at(name); }

  [[nodiscard]] std::vector<Vector3d> places_of(const std::vector<std::string>& names) const {
    std::vector<Vector3d> places;
    for (const std::string& name : names) places.push_back(at(name).position);
    return places;
  }

  static void add_length(DimensionFigure& figure, const Vector3d& from, const Vector3d& to,
                         bool moved_off) {
    figure.lengths.push_back({from, to, direction_or_any(from, to), moved_off});
    figure.extent.push_back(from);
    figure.extent.push_back(to);
  }

  static Figure angle_figure(const Vector3d& vertex, const Vector3d& first,
                             const Vector3d& second) {
    if (!direction(vertex, first) || !direction(vertex, second)) return std::nullopt;
    DimensionFigure figure;
    figure.angle = FigureAngle{vertex, first, second};
    figure.extent = {first, vertex, second};
    return figure;
  }

  static Figure curve_figure(FigureCurve curve) {
    if (curve.points.size() < 2) return std::nullopt;
    DimensionFigure figure;
    figure.label_at = curve.points[curve.points.size() / 2];
    if (curve.points.size() % 2 == 0) {
      figure.label_at = (curve.points[curve.points.size() / 2 - 1] + *figure.label_at) / 2;
    }
    figure.extent = curve.points;
    figure.curves.push_back(std::move(curve));
    return figure;
  }

  /// Where neither crosses the other: both are drawn, and the text stands between.
  [[nodiscard]] Figure both(const std::string& first, const std::string& second) const {
    DimensionFigure figure;
    figure.label_at = (middle(at(first)) + middle(at(second))) / 2;
    figure.extent = {middle(at(first)), middle(at(second))};
    add_form(figure, first, {});
    add_form(figure, second, {});
    return figure;
  }

  /// The axis as far as it was marked, and out to the places.
  static void add_axis(DimensionFigure& figure, const Form& axis,
                       const std::vector<Vector3d>& places) {
    double from = std::min(axis.from, axis.to), to = std::max(axis.from, axis.to);
    for (const Vector3d& place : places) {
      const double where = (place - axis.position).dot(axis.direction);
      from = std::min(from, where);
      to = std::max(to, where);
    }
    if (!(to > from)) return;
    figure.curves.push_back(
        {{axis.position + from * axis.direction, axis.position + to * axis.direction},
         Style::kCentre});
  }

  /// The outline through the points in their order about the middle, so that it does not cross
  /// itself, and a line to it from each place.
  static void add_plane(DimensionFigure& figure, const Form& plane, std::vector<Vector3d> corners,
                        const std::vector<Vector3d>& places) {
    if (corners.size() < 3) return;
    Vector3d sum = Vector3d::Zero();
    for (Vector3d& corner : corners) {
      corner = foot_on_plane(plane, corner);
      sum += corner;
      figure.extent.push_back(corner);
    }
    const Vector3d centre = sum / static_cast<double>(corners.size());
    const auto [x, y] = across(plane.direction);
    const auto turn = [&, x = x, y = y](const Vector3d& corner) {
      return std::atan2((corner - centre).dot(y), (corner - centre).dot(x));
    };
    std::stable_sort(corners.begin(), corners.end(),
                     [&](const Vector3d& a, const Vector3d& b) { return turn(a) < turn(b); });
    for (const Vector3d& place : places) {
      const Vector3d nearest = *std::min_element(corners.begin(), corners.end(),
                                                 [&](const Vector3d& a, const Vector3d& b) {
                                                   return (a - place).norm() < (b - place).norm();
                                                 });
      figure.curves.push_back({{place, nearest}, Style::kThin});
    }
    corners.push_back(corners.front());
    figure.curves.push_back({corners, Style::kCentre});
  }

  /// What a shape looks like; nothing of a point.
  void add_form(DimensionFigure& figure, const std::string& name,
                const std::vector<Vector3d>& places) const {
    const Form& form = at(name);
    switch (form.kind) {
      case FormKind::kPoint:
        return;
      case FormKind::kLine:
      case FormKind::kCylinder:
      case FormKind::kCone:
        add_axis(figure, form, places);
        return;
      case FormKind::kPlane: {
        const auto outline = placed_.outlines.find(name);
        if (outline != placed_.outlines.end()) add_plane(figure, form, outline->second, places);
        return;
      }
      case FormKind::kCircle:
      case FormKind::kSphere:
        figure.rounds.push_back(
            {form.position, form.direction, form.radius, form.kind == FormKind::kSphere});
        return;
    }
  }

  [[nodiscard]] Figure round_figure(const std::string& name, FigureRound::Measures measures) const {
    const Form& form = at(name);
    if (!(form.radius > 0)) return std::nullopt;
    const Vector3d centre = straight(form.kind) ? middle(form) : form.position;
    DimensionFigure figure;
    figure.rounds.push_back(
        {centre, form.direction, form.radius, form.kind == FormKind::kSphere, measures});
    if (straight(form.kind)) add_axis(figure, form, {});
    const auto [x, y] = across(form.direction);
    for (const Vector3d& arm : {x, y, Vector3d(-x), Vector3d(-y)}) {
      figure.extent.push_back(centre + form.radius * arm);
    }
    return figure;
  }

  const Dossier& dossier_;
  const PlacedForms& placed_;
};

}  // namespace

PlacedForms placed_forms(const SurveyReport& report, const Dossier& dossier,
                         const std::vector<FormResult>& forms) {
  PlacedForms placed;
  for (const PointReport& point : report.points) {
    if (point.placed) placed.forms[point.name] = point_form(point.position);
  }
  for (const FormResult& result : forms) {
    if (!result.problem.empty()) continue;
    placed.forms[result.name] = result.form;
    if (result.form.kind != FormKind::kPlane) continue;
    auto& outline = placed.outlines[result.name];
    for (const std::string& name : points_behind(dossier, {result.name})) {
      const auto point = placed.forms.find(name);
      if (point != placed.forms.end()) outline.push_back(point->second.position);
    }
  }
  return placed;
}

std::optional<DimensionFigure> figure_of(const Dossier& dossier, const DimensionKind& kind,
                                         const PlacedForms& placed) {
  for (const std::string& name : names_of(kind)) {
    if (!placed.forms.contains(name)) return std::nullopt;
  }
  return std::visit(Draw(dossier, placed), kind);
}

}  // namespace measure
