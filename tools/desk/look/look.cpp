#include "tools/desk/look/look.h"

#include <QCoreApplication>
#include <QFontMetricsF>
#include <QPainterPath>
#include <QPolygonF>

namespace desk {
namespace {

constexpr double kFreeMiddle = 0.3;  // of the radius

void strokes(QPainter& painter, const QPointF& at, MarkState state, double r) {
  const double inner = kFreeMiddle * r;
  const auto line = [&](double x1, double y1, double x2, double y2) {
    painter.drawLine(at + QPointF(x1, y1), at + QPointF(x2, y2));
  };
  const auto upright = [&] {
    line(-r, 0, -inner, 0);
    line(inner, 0, r, 0);
    line(0, -r, 0, -inner);
    line(0, inner, 0, r);
  };
  switch (state) {
    case MarkState::kByHand:
      upright();
      break;
    case MarkState::kRefined:
      upright();
      painter.drawEllipse(at, 0.6 * r, 0.6 * r);
      break;
    case MarkState::kImported: {
      const double d = 0.8 * r, i = 0.8 * inner;
      line(-d, -d, -i, -i);
      line(i, i, d, d);
      line(-d, d, -i, i);
      line(i, -i, d, -d);
      break;
    }
    case MarkState::kDoubted:
      upright();
      painter.drawPolygon(QPolygonF{at + QPointF(0, -1.5 * r), at + QPointF(1.3 * r, 0.9 * r),
                                    at + QPointF(-1.3 * r, 0.9 * r)});
      break;
    case MarkState::kSetAside:
      painter.drawEllipse(at, r, r);
      line(-0.7 * r, 0.7 * r, 0.7 * r, -0.7 * r);
      break;
    case MarkState::kPredicted:
      line(-r, 0, -0.6 * r, 0);
      line(0.6 * r, 0, r, 0);
      line(0, -r, 0, -0.6 * r);
      line(0, 0.6 * r, 0, r);
      break;
  }
}

struct Words {
  Q_DECLARE_TR_FUNCTIONS(desk::Look)
};

}  // namespace

QString word_of(MarkState state) {
  switch (state) {
    case MarkState::kByHand:
      return Words::tr("by hand");
    case MarkState::kRefined:
      return Words::tr("refined");
    case MarkState::kImported:
      return Words::tr("imported");
    case MarkState::kDoubted:
      return Words::tr("doubted");
    case MarkState::kSetAside:
      return Words::tr("set aside");
    case MarkState::kPredicted:
      return Words::tr("predicted");
  }
  return {};
}

QColor colour_of(MarkState state) {
  switch (state) {
    case MarkState::kByHand:
      return {0xE6, 0x9F, 0x00};  // orange
    case MarkState::kRefined:
      return {0x1F, 0xC8, 0x98};  // bluish green, lightened for photographs
    case MarkState::kImported:
      return {0xCC, 0x79, 0xA7};  // reddish purple
    case MarkState::kDoubted:
      return {0xFF, 0x6A, 0x13};  // vermillion, lightened
    case MarkState::kSetAside:
      return {0xC0, 0xC0, 0xC0};
    case MarkState::kPredicted:
      return {0x56, 0xB4, 0xE9};  // sky blue
  }
  return Qt::white;
}

void draw_mark(QPainter& painter, const QPointF& at, MarkState state, double radius, bool chosen) {
  painter.save();
  painter.setRenderHint(QPainter::Antialiasing);
  painter.setBrush(Qt::NoBrush);
  const double width = chosen ? 2.0 : 1.3;
  for (const auto& [colour, pen_width] :
       {std::pair{QColor(0, 0, 0, 170), width + 2.0}, std::pair{colour_of(state), width}}) {
    QPen pen(colour, pen_width);
    pen.setCosmetic(true);
    pen.setCapStyle(Qt::FlatCap);
    painter.setPen(pen);
    strokes(painter, at, state, radius);
  }
  painter.restore();
}

void draw_label(QPainter& painter, const QPointF& at, const QString& text, const QColor& colour) {
  painter.save();
  painter.setRenderHint(QPainter::Antialiasing);
  QPainterPath path;
  path.addText(at, painter.font(), text);
  painter.setBrush(Qt::NoBrush);
  painter.setPen(QPen(QColor(0, 0, 0, 200), 3.0, Qt::SolidLine, Qt::RoundCap, Qt::RoundJoin));
  painter.drawPath(path);
  painter.fillPath(path, colour);
  painter.restore();
}

QPalette light_palette() {
  QPalette palette(QColor(0xEE, 0xEE, 0xEA), QColor(0xF6, 0xF6, 0xF3));
  palette.setColor(QPalette::Base, QColor(0xFD, 0xFD, 0xFB));
  palette.setColor(QPalette::AlternateBase, QColor(0xF2, 0xF2, 0xEE));
  palette.setColor(QPalette::Text, QColor(0x1C, 0x1C, 0x1C));
  palette.setColor(QPalette::WindowText, QColor(0x1C, 0x1C, 0x1C));
  palette.setColor(QPalette::ButtonText, QColor(0x1C, 0x1C, 0x1C));
  palette.setColor(QPalette::Highlight, QColor(0x00, 0x72, 0xB2));
  palette.setColor(QPalette::HighlightedText, Qt::white);
  palette.setColor(QPalette::PlaceholderText, QColor(0x6A, 0x6A, 0x6A));
  palette.setColor(QPalette::Link, QColor(0x00, 0x5A, 0x8C));
  for (const auto role : {QPalette::Text, QPalette::WindowText, QPalette::ButtonText}) {
    palette.setColor(QPalette::Disabled, role, QColor(0x80, 0x80, 0x7C));
  }
  return palette;
}

QPalette dark_palette() {
  QPalette palette(QColor(0x3A, 0x3C, 0x3F), QColor(0x2B, 0x2D, 0x2F));
  palette.setColor(QPalette::Base, QColor(0x22, 0x23, 0x25));
  palette.setColor(QPalette::AlternateBase, QColor(0x29, 0x2B, 0x2D));
  palette.setColor(QPalette::Text, QColor(0xE8, 0xE8, 0xE4));
  palette.setColor(QPalette::WindowText, QColor(0xE8, 0xE8, 0xE4));
  palette.setColor(QPalette::ButtonText, QColor(0xE8, 0xE8, 0xE4));
  palette.setColor(QPalette::ToolTipBase, QColor(0x3A, 0x3C, 0x3F));
  palette.setColor(QPalette::ToolTipText, QColor(0xE8, 0xE8, 0xE4));
  palette.setColor(QPalette::Highlight, QColor(0x1B, 0x7F, 0xB8));
  palette.setColor(QPalette::HighlightedText, Qt::white);
  palette.setColor(QPalette::PlaceholderText, QColor(0x9A, 0x9C, 0x9A));
  palette.setColor(QPalette::Link, QColor(0x7C, 0xC4, 0xEE));
  for (const auto role : {QPalette::Text, QPalette::WindowText, QPalette::ButtonText}) {
    palette.setColor(QPalette::Disabled, role, QColor(0x84, 0x86, 0x86));
  }
  return palette;
}

}  // namespace desk
