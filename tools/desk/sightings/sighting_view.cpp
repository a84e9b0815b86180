#include "tools/desk/sightings/sighting_view.h"

#include <QFontMetricsF>
#include <QHelpEvent>
#include <QLocale>
#include <QMouseEvent>
#include <QPainter>
#include <QPainterPath>
#include <QToolTip>
#include <QWheelEvent>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace desk {
namespace {

constexpr int kRim = 2;
constexpr double kSignRadius = 9.0;
constexpr double kDragDistance = 5.0;

QPointF point_of(const Eigen::Vector2d& at) { return {at.x(), at.y()}; }
QString pixels(double value) {
  return QLocale().toString(value, 'f', value < 0.095 ? 3 : value < 9.95 ? 2 : 1);
}

}  // namespace

SightingView::SightingView(PhotoStore* store, std::string photo, QSize size_px, QWidget* parent)
    : PhotoFrame(store, std::move(photo), size_px, parent) {
  setObjectName("sighting:" + QString::fromStdString(this->photo()));
  setFocusPolicy(Qt::StrongFocus);
  setMouseTracking(true);
  setCursor(Qt::CrossCursor);
  setAttribute(Qt::WA_OpaquePaintEvent);
  setMinimumSize(120, 120);
  hold_.setSingleShot(true);
  hold_.setInterval(kHold_ms);
  connect(&hold_, &QTimer::timeout, this, &SightingView::aim);
}

QRect SightingView::picture_area() const {
  const int line = fontMetrics().height();
  return rect().adjusted(kRim, kRim + line + 4, -kRim, -kRim - 2 * line - 6);
}

void SightingView::set_sighting(Sighting sighting) {
  sighting_ = std::move(sighting);
  const auto [state, reason] = foot();
  setAccessibleName(QString::fromStdString(photo()));
  setAccessibleDescription(state + ". " + reason);
  update();
}

void SightingView::forget_middle() {
  centred_ = Centred::kWholePhoto;
  middle_found_ = false;
  pressed_.reset();
  dragging_ = aiming_ = false;
  hold_.stop();
}

void SightingView::find_middle(double magnification) {
  standard_ = magnification;
  // Nothing moves under a button that is held.
  if (pressed_ && middle_found_) return;
  if (middle_found_ && centred_ >= Centred::kOnMark) return;
  if (sighting_.mark) {
    // A mark that was just clicked or accepted stays where the person looks.
    if (!middle_found_ || centred_ < Centred::kOnPlace ||
        !picture_area().contains(widget_from_photo(sighting_.mark->at_px).toPoint())) {
      set_centre(sighting_.mark->at_px);
      set_magnification(magnification);
    }
    centred_ = Centred::kOnMark;
    middle_found_ = true;
    return;
  }
  const auto& place = sighting_.place;
  if (place && place->position_px) {
    QPointF at = point_of(*place->position_px);
    if (!holds(at)) {  // outside: the whole photo tells more than its border enlarged
      if (!middle_found_ || centred_ < Centred::kOnPlace) fit();
      centred_ = Centred::kWholePhoto;
      middle_found_ = true;
      return;
    }
    const QRectF area = picture_area();
    double wanted = magnification;
    if (sighting_.ellipse) {  // the whole ellipse is to be seen
      const double room = 0.4 * std::min(area.width(), area.height());
      wanted = std::min(wanted, room / std::max(sighting_.ellipse->semi_major, 1e-3));
    }
    wanted = std::max(wanted, fitting_magnification());
    const QRectF inner = area.adjusted(0.25 * area.width(), 0.25 * area.height(),
                                       -0.25 * area.width(), -0.25 * area.height());
    // Small steps of a prediction do not move the view; one that has become much better does, but
    // not under a cursor that may be about to click.
    const bool better =
        !inner.contains(widget_from_photo(at)) || wanted > 1.5 * this->magnification();
    if (!middle_found_ || centred_ < Centred::kOnPlace || (better && !underMouse())) {
      set_centre(at);
      set_magnification(wanted);
    }
    centred_ = Centred::kOnPlace;
    middle_found_ = true;
    return;
  }
  if (place && !place->epipolar.curve_px.empty()) {
    if (middle_found_ && centred_ == Centred::kAlongCurve) return;
    const auto& curve = place->epipolar.curve_px;
    std::size_t from = place->epipolar.likely_from, to = place->epipolar.likely_to;
    if (from >= to) {
      from = 0;
      to = curve.size();
    }
    QRectF box(point_of(curve[from]), QSizeF(1, 1));
    for (std::size_t v = from; v < to; ++v) {
      box = box.united(QRectF(point_of(curve[v]), QSizeF(1, 1)));
    }
    set_centre(box.center());
    const double reach = std::hypot(box.width(), box.height()) + 40;
    const double room = std::min(picture_area().width(), picture_area().height());
    set_magnification(std::clamp(room / reach, fitting_magnification(), magnification));
    centred_ = Centred::kAlongCurve;
    middle_found_ = true;
    return;
  }
  if (middle_found_ && centred_ == Centred::kWholePhoto) return;
  fit();
  centred_ = Centred::kWholePhoto;
  middle_found_ = true;
}

