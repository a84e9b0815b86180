#include "tools/desk/photos/shape_trace.h"

#include <QCoreApplication>
#include <cmath>

namespace desk {
namespace {

struct Words {
  Q_DECLARE_TR_FUNCTIONS(desk::ShapeTrace)
};
QString words(const std::string& text) { return QString::fromStdString(text); }

}  // namespace

MarkState state_of(const DeskSession& session, const measure::ShapeMark& mark) {
  if (mark.set_aside) return MarkState::kSetAside;
  const measure::ShapeMarkReport* report = session.report_of(mark);
  if (report && report->doubted) return MarkState::kDoubted;
  switch (mark.source) {
    case measure::MarkSource::kRefined:
      return MarkState::kRefined;
    case measure::MarkSource::kImported:
      return MarkState::kImported;
    default:
      return MarkState::kByHand;
  }
}

QString tip_of(const DeskSession& session, const measure::ShapeMark& mark) {
  QStringList tip{words(mark.shape)};
  if (mark.side != 0) tip << Words::tr("side %1").arg(mark.side);
  tip << word_of(state_of(session, mark)) << Words::tr("σ %1 px").arg(pixel_text(mark.sigma_px, 2));
  const measure::ShapeMarkReport* report = session.report_of(mark);
  if (!report) return tip.join(" · ");
  if (report->too_sharp) {
    tip << Words::tr(
        "not used: the rim is seen nearly edge on here and turns within the mark's "
        "own σ");
  } else if (report->doubted) {
    tip << Words::tr(
               "lies %1 px beside where the other marks see the shape (test value %2, limit "
               "%3)")
               .arg(pixel_text(report->residual_px, 1), pixel_text(std::abs(report->w), 1),
                    pixel_text(report->critical_w, 2));
  } else if (report->in_use) {
    tip << Words::tr("residual %1 px across").arg(pixel_text(report->residual_px, 2));
  }
  return tip.join(" · ");
}

void add_shape_marks(const DeskSession& session, const std::string& photo, PhotoTrace& trace) {
  for (const measure::ShapeMark& mark : session.dossier().shape_marks) {
    if (mark.photo != photo) continue;
    TracedMark traced{.point = {},
                      .at = QPointF(mark.position_px.x(), mark.position_px.y()),
                      .state = state_of(session, mark),
                      .chosen = mark.shape == session.chosen_shape(),
                      .tip = tip_of(session, mark),
                      .shape = mark.shape};
    const measure::ShapeMarkReport* report = session.report_of(mark);
    if (traced.chosen && mark.side != 0) traced.label = QString::number(mark.side);
    if (report && report->too_sharp) {
      traced.state = MarkState::kSetAside;  // as little used as one that is
    } else if (report && report->doubted) {
      traced.label =
          words(mark.shape) + "  " + Words::tr("%1 px").arg(pixel_text(report->residual_px, 1));
      const Eigen::Vector2d away = report->foot_px - report->position_px;
      if (away.allFinite()) traced.residual_px = QPointF(away.x(), away.y());
    }
    trace.marks.push_back(std::move(traced));
  }
}

void add_shapes(const DeskSession& session, Tracer& tracer) {
  for (const measure::FormResult& result : session.live()->forms) {
    // The dossier may have moved on from what was solved.
    if (!result.problem.empty() || !session.dossier().find_shape(result.name)) continue;
    const bool is_chosen = result.name == session.chosen_shape();
    TracedCurve like{.colour = kShapeColour, .chosen = is_chosen};
    if (is_chosen) like.label = words(result.name);
    tracer.shape(result.form, like);
    if (result.form.kind != measure::FormKind::kPlane || !is_chosen) continue;
    // A plane has no outline: lines from its middle to the points that it goes through.
    like.dashed = true;
    const measure::Shape* shape = session.dossier().find_shape(result.name);
    for (const std::string& point : measure::points_behind(session.dossier(), {shape->name})) {
      if (const auto at = tracer.at(point)) {
        tracer.line(result.form.position, nearest_place(result.form, *at), like);
        like.label.clear();
      }
    }
  }
}

}  // namespace desk
