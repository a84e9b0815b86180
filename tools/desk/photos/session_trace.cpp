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

namespace desk {
namespace {

constexpr double kArcPart = 0.3;  // of the shorter leg of an angle
constexpr int kArcSteps = 24;

QString tr(const char* text) { return QCoreApplication::translate("desk::SessionTrace", text); }
QString words(const std::string& text) { return QString::fromStdString(text); }
QString number(double value, int places = 2) { return pixel_text(value, places); }

QPolygonF polygon(const std::vector<Eigen::Vector2d>& course) {
  QPolygonF line;
  for (const Eigen::Vector2d& at : course) line << QPointF(at.x(), at.y());
  return line;
}

/// Draws lines of space into one photo.
class Tracer {
 public:
  Tracer(const DeskSession& session, const measure::OrientedPhoto& photo,
         const calib::ImageSize& size, PhotoTrace& trace)
      : session_(session), photo_(photo), size_(size), trace_(trace) {}

  [[nodiscard]] std::optional<Eigen::Vector3d> at(const std::string& point) const {
    const measure::PointReport* report = session_.point_report(point);
    if (!report || !report->placed) return std::nullopt;
    return report->position;
  }
  void line(const Eigen::Vector3d& a, const Eigen::Vector3d& b, TracedCurve like) {
    like.course = polygon(measure::trace_line(photo_, size_, a, b));
    if (like.course.size() >= 2) trace_.curves.push_back(std::move(like));
  }
  void arc(const Eigen::Vector3d& vertex, const Eigen::Vector3d& first,
           const Eigen::Vector3d& second, TracedCurve like) {
    const Eigen::Vector3d a = first - vertex, b = second - vertex;
    const double radius = kArcPart * std::min(a.norm(), b.norm());
    const double angle = std::atan2(a.cross(b).norm(), a.dot(b));
    if (!(radius > 0) || !(angle > 0) || a.cross(b).norm() == 0) return;
    const Eigen::Vector3d x = a.normalized(), y = a.cross(b).cross(a).normalized();
    for (int s = 0; s <= kArcSteps; ++s) {
      const double turned = angle * s / kArcSteps;
      const auto px =
          measure::project(photo_, vertex + radius * (std::cos(turned) * x + std::sin(turned) * y));
      if (px) like.course << QPointF(px->x(), px->y());
    }
    if (like.course.size() >= 2) trace_.curves.push_back(std::move(like));
  }

 private:
  const DeskSession& session_;
  const measure::OrientedPhoto& photo_;
  const calib::ImageSize& size_;
  PhotoTrace& trace_;
};

// What a dimension looks like, one kind each.
struct DimensionDrawer {
  Tracer& tracer;
  TracedCurve solid, thin;  // the one with the value; what it refers to
  bool with_reference;

  void refer(const Eigen::Vector3d& a, const Eigen::Vector3d& b) const {
    if (with_reference) tracer.line(a, b, thin);
  }

  void operator()(const measure::Distance& kind) const {
    const auto a = tracer.at(kind.from), b = tracer.at(kind.to);
    if (a && b) tracer.line(*a, *b, solid);
  }
  void operator()(const measure::DistanceAlong& kind) const {
    const auto a = tracer.at(kind.from), b = tracer.at(kind.to);
    const auto p = tracer.at(kind.axis_from), q = tracer.at(kind.axis_to);
    if (!a || !b || !p || !q || (*q - *p).norm() == 0) return;
    const Eigen::Vector3d axis = (*q - *p).normalized();
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
  void operator()(const auto&) const {}
  void operator()(const measure::OffsetFromLine& kind) const {
    const auto x = tracer.at(kind.point), a = tracer.at(kind.line_from),
               b = tracer.at(kind.line_to);
    if (!x || !a || !b || (*b - *a).norm() == 0) return;
    const Eigen::Vector3d along = (*b - *a).normalized();
    const Eigen::Vector3d foot = *a + along * along.dot(*x - *a);
    refer(*a, *b);
    tracer.line(foot, *x, solid);
  }
  void operator()(const measure::OffsetFromPlane& kind) const {
    const auto x = tracer.at(kind.point);
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
    std::visit(DimensionDrawer{tracer, solid, thin, with_reference}, asked.kind);
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
                    tr("σ %1 px").arg(number(mark->sigma_px))};
    if (const measure::MarkReport* report = session.report_of(photo, mark->point);
        report && report->in_use) {
      tip << tr("residual %1 px").arg(number(report->residual_px.norm()));
    }
    traced.tip = tip.join(" · ");
    if (traced.state == MarkState::kDoubted) {
      traced.residual_px = distance_from_others_px(session, photo, mark->point);
      if (traced.residual_px) {
        traced.label = words(mark->point) + "  " +
                       tr("%1 px").arg(
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
             .label = tr("%1 as %2 sees it").arg(words(point.name), words(place.epipolar_photo)),
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
    others << tr("%1 more photos").arg(more);
  }
  const auto away = distance_from_others_px(session, photo, point);
  const double px = away ? std::hypot(away->x(), away->y()) : report->residual_px.norm();
  return tr("%1 is doubted in %2: it lies %3 px from where %4 see it (test value %5, limit "
            "%6).")
      .arg(words(point), words(photo), number(px, 1),
           others.isEmpty() ? tr("the other photos") : others.join(", "),
           number(std::abs(report->w), 1), number(report->critical_w, 2));
}

PhotoTrace trace_of(const DeskSession& session, const std::string& photo, const TraceParts& parts) {
  PhotoTrace trace;
  const measure::Photo* entry = session.dossier().find_photo(photo);
  if (!entry) return trace;
  std::set<std::string> marked;
  add_marks(session, photo, parts.names, marked, trace);
  const auto live = session.live();
  if (!live->survey) return trace;
  const auto oriented = measure::oriented_photo(*live->survey, photo);
  if (!oriented) return trace;
  Tracer tracer(session, *oriented, entry->size, trace);
  if (parts.bars) add_bars(session, tracer);
  if (parts.dimensions != DimensionsDrawn::kNone) {
    add_dimensions(session, parts.dimensions, tracer);
  }
  if (parts.places) {
    add_places(session, *live->survey, *oriented, *entry, marked, trace);
  }
  return trace;
}

}  // namespace desk