void SightingView::look_nearer(const QPointF& about_px, double magnification) {
  set_centre(about_px);
  set_magnification(magnification);
  centred_ = Centred::kByHand;
  middle_found_ = true;
}

std::pair<QString, QString> SightingView::foot() const {
  const Sighting& s = sighting_;
  QString state, reason;
  if (s.hidden) {
    return {tr("not visible here, as you said"), tr("a click marks it all the same")};
  }
  if (s.mark) {
    const QString sign = word_of(s.mark->state);
    if (s.doubt && s.mark->state == MarkState::kDoubted) {
      state = tr("doubted: %1 px off, w %2 (limit %3)")
                  .arg(pixels(s.doubt->by_px), QLocale().toString(std::abs(s.doubt->w), 'f', 1),
                       QLocale().toString(s.doubt->critical_w, 'f', 2));
      reason = tr("against %1").arg(s.doubt->against);
    } else if (s.mark->clicked_px) {
      state = tr("%1, σ %2 px, moved %3 px")
                  .arg(sign, pixels(s.mark->sigma_px),
                       pixels(QLineF(*s.mark->clicked_px, s.mark->at_px).length()));
    } else {
      state = tr("%1, σ %2 px").arg(sign, pixels(s.mark->sigma_px));
    }
    if (!s.remark.isEmpty() && reason.isEmpty()) reason = tr("not refined: %1").arg(s.remark);
    return {state, reason};
  }
  if (!s.place) return {s.empty_word, s.remark};
  const QString sight = QString::fromStdString(s.place->reason);
  if (s.place->position_px) {
    if (s.place->sight == measure::Sight::kOutside) {
      return {tr("outside the frame"), sight};
    }
    const bool hidden = s.place->sight == measure::Sight::kHidden;
    state = hidden ? tr("probably hidden") : tr("predicted");
    if (s.ellipse) {
      state = (hidden ? tr("probably hidden, ± %1 px (95 %)") : tr("predicted ± %1 px (95 %)"))
                  .arg(pixels(s.ellipse->semi_major));
    }
    switch (s.proposal.state) {
      case Proposal::State::kOffered:
        reason = tr("fits: %1, σ %2 px, %3 px from there")
                     .arg(shape_word(s.proposal.answer->mark.shape),
                          pixels(s.proposal.answer->mark.sigma_px()),
                          pixels(s.proposal.answer->moved_px));
        break;
      case Proposal::State::kRefused:
        reason = s.proposal.why_not;
        break;
      case Proposal::State::kUnderWay:
        reason = tr("looking …");
        break;
      case Proposal::State::kNone:
        reason = sight;
        break;
    }
    return {state, reason};
  }
  if (!s.place->epipolar.curve_px.empty()) {
    return {tr("on the line of sight of %1").arg(QString::fromStdString(s.place->epipolar_photo)),
            click_marks() ? tr("a click marks it") : tr("hold to aim, let go to mark")};
  }
  return {sight, click_marks() ? tr("a click marks it") : tr("hold to aim, let go to mark")};
}

