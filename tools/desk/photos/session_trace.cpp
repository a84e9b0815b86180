#include "tools/desk/photos/session_trace.h"

#include <QCoreApplication>
#include <QLocale>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>

#include <Eigen/Geometry>

#include "measure/live/predict.h"
#include "measure/live/trace.h"
#include "measure/shapes/plane.h"
#include "tools/desk/photos/shape_trace.h"
#include "tools/desk/photos/tracer.h"

namespace desk {
namespace {

struct Words {
  Q_DECLARE_TR_FUNCTIONS(desk::SessionTrace)
};
QString words(const std::string& text) { return QString::fromStdString(text); }
QString number(double value, int places = 2) { return pixel_text(value, places); }

QPolygonF polygon(const std::vector<Eigen::Vector2d>& course) {
  QPolygonF line;
  for (const Eigen::Vector2d& at : course) line << QPointF(at.x(), at.y());
  return line;
}

// What a dimension looks like, one kind each.
struct DimensionDrawer {
  Tracer& tracer;
  TracedCurve solid, thin;  // the one with the value; what it refers to
  bool with_reference;

  const std::optional<measure::AxesNames>& axes;

  /// The line through two points, or the shape of the first name where the second is empty.
  [[nodiscard]] std::optional<measure::Form> line_of(const std::string& from,
                                                     const std::string& to) const {
    if (to.empty()) return tracer.form(from);
    const auto a = tracer.at(from), b = tracer.at(to);
    if (!a || !b || (*b - *a).norm() == 0) return std::nullopt;
    measure::Form line{.kind = measure::FormKind::kLine, .position = *a};
    line.direction = (*b - *a).normalized();
    line.to = (*b - *a).norm();
    return line;
  }
  /// Across a round as this photo sees it best, from one side (−1) or its middle (0) to the other.
  void round(const measure::Form& form, double from) const {
    const Eigen::Vector3d middle =
        measure::is_place(form.kind) ? form.position : measure::middle(form);
    const Eigen::Vector3d out =
        form.radius * (form.kind == measure::FormKind::kSphere
                           ? tracer.across_sight(middle, tracer.sight(middle))
                           : tracer.across_sight(middle, form.direction));
    tracer.line(middle + from * out, middle + out, solid);
    if (with_reference) tracer.shape(form, thin);
  }
  void along(const std::vector<std::string>& points, bool closed) const {
    const std::size_t legs = closed ? points.size() : points.size() - 1;
    TracedCurve leg = solid;
    for (std::size_t i = 0; points.size() > 1 && i < legs; ++i) {
      const auto a = tracer.at(points[i]), b = tracer.at(points[(i + 1) % points.size()]);
      if (!a || !b) continue;
      tracer.line(*a, *b, leg);
      leg.label.clear();
    }
  }
  void refer(const Eigen::Vector3d& a, const Eigen::Vector3d& b) const {
    if (with_reference) tracer.line(a, b, thin);
  }

