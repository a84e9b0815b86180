#include "tools/desk/photos/photo_trace.h"

#include <QFontMetricsF>
#include <algorithm>
#include <array>
#include <cmath>

namespace desk {
namespace {

constexpr double kEndStroke = 6.0;  // half its length, view pixels
constexpr double kShortest = 3.0;   // a residual shorter than that is not drawn
constexpr std::size_t kManyLabels = 60;

/// Keeps labels apart.
class LabelPlaces {
 public:
  explicit LabelPlaces(QPainter& painter, const QRectF& view)
      : painter_(painter), metrics_(painter.font()), view_(view) {}

  void draw(const QPointF& at, double distance, const QString& text, const QColor& colour,
            bool must) {
    if (text.isEmpty()) return;
    const double width = metrics_.horizontalAdvance(text), height = metrics_.height();
    const std::array<QPointF, 4> corners{at + QPointF(distance, -distance / 2 - height),
                                         at + QPointF(distance, distance / 2),
                                         at + QPointF(-distance - width, -distance / 2 - height),
                                         at + QPointF(-distance - width, distance / 2)};
    for (const QPointF& corner : corners) {
      const QRectF box(corner, QSizeF(width, height));
      if (view_.contains(box) && is_free(box)) return put(box, text, colour);
    }
    if (!must) return;
    QRectF box(corners.front(), QSizeF(width, height));  // inside the view at least
    box.moveLeft(std::clamp(box.left(), view_.left() + 2,
                            std::max(view_.left() + 2, view_.right() - width - 2)));
    box.moveTop(std::clamp(box.top(), view_.top() + 2,
                           std::max(view_.top() + 2, view_.bottom() - height - 2)));
    put(box, text, colour);
  }
  void occupy(const QRectF& box) { taken_.push_back(box); }

 private:
  [[nodiscard]] bool is_free(const QRectF& box) const {
    return std::none_of(taken_.begin(), taken_.end(),
                        [&](const QRectF& other) { return other.intersects(box); });
  }
  void put(const QRectF& box, const QString& text, const QColor& colour) {
    taken_.push_back(box);
    draw_label(painter_, QPointF(box.left(), box.top() + metrics_.ascent()), text, colour);
  }