QPolygonF SightingView::on_screen(const std::vector<Eigen::Vector2d>& curve, std::size_t from,
                                  std::size_t to) const {
  QPolygonF line;
  for (std::size_t v = from; v < std::min(to, curve.size()); ++v) {
    line << widget_from_photo(point_of(curve[v]));
  }
  return line;
}

void SightingView::paintEvent(QPaintEvent*) {
  QPainter painter(this);
  painter.fillRect(rect(), palette().color(QPalette::Base));
  draw_picture(painter);
  painter.save();
  painter.setClipRect(picture_area());
  draw_overlay(painter);
  const bool dimmed = sighting_.hidden || (!sighting_.mark && sighting_.place &&
                                           (sighting_.place->sight == measure::Sight::kHidden ||
                                            sighting_.place->sight == measure::Sight::kOutside));
  if (dimmed) {
    QColor veil = palette().color(QPalette::Base);
    veil.setAlpha(sighting_.hidden ? 190 : 120);
    painter.fillRect(picture_area(), veil);
  }
  if (sighting_.hidden) {  // a sign of its own beside the dimming: struck through
    painter.setRenderHint(QPainter::Antialiasing);
    painter.setPen(QPen(palette().color(QPalette::Text), 1.5));
    painter.drawLine(picture_area().topLeft(), picture_area().bottomRight());
  }
  painter.restore();
  draw_words(painter);
  if (hasFocus()) {
    painter.setPen(QPen(palette().color(QPalette::Highlight), 2 * kRim));
  } else {
    painter.setPen(QPen(palette().color(QPalette::Mid), 1));
  }
  painter.setBrush(Qt::NoBrush);
  painter.drawRect(rect());
}

void SightingView::draw_overlay(QPainter& painter) const {
  painter.setRenderHint(QPainter::Antialiasing);
  painter.setBrush(Qt::NoBrush);
  const auto rimmed = [&](const QColor& colour, double width, Qt::PenStyle style, auto draw) {
    painter.setPen(QPen(QColor(0, 0, 0, 150), width + 2));
    draw();
    painter.setPen(QPen(colour, width, style));
    draw();
  };
  const auto& place = sighting_.place;
  if (place && !sighting_.mark) {
    if (!place->epipolar.curve_px.empty() && !place->position_px) {
      const auto& curve = place->epipolar;
      const QPolygonF whole = on_screen(curve.curve_px, 0, curve.curve_px.size());
      const QPolygonF likely = on_screen(curve.curve_px, curve.likely_from, curve.likely_to);
      rimmed(kEpipolarColour, 1.0, Qt::DashLine, [&] { painter.drawPolyline(whole); });
      rimmed(kEpipolarColour, 2.0, Qt::SolidLine, [&] { painter.drawPolyline(likely); });
    }
    if (place->position_px) {
      const QPointF at = point_of(*place->position_px);
      if (sighting_.ellipse) {
        // Point by point, for the view may be turned.
        QPolygonF outline;
        const measure::ErrorEllipse& e = *sighting_.ellipse;
        const double c = std::cos(e.angle_rad), s = std::sin(e.angle_rad);
        for (int step = 0; step <= 72; ++step) {
          const double t = 2 * std::numbers::pi * step / 72;
          const double a = e.semi_major * std::cos(t), b = e.semi_minor * std::sin(t);
          outline << widget_from_photo(at + QPointF(c * a - s * b, s * a + c * b));
        }
        rimmed(colour_of(MarkState::kPredicted), 1.4, Qt::SolidLine,
               [&] { painter.drawPolyline(outline); });
      }
      draw_mark(painter, widget_from_photo(at), MarkState::kPredicted, kSignRadius + 3, false);
    }
    if (sighting_.proposal.state == Proposal::State::kOffered) {
      painter.setOpacity(0.85);
      draw_mark(painter, widget_from_photo(point_of(sighting_.proposal.answer->mark.position_px)),
                MarkState::kRefined, 0.7 * kSignRadius, false);
      painter.setOpacity(1.0);
    }
  }
  if (sighting_.mark) {
    const QPointF at = widget_from_photo(sighting_.mark->at_px);
    if (sighting_.mark->clicked_px) {
      const QPointF clicked = widget_from_photo(*sighting_.mark->clicked_px);
      rimmed(colour_of(MarkState::kByHand), 1.0, Qt::DotLine,
             [&] { painter.drawLine(clicked, at); });
      rimmed(colour_of(MarkState::kByHand), 1.2, Qt::SolidLine,
             [&] { painter.drawEllipse(clicked, 2.0, 2.0); });
    }
    if (sighting_.doubt && sighting_.mark->state == MarkState::kDoubted) {
      const QPointF projected = widget_from_photo(sighting_.doubt->projected_px);
      rimmed(colour_of(MarkState::kDoubted), 1.5, Qt::SolidLine,
             [&] { painter.drawLine(at, projected); });
      draw_mark(painter, projected, MarkState::kPredicted, kSignRadius, false);
    }
    draw_mark(painter, at, sighting_.mark->state, kSignRadius, hasFocus());
  }
}