  void operator()(const measure::Distance& kind) const {
    const auto a = tracer.form(kind.from), b = tracer.form(kind.to);
    if (!a || !b) return;
    const auto [from, to] = nearest_places(*a, *b);
    tracer.line(from, to, solid);
  }
  void operator()(const measure::DistanceAlong& kind) const {
    const auto a = tracer.at(kind.from), b = tracer.at(kind.to);
    const auto axis_line = line_of(kind.axis_from, kind.axis_to);
    if (!a || !b || !axis_line) return;
    const Eigen::Vector3d axis = axis_line->direction;
    const Eigen::Vector3d foot = *a + axis * axis.dot(*b - *a);
    tracer.line(*a, foot, solid);
    refer(foot, *b);
  }
  void operator()(const measure::Angle& kind) const {
    const auto a = tracer.at(kind.first), v = tracer.at(kind.vertex), b = tracer.at(kind.second);
    if (!a || !v || !b) return;
    refer(*v, *a);
    refer(*v, *b);
    TracedCurve arc = solid;
    arc.ends = false;
    tracer.arc(*v, *a, *b, arc);
  }
  void operator()(const measure::OffsetFromLine& kind) const {
    const auto x = tracer.at(kind.point);
    const auto axis = line_of(kind.line_from, kind.line_to);
    if (!x || !axis) return;
    refer(axis->position + axis->from * axis->direction,
          axis->position + axis->to * axis->direction);
    tracer.line(nearest_place(*axis, *x), *x, solid);
  }
  void operator()(const measure::AngleBetween& kind) const {
    const auto a = tracer.form(kind.first), b = tracer.form(kind.second);
    if (!a || !b) return;
    // Shown at the middle of the first, the other's direction carried there.
    const Eigen::Vector3d middle = measure::middle(*a);
    const double length = std::max({a->to - a->from, b->to - b->from, 2 * a->radius, 2 * b->radius,
                                    (measure::middle(*b) - middle).norm()}) /
                          2;
    const double way = a->direction.dot(b->direction) < 0 ? -1 : 1;
    const Eigen::Vector3d first = middle + length * a->direction,
                          second = middle + way * length * b->direction;
    refer(middle, first);
    refer(middle, second);
    TracedCurve arc = solid;
    arc.ends = false;
    tracer.arc(middle, first, second, arc);
  }
  void operator()(const measure::Gap& kind) const {
    const auto a = tracer.form(kind.first), b = tracer.form(kind.second);
    if (!a || !b) return;
    const Eigen::Vector3d middle = measure::middle(*a);
    tracer.line(middle, nearest_place(*b, middle), solid);
  }
  void operator()(const measure::Radius& kind) const {
    if (const auto form = tracer.form(kind.shape)) round(*form, 0.0);
  }
  void operator()(const measure::Diameter& kind) const {
    if (const auto form = tracer.form(kind.shape)) round(*form, -1.0);
  }
  void operator()(const measure::ConeAngle& kind) const {
    const auto form = tracer.form(kind.shape);
    if (!form) return;
    const Eigen::Vector3d out =
        tracer.across_sight(form->position, form->direction) * std::tan(form->half_angle);
    const Eigen::Vector3d first = form->position + form->to * (form->direction + out),
                          second = form->position + form->to * (form->direction - out);
    refer(form->position, first);
    refer(form->position, second);
    TracedCurve arc = solid;
    arc.ends = false;
    tracer.arc(form->position, first, second, arc);
  }
  void operator()(const measure::ChainLength& kind) const { along(kind.points, false); }
  void operator()(const measure::RowPitch& kind) const { along(kind.points, false); }
  void operator()(const measure::RowDeparture& kind) const { along(kind.points, false); }
  void operator()(const measure::OutlineArea& kind) const { along(kind.points, true); }
  void operator()(const measure::ArcLength& kind) const {
    const auto circle = tracer.form(kind.circle);
    const auto from = tracer.at(kind.from), to = tracer.at(kind.to);
    if (!circle || !from || !to) return;
    const Eigen::Vector3d& normal = circle->direction;
    const auto in_plane = [&](const Eigen::Vector3d& place) -> Eigen::Vector3d {
      const Eigen::Vector3d away = place - circle->position;
      return away - normal * normal.dot(away);
    };
    if (!(in_plane(*from).norm() > 0)) return;
    const Eigen::Vector3d x = in_plane(*from).normalized(), y = normal.cross(x);
    const auto turned = [&](const Eigen::Vector3d& place) {
      const double angle = std::atan2(y.dot(in_plane(place)), x.dot(in_plane(place)));
      return angle < 0 ? angle + 2 * std::numbers::pi : angle;
    };
    double angle = turned(*to);
    const auto via = kind.via.empty() ? std::nullopt : tracer.at(kind.via);
    const bool other_way = via ? turned(*via) > angle : angle > std::numbers::pi;
    if (other_way) angle -= 2 * std::numbers::pi;
    tracer.ring(circle->position, circle->radius, x, y, angle, solid);
  }
  void operator()(const measure::Coordinate& kind) const {
    // From the plane, or the line's side, to the item: only heights have a foot to draw from.
    const auto x = tracer.at(kind.item);
    const auto plane = axes ? tracer.form(axes->plane) : std::nullopt;
    if (!x || !plane) return;
    if (kind.axis == "z") return tracer.line(nearest_place(*plane, *x), *x, solid);
    const auto axis = tracer.form(axes->line);
    const auto origin = tracer.at(axes->origin);
    if (!axis || !origin) return;
    const Eigen::Vector3d up = plane->direction;
    const Eigen::Vector3d flat = axis->direction - up * up.dot(axis->direction);
    if (!(flat.norm() > 0)) return;
    const Eigen::Vector3d forwards = flat.normalized(), sidewards = up.cross(forwards);
    const Eigen::Vector3d& way = kind.axis == "x" ? forwards : sidewards;
    const Eigen::Vector3d& zero = kind.axis == "x" ? *origin : axis->position;
    tracer.line(*x - way * way.dot(*x - zero), *x, solid);
  }
  void operator()(const measure::MirrorDeparture& kind) const {
    const auto mirror = tracer.form(kind.mirror);
    const auto a = tracer.at(kind.first), b = tracer.at(kind.second);
    if (!mirror || !a || !b) return;
    const Eigen::Vector3d image = *a + 2 * (nearest_place(*mirror, *a) - *a);
    refer(*a, image);
    tracer.line(image, *b, solid);
  }
  void operator()(const measure::OffsetFromPlane& kind) const {
    const auto x = tracer.at(kind.point);
    if (kind.plane.size() == 1) {
      const auto plane = tracer.form(kind.plane.front());
      if (x && plane) tracer.line(nearest_place(*plane, *x), *x, solid);
      return;
    }
    std::vector<Eigen::Vector3d> corners;
    for (const std::string& name : kind.plane) {
      if (const auto corner = tracer.at(name)) corners.push_back(*corner);
    }
    if (!x || corners.size() != kind.plane.size() || corners.size() < 3) return;
    const auto plane = measure::fit_plane(corners);
    if (!plane) return;
    for (std::size_t c = 0; c < corners.size(); ++c) {
      refer(corners[c], corners[(c + 1) % corners.size()]);
    }
    tracer.line(*x - plane->normal * plane->normal.dot(*x - plane->centroid), *x, solid);
  }
};

void add_dimensions(const DeskSession& session, DimensionsDrawn drawn, Tracer& tracer) {
  const auto live = session.live();
  for (const measure::AskedDimension& asked : session.dossier().dimensions) {
    const bool is_chosen = asked.name == session.chosen_dimension();
    const auto points = measure::names_of(asked.kind);
    const bool is_of_point = std::count(points.begin(), points.end(), session.chosen_point()) > 0;
    if (drawn == DimensionsDrawn::kChosen && !is_chosen && !is_of_point) continue;
    const auto result =
        std::find_if(live->dimensions.begin(), live->dimensions.end(), [&](const auto& one) {
          return one.name == asked.name && one.scale == "model" && one.problem.empty();
        });
    TracedCurve solid{.colour = kDimensionColour,
                      .label = words(asked.name),
                      .dimension = asked.name,
                      .chosen = is_chosen,
                      .ends = true};
    if (result != live->dimensions.end()) {
      solid.label += "  " + words(measure::result_text(*result, session.unit()));
    }
    TracedCurve thin = solid;
    thin.label.clear();
    thin.dashed = true;
    thin.ends = false;
    thin.chosen = false;
    // What a dimension refers to is drawn where it is asked for; with all of them it hides the
    // photo.
    const bool with_reference = is_chosen || drawn == DimensionsDrawn::kChosen;
    std::visit(DimensionDrawer{tracer, solid, thin, with_reference, session.dossier().axes},
               asked.kind);
  }
}

void add_bars(const DeskSession& session, Tracer& tracer) {
  for (const measure::ScaleBar& bar : session.dossier().bars) {
    const auto a = tracer.at(bar.from), b = tracer.at(bar.to);
    if (!a || !b) continue;
    const double u = std::hypot(bar.u_own_mm, bar.u_common_mm);
    tracer.line(
        *a, *b,
        {.colour = kBarColour,
         .label = words(bar.name + "  " +
                        measure::length_text(bar.length_mm, 2 * u, session.unit()).joined()),
         .ends = true});
  }
}

void add_marks(const DeskSession& session, const std::string& photo, bool names,
               std::set<std::string>& marked, PhotoTrace& trace) {
  // Marks are kept sorted by photo, then point.
  const auto& marks = session.dossier().marks;
  auto mark = std::lower_bound(
      marks.begin(), marks.end(), photo,
      [](const measure::Mark& one, const std::string& name) { return one.photo < name; });
  for (; mark != marks.end() && mark->photo == photo; ++mark) {
    marked.insert(mark->point);
    TracedMark traced{.point = mark->point,
                      .at = QPointF(mark->position_px.x(), mark->position_px.y()),
                      .state = state_of(session, photo, mark->point),
                      .chosen = mark->point == session.chosen_point()};
    if (names) traced.label = words(mark->point);
    QStringList tip{words(mark->point), word_of(traced.state),
                    Words::tr("σ %1 px").arg(number(mark->sigma_px))};
    if (const measure::MarkReport* report = session.report_of(photo, mark->point);
        report && report->in_use) {
      tip << Words::tr("residual %1 px").arg(number(report->residual_px.norm()));
    }
    traced.tip = tip.join(" · ");
    if (traced.state == MarkState::kDoubted) {
      traced.residual_px = distance_from_others_px(session, photo, mark->point);
      if (traced.residual_px) {
        traced.label = words(mark->point) + "  " +
                       Words::tr("%1 px").arg(
                           number(std::hypot(traced.residual_px->x(), traced.residual_px->y()), 1));
      }
      traced.tip = doubt_sentence(session, photo, mark->point);
    }
    trace.marks.push_back(std::move(traced));
  }
}

void add_places(const DeskSession& session, const measure::Survey& survey,
                const measure::OrientedPhoto& oriented, const measure::Photo& photo,
                const std::set<std::string>& marked, PhotoTrace& trace) {
  const measure::Predictor predictor(survey, session.dossier());
  for (const measure::Point& point : session.dossier().points) {
    if (marked.contains(point.name)) continue;
    const bool is_chosen = point.name == session.chosen_point();
    if (is_chosen) {
      const measure::PredictedPlace place = predictor.predict(photo.name, point.name);
      if (place.position_px && place.sight != measure::Sight::kOutside) {
        const measure::ErrorEllipse ellipse = measure::confidence_ellipse(place.covariance_px2);
        trace.places.push_back({.point = point.name,
                                .at = QPointF(place.position_px->x(), place.position_px->y()),
                                .chosen = true,
                                .label = words(point.name),
                                .half_axes_px = QSizeF(ellipse.semi_major, ellipse.semi_minor),
                                .axis_deg = ellipse.angle_rad * 180 / std::numbers::pi});
      } else if (place.epipolar.curve_px.size() >= 2) {
        trace.curves.push_back(
            {.course = polygon(place.epipolar.curve_px),
             .colour = kEpipolarColour,
             .label =
                 Words::tr("%1 as %2 sees it").arg(words(point.name), words(place.epipolar_photo)),
             .chosen = true});
      }
      continue;
    }
    // Of the others only those that are likely in sight: the photo stays readable.
    if (predictor.sight(photo.name, point.name) != measure::Sight::kLikely) continue;
    const measure::PointReport* report = session.point_report(point.name);
    const auto at = report ? measure::project(oriented, report->position) : std::nullopt;
    if (!at) continue;
    trace.places.push_back({.point = point.name, .at = QPointF(at->x(), at->y())});
  }
}

}  // namespace

MarkState state_of(const DeskSession& session, const std::string& photo, const std::string& point) {
  const measure::Mark* mark = session.mark_at(photo, point);
  if (!mark) return MarkState::kPredicted;
  if (mark->set_aside) return MarkState::kSetAside;
  if (session.is_doubted(photo, point)) return MarkState::kDoubted;
  switch (mark->source) {
    case measure::MarkSource::kByHand:
      return MarkState::kByHand;
    case measure::MarkSource::kRefined:
      return MarkState::kRefined;
    case measure::MarkSource::kImported:
      return MarkState::kImported;
  }
  return MarkState::kByHand;
}

std::optional<QPointF> distance_from_others_px(const DeskSession& session, const std::string& photo,
                                               const std::string& point) {
  const measure::MarkReport* report = session.report_of(photo, point);
  if (!report || !report->doubted || !report->residual_without_doubted_px.allFinite()) {
    return std::nullopt;
  }
  return QPointF(report->residual_without_doubted_px.x(), report->residual_without_doubted_px.y());
}

QString doubt_sentence(const DeskSession& session, const std::string& photo,
                       const std::string& point) {
  if (!session.is_doubted(photo, point)) return {};
  const measure::MarkReport* report = session.report_of(photo, point);
  QStringList others;
  for (const measure::Mark& mark : session.dossier().marks) {
    if (mark.point != point || mark.photo == photo || mark.set_aside ||
        session.is_doubted(mark.photo, point)) {
      continue;
    }
    const measure::PhotoReport* other = session.photo_report(mark.photo);
    if (other && other->placed) others << words(mark.photo);
  }
  constexpr int kNamed = 4;
  if (others.size() > kNamed) {
    const auto more = others.size() - (kNamed - 1);
    others = others.mid(0, kNamed - 1);
    others << Words::tr("%1 more photos").arg(more);
  }
  const auto away = distance_from_others_px(session, photo, point);
  const double px = away ? std::hypot(away->x(), away->y()) : report->residual_px.norm();
  return Words::tr(
             "%1 is doubted in %2: it lies %3 px from where %4 see it (test value %5, limit "
             "%6).")
      .arg(words(point), words(photo), number(px, 1),
           others.isEmpty() ? Words::tr("the other photos") : others.join(", "),
           number(std::abs(report->w), 1), number(report->critical_w, 2));
}

PhotoTrace trace_of(const DeskSession& session, const std::string& photo, const TraceParts& parts) {
  PhotoTrace trace;
  const measure::Photo* entry = session.dossier().find_photo(photo);
  if (!entry) return trace;
  std::set<std::string> marked;
  add_marks(session, photo, parts.names, marked, trace);
  if (parts.shapes) add_shape_marks(session, photo, trace);
  const auto live = session.live();
  if (!live->survey) return trace;
  const auto oriented = measure::oriented_photo(*live->survey, photo);
  if (!oriented) return trace;
  Tracer tracer(session, *oriented, entry->size, trace);
  if (parts.bars) add_bars(session, tracer);
  if (parts.shapes) add_shapes(session, tracer);
  if (parts.dimensions != DimensionsDrawn::kNone) {
    add_dimensions(session, parts.dimensions, tracer);
  }
  if (parts.places) {
    add_places(session, *live->survey, *oriented, *entry, marked, trace);
  }
  return trace;
}

}  // namespace desk
