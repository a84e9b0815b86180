#include "tools/desk/photos/photo_trace.h"

#include <QFontMetricsF>
#include <QLineF>
#include <QLocale>
#include <QPixmap>
#include <QPixmapCache>
#include <algorithm>
#include <array>
#include <cmath>

namespace desk {
namespace {

constexpr double kEndStroke = 6.0;  // half its length, view pixels
constexpr double kShortest = 3.0;   // a residual shorter than that is not drawn
constexpr std::size_t kManyLabels = 60;

// Signs and labels are drawn hundreds of times a second while a photo is moved: each once into a
// picture, then copied. A sign's place is kept to a quarter of a screen pixel, a label's to a whole
// one.
constexpr double kSubpixels = 4.0;

void draw_cached(QPainter& painter, const QString& key, const QPointF& corner, const QSizeF& size,
                 const auto& draw) {
  const double ratio = painter.device()->devicePixelRatioF();
  const QString full_key = key + QString::number(ratio);
  QPixmap picture;
  if (!QPixmapCache::find(full_key, &picture)) {
    picture = QPixmap((size * ratio).toSize());
    picture.setDevicePixelRatio(ratio);
    picture.fill(Qt::transparent);
    QPainter inside(&picture);
    inside.setFont(painter.font());
    draw(inside);
    inside.end();
    QPixmapCache::insert(full_key, picture);
  }
  painter.drawPixmap(corner, picture);
}

void draw_sign(QPainter& painter, const QPointF& at, MarkState state, double radius, bool chosen) {
  const double ratio = painter.device()->devicePixelRatioF();
  const double reach = std::ceil(2.0 * radius + 3);
  const QPointF grid(std::floor((at.x() - reach) * ratio) / ratio,
                     std::floor((at.y() - reach) * ratio) / ratio);
  const double step = kSubpixels * ratio;
  const QPointF inside(std::round((at.x() - grid.x()) * step) / step,
                       std::round((at.y() - grid.y()) * step) / step);
  const QString key = QString("sign %1 %2 %3 %4 %5 ")
                          .arg(static_cast<int>(state))
                          .arg(radius)
                          .arg(chosen)
                          .arg(std::lround((inside.x() - reach) * step))
                          .arg(std::lround((inside.y() - reach) * step));
  draw_cached(painter, key, grid, QSizeF(2 * reach + 2, 2 * reach + 2),
              [&](QPainter& p) { draw_mark(p, inside, state, radius, chosen); });
}

double distance_to_line(const QPointF& p, const QPointF& a, const QPointF& b) {
  const QPointF along = b - a, away = p - a;
  const double length = std::hypot(along.x(), along.y());
  if (length == 0) return std::hypot(away.x(), away.y());
  return std::abs(along.x() * away.y() - along.y() * away.x()) / length;
}

// The vertices without which the course would be off by more than the tolerance.
// Source: D. Douglas & T. Peucker, Cartographica 10 (1973) 112–122.
void keep_needed(const QPolygonF& line, qsizetype first, qsizetype last, double tolerance,
                 QPolygonF& kept) {
  qsizetype farthest = -1;
  double most = tolerance;
  for (qsizetype i = first + 1; i < last; ++i) {
    const double off = distance_to_line(line[i], line[first], line[last]);
    if (off > most) {
      most = off;
      farthest = i;
    }
  }
  if (farthest >= 0) {
    keep_needed(line, first, farthest, tolerance, kept);
    keep_needed(line, farthest, last, tolerance, kept);
  } else {
    kept << line[last];
  }
}

// A quarter of a pixel of the screen cannot be seen; a line with few vertices is drawn in a tenth
// of the time.
QPolygonF simplified(const QPolygonF& line) {
  QPolygonF kept;
  if (line.size() < 2) return line;
  kept << line.first();
  keep_needed(line, 0, line.size() - 1, 0.25, kept);
  return kept;
}

// The runs of a line that pass through or near the frame, cut where they leave it.
std::vector<QPolygonF> runs_within(const QPolygonF& line, const QRectF& frame) {
  std::vector<QPolygonF> runs;
  for (qsizetype i = 0; i + 1 < line.size(); ++i) {
    const QPointF a = line[i], step = line[i + 1] - a;
    double from = 0, to = 1;  // Liang & Barsky, ACM Trans. Graphics 3 (1984) 1–22
    const auto cut = [&](double p, double q) {
      if (p == 0) return q >= 0;
      const double t = q / p;
      if (p < 0) {
        from = std::max(from, t);
      } else {
        to = std::min(to, t);
      }
      return from <= to;
    };
    if (!cut(-step.x(), a.x() - frame.left()) || !cut(step.x(), frame.right() - a.x()) ||
        !cut(-step.y(), a.y() - frame.top()) || !cut(step.y(), frame.bottom() - a.y())) {
      continue;
    }
    const QPointF start = a + step * from, end = a + step * to;
    if (!runs.empty() && from == 0 && runs.back().last() == start) {
      runs.back() << end;
    } else {
      runs.push_back(QPolygonF() << start << end);
    }
  }
  return runs;
}

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
    constexpr double kRim = 3;
    const double ratio = painter_.device()->devicePixelRatioF();
    const QPointF corner(std::round((box.left() - kRim) * ratio) / ratio,
                         std::round((box.top() - kRim) * ratio) / ratio);
    draw_cached(painter_, "label " + colour.name() + painter_.font().key() + text, corner,
                box.size() + QSizeF(2 * kRim + 1, 2 * kRim + 1), [&](QPainter& p) {
                  draw_label(p, QPointF(kRim, kRim + metrics_.ascent()), text, colour);
                });
  }