void SightingView::draw_words(QPainter& painter) const {
  const QFontMetricsF metrics(font());
  const double line = metrics.height();
  const QRectF head(kRim + 4, kRim + 1, width() - 2 * kRim - 8, line + 2);
  painter.setPen(palette().color(QPalette::Text));
  QString right = tr("× %1").arg(QLocale().toString(magnification(), 'g', 2));
  if (sighting_.is_pattern) right = tr("pattern view  %1").arg(right);
  painter.setPen(palette().color(QPalette::PlaceholderText));
  painter.drawText(head, Qt::AlignRight | Qt::AlignVCenter, right);
  painter.setPen(palette().color(QPalette::Text));
  painter.drawText(head, Qt::AlignLeft | Qt::AlignVCenter,
                   metrics.elidedText(QString::fromStdString(photo()), Qt::ElideMiddle,
                                      head.width() - metrics.horizontalAdvance(right) - 10));
  const auto [state, reason] = foot();
  const double top = height() - kRim - 2 * line - 5;
  double left = kRim + 4;
  if (sighting_.mark) {  // the sign beside its word
    const double r = 0.36 * line;
    draw_mark(painter, {left + 1.4 * r, top + 0.5 * line + 1}, sighting_.mark->state, r, true);
    left += 3.4 * r;
  }
  painter.setPen(palette().color(QPalette::Text));
  painter.drawText(QRectF(left, top, width() - left - 6, line + 1),
                   Qt::AlignLeft | Qt::AlignVCenter,
                   metrics.elidedText(state, Qt::ElideRight, width() - left - 6));
  painter.setPen(palette().color(QPalette::PlaceholderText));
  painter.drawText(QRectF(kRim + 4, top + line + 1, width() - 2 * kRim - 8, line + 1),
                   Qt::AlignLeft | Qt::AlignVCenter,
                   metrics.elidedText(reason, Qt::ElideRight, width() - 2 * kRim - 8));
}

void SightingView::mousePressEvent(QMouseEvent* event) {
  setFocus(Qt::MouseFocusReason);
  if (event->button() != Qt::LeftButton) return;
  pressed_ = event->position();
  dragged_from_px_ = centre_px();
  dragging_ = aiming_ = false;
  if (!click_marks() && picture_area().contains(pressed_->toPoint())) hold_.start();
}

void SightingView::aim() {
  if (!pressed_ || dragging_) return;
  aiming_ = true;
  // The place under the cursor stays there.
  const QPointF under = photo_from_widget(*pressed_);
  set_magnification(standard_);
  set_centre(centre_px() + under - photo_from_widget(*pressed_));
  centred_ = Centred::kByHand;
  middle_found_ = true;
}