  QPainter& painter_;
  QFontMetricsF metrics_;
  QRectF view_;
  std::vector<QRectF> taken_;
};

void stroke(QPainter& painter, const QColor& colour, double width, Qt::PenStyle style,
            const auto& draw) {
  for (const auto& [ink, extra] : {std::pair(QColor(0, 0, 0, 150), 2.0), {colour, 0.0}}) {
    QPen pen(ink, width + extra, extra > 0 ? Qt::SolidLine : style);
    pen.setCapStyle(Qt::FlatCap);
    painter.setPen(pen);
    draw();
  }
}

void draw_end(QPainter& painter, const QPointF& end, const QPointF& next) {
  const QPointF along = next - end;
  const double length = std::hypot(along.x(), along.y());
  if (length < 1e-6) return;
  const QPointF across = QPointF(-along.y(), along.x()) / length * kEndStroke;
  painter.drawLine(end - across, end + across);
}

// The place on a polyline halfway along its part that is in sight.
std::optional<QPointF> middle_of(const QPolygonF& line, const QRectF& view) {
  double seen = 0;
  std::vector<double> lengths;
  for (int i = 0; i + 1 < line.size(); ++i) {
    const QPointF half = (line[i] + line[i + 1]) / 2, step = line[i + 1] - line[i];
    lengths.push_back(view.contains(half) ? std::hypot(step.x(), step.y()) : 0.0);
    seen += lengths.back();
  }
  if (seen <= 0) return std::nullopt;
  double left = seen / 2;
  for (std::size_t i = 0; i < lengths.size(); ++i) {
    if (lengths[i] > 0 && left <= lengths[i]) {
      return line[i] + (line[i + 1] - line[i]) * (left / lengths[i]);
    }
    left -= lengths[i];
  }
  return std::nullopt;
}

}  // namespace

void draw_trace(QPainter& painter, const PhotoTrace& trace, const ViewMap& view,
                const TraceStyle& style) {
  painter.save();
  painter.setRenderHint(QPainter::Antialiasing);
  painter.setBrush(Qt::NoBrush);
  const QTransform map = view.transform();
  const QRectF frame(QPointF(0, 0), view.size);
  const double r = style.mark_radius;
  const QRectF near = frame.adjusted(-2 * r, -2 * r, 2 * r, 2 * r);
  LabelPlaces labels(painter, frame);

  struct Label {
    QPointF at;
    QString text;
    QColor colour;
    bool must;
  };
  std::vector<Label> wanted;

  for (const TracedCurve& curve : trace.curves) {
    const QPolygonF line = map.map(curve.course);
    if (line.size() < 2 || !line.boundingRect().adjusted(-1, -1, 1, 1).intersects(frame)) continue;
    stroke(painter, curve.colour, curve.chosen ? 2.4 : 1.4,
           curve.dashed ? Qt::DashLine : Qt::SolidLine, [&] {
             painter.drawPolyline(line);
             if (curve.ends) {
               draw_end(painter, line.first(), line[1]);
               draw_end(painter, line.last(), line[line.size() - 2]);
             }
           });
    if (const auto middle = middle_of(line, frame)) {
      wanted.push_back({*middle, curve.label, curve.colour, true});
    }
  }
  for (const TracedPlace& place : trace.places) {
    const QPointF at = map.map(place.at);
    if (place.half_axes_px) {
      const double a = place.half_axes_px->width() * view.zoom;
      const double b = place.half_axes_px->height() * view.zoom;
      if (std::max(a, b) > 2) {
        stroke(painter, colour_of(MarkState::kPredicted), 1.2, Qt::SolidLine, [&] {
          painter.save();
          painter.translate(at);
          painter.rotate(place.axis_deg + view.turn_deg);
          painter.drawEllipse(QPointF(0, 0), a, b);
          painter.restore();
        });
      }
    }
    if (!near.contains(at)) continue;
    draw_mark(painter, at, MarkState::kPredicted, place.chosen ? 1.3 * r : r, place.chosen);
    labels.occupy(QRectF(at - QPointF(r, r), QSizeF(2 * r, 2 * r)));
    wanted.push_back({at, place.label, colour_of(MarkState::kPredicted), place.chosen});
  }
  for (const TracedMark& mark : trace.marks) {
    const QPointF at = map.map(mark.at);
    if (mark.residual_px) {
      const QPointF seen = map.map(mark.at + *mark.residual_px);
      if (std::hypot(seen.x() - at.x(), seen.y() - at.y()) > kShortest) {
        stroke(painter, colour_of(MarkState::kDoubted), 1.6, Qt::SolidLine, [&] {
          painter.drawLine(at, seen);
          painter.drawEllipse(seen, 2.5, 2.5);
        });
      }
    }
    if (!near.contains(at)) continue;
    draw_mark(painter, at, mark.state, mark.chosen ? 1.3 * r : r, mark.chosen);
    labels.occupy(QRectF(at - QPointF(r, r), QSizeF(2 * r, 2 * r)));
    wanted.push_back(
        {at, mark.label, colour_of(mark.state), mark.chosen || mark.state == MarkState::kDoubted});
  }
  if (trace.pending) {
    const QPointF at = map.map(*trace.pending);
    draw_mark(painter, at, MarkState::kByHand, 1.5 * r, true);
    stroke(painter, Qt::white, 1.2, Qt::DotLine,
           [&] { painter.drawEllipse(at, 1.8 * r, 1.8 * r); });
  }
  if (style.labels) {
    // What must be readable takes its place first.
    std::stable_partition(wanted.begin(), wanted.end(), [](const Label& l) { return l.must; });
    std::size_t drawn = 0;
    for (const Label& label : wanted) {
      if (!label.must && ++drawn > kManyLabels) break;
      labels.draw(label.at, r, label.text, label.colour, label.must);
    }
  }
  painter.restore();
}

}  // namespace desk