  QPainter& painter_;
  QFontMetricsF metrics_;
  QRectF view_;
  std::vector<QRectF> taken_;
};

// The pieces of a line that are drawn: all of it, or its dashes. Separate lines, for which Qt has a
// much faster way than for a path.
QList<QLineF> pieces_of(const std::vector<QPolygonF>& runs, bool dashed) {
  constexpr double kDash = 6, kPeriod = 10;
  QList<QLineF> pieces;
  for (const QPolygonF& run : runs) {
    double start = 0;  // of the segment, along the run
    for (qsizetype i = 0; i + 1 < run.size(); ++i) {
      const QLineF whole(run[i], run[i + 1]);
      const double length = whole.length();
      if (!dashed) pieces << whole;
      if (!dashed || !(length > 0)) continue;
      for (double n = std::floor(start / kPeriod); n * kPeriod < start + length; ++n) {
        const double from = std::max(n * kPeriod, start) - start;
        const double to = std::min(n * kPeriod + kDash, start + length) - start;
        if (from < to) pieces << QLineF(whole.pointAt(from / length), whole.pointAt(to / length));
      }
      start += length;
    }
  }
  return pieces;
}

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

QString pixel_text(double pixels, int places) {
  QLocale locale;
  locale.setNumberOptions(QLocale::OmitGroupSeparator);
  return locale.toString(pixels, 'f', places);
}

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
    const QPolygonF line = simplified(map.map(curve.course));
    if (line.size() < 2 || !line.boundingRect().adjusted(-1, -1, 1, 1).intersects(frame)) continue;
    const QList<QLineF> pieces = pieces_of(runs_within(line, near), curve.dashed);
    stroke(painter, curve.colour, curve.chosen ? 2.4 : 1.4, Qt::SolidLine, [&] {
      painter.drawLines(pieces);
      if (curve.ends) {
        draw_end(painter, line.first(), line[1]);
        draw_end(painter, line.last(), line[line.size() - 2]);
      }
    });
    if (const auto middle = middle_of(line, frame)) {
      wanted.push_back({*middle, curve.label, curve.colour, curve.chosen});
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
    draw_sign(painter, at, MarkState::kPredicted, place.chosen ? 1.3 * r : r, place.chosen);
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
    draw_sign(painter, at, mark.state, mark.chosen ? 1.3 * r : r, mark.chosen);
    labels.occupy(QRectF(at - QPointF(r, r), QSizeF(2 * r, 2 * r)));
    const bool is_doubted = mark.state == MarkState::kDoubted;
    wanted.push_back({at, mark.label, is_doubted ? colour_of(mark.state) : QColor(Qt::white),
                      mark.chosen || is_doubted});
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