void SightingView::mouseMoveEvent(QMouseEvent* event) {
  if (pressed_ && !aiming_ && (event->buttons() & Qt::LeftButton)) {
    const QPointF by = event->position() - *pressed_;
    if (!dragging_ && std::hypot(by.x(), by.y()) > kDragDistance) {
      dragging_ = true;
      hold_.stop();
    }
    if (dragging_) {
      const QPointF now = photo_from_widget(event->position());
      const QPointF then = photo_from_widget(*pressed_);
      set_centre(dragged_from_px_ - (now - then));
      centred_ = Centred::kByHand;
      return;
    }
  }
  Q_EMIT hovered(photo_from_widget(event->position()));
}

void SightingView::mouseReleaseEvent(QMouseEvent* event) {
  if (event->button() != Qt::LeftButton || !pressed_) return;
  const bool was_drag = dragging_, aimed = aiming_;
  // A click is meant where it was pressed, an aim where it is let go; outside the view it is none.
  const QPointF at = aimed ? event->position() : *pressed_;
  pressed_.reset();
  dragging_ = aiming_ = false;
  hold_.stop();
  if (was_drag || !picture_area().contains(at.toPoint())) return;
  const QPointF at_px = photo_from_widget(at);
  if (!holds(at_px)) return;
  if (click_marks()) {
    Q_EMIT clicked_at(at_px);
  } else {
    Q_EMIT wanted_nearer(at_px);
  }
}

void SightingView::mouseDoubleClickEvent(QMouseEvent* event) {
  if (event->position().y() < picture_area().top()) Q_EMIT opened();
}

void SightingView::wheelEvent(QWheelEvent* event) {
  if (!(event->modifiers() & Qt::ControlModifier)) {
    event->ignore();  // scrolls the grid
    return;
  }
  event->accept();
  const double factor = std::exp2(event->angleDelta().y() / 240.0);
  if (centred_ == Centred::kOnMark || centred_ == Centred::kOnPlace) {
    Q_EMIT magnified(factor);
    return;
  }
  // No place to keep in the middle: the one under the cursor stays there.
  const QPointF under = photo_from_widget(event->position());
  set_magnification(magnification() * factor);
  set_centre(centre_px() + under - photo_from_widget(event->position()));
  centred_ = Centred::kByHand;
}

void SightingView::resizeEvent(QResizeEvent* event) {
  PhotoFrame::resizeEvent(event);
  // What fits has changed; what somebody has set stays.
  if (!middle_found_ || centred_ == Centred::kByHand || centred_ == Centred::kOnMark) return;
  middle_found_ = false;
  find_middle(standard_);
}

void SightingView::focusInEvent(QFocusEvent* event) {
  PhotoFrame::focusInEvent(event);
  update();
}
void SightingView::focusOutEvent(QFocusEvent* event) {
  PhotoFrame::focusOutEvent(event);
  update();
}

bool SightingView::event(QEvent* event) {
  if (event->type() == QEvent::ToolTip) {
    const auto [state, reason] = foot();
    QStringList lines{QString::fromStdString(photo()), state};
    if (!reason.isEmpty()) lines << reason;
    for (const QString& more : {sighting_.remark_at_length, sighting_.proposal.why_not_at_length}) {
      if (!more.isEmpty() && !lines.contains(more)) lines << more;
    }
    if (sighting_.mark) {
      lines << tr("mark at x %1 px, y %2 px")
                   .arg(QLocale().toString(sighting_.mark->at_px.x(), 'f', 2),
                        QLocale().toString(sighting_.mark->at_px.y(), 'f', 2));
    }
    QToolTip::showText(static_cast<QHelpEvent*>(event)->globalPos(), lines.join('\n'), this);
    return true;
  }
  return PhotoFrame::event(event);
}

}  // namespace desk
