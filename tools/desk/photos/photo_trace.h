// What is drawn into a photo: marks, places, curves. Made by whoever shows the photo.
#pragma once

#include <QColor>
#include <QPainter>
#include <QPointF>
#include <QPolygonF>
#include <QSizeF>
#include <QString>
#include <optional>
#include <string>
#include <vector>

#include "tools/desk/look/look.h"
#include "tools/desk/photos/view_map.h"

namespace desk {

/// All positions in photo pixels; the centre of the top left one is (0, 0).
struct TracedMark {
  std::string point;
  QPointF at;
  MarkState state = MarkState::kByHand;
  bool chosen = false;
  QString label = {};  ///< beside the sign; empty: none
  QString tip = {};    ///< under the cursor
  /// Of a doubted mark: from the mark to where the survey sees the point.
  std::optional<QPointF> residual_px = {};
  std::string shape = {};  ///< whose mark it is, where it is none of a point; point is empty then
};

/// Where a point is expected.
struct TracedPlace {
  std::string point;
  QPointF at;
  bool chosen = false;
  QString label = {};
  /// 95 % ellipse: half axes in pixels, and the direction of the first, clockwise from x.
  std::optional<QSizeF> half_axes_px = {};
  double axis_deg = 0.0;
};

/// A curve as the lens draws it: an edge of space, a dimension, an epipolar line.
struct TracedCurve {
  QPolygonF course = {};
  QColor colour = kEpipolarColour;
  QString label = {};          ///< at its middle
  std::string dimension = {};  ///< that it belongs to; empty: none
  bool chosen = false;
  bool dashed = false;
  bool ends = false;  ///< short strokes across both ends, as of a dimension line
};

/// Pixels as a person reads them: the locale's decimal sign, no separators between thousands.
[[nodiscard]] QString pixel_text(double pixels, int places);

struct PhotoTrace {
  std::vector<TracedMark> marks;
  std::vector<TracedPlace> places;
  std::vector<TracedCurve> curves;
  std::optional<QPointF> pending;  ///< clicked, not accepted yet
};

struct TraceStyle {
  double mark_radius = 9.0;  ///< view pixels
  bool labels = true;
};

/// Draws a trace into a view. Labels that would cover others find another side of their sign; where
/// there is none only those of chosen things and of curves are drawn.
void draw_trace(QPainter& painter, const PhotoTrace& trace, const ViewMap& view,
                const TraceStyle& style = {});

}  // namespace desk
