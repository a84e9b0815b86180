#include "measure/sheet/template_svg.h"

#include <charconv>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <numbers>

#include "calib/base/units.h"
#include "measure/sheet/sheet_font.h"

namespace measure {
namespace {

using Eigen::Vector2d;

constexpr double kLegendHeight_mm = 2.5, kLegendLine_mm = 4.5;

/// Text for XML 1.0: markup escaped, and what XML cannot hold at all (control characters) as the
/// replacement character.
std::string escaped(const std::string& text) {
  std::string made;
  for (const char c : text) {
    switch (c) {
      case '&':
        made += "&amp;";
        break;
      case '<':
        made += "&lt;";
        break;
      case '>':
        made += "&gt;";
        break;
      case '"':
        made += "&quot;";
        break;
      default:
        if (static_cast<unsigned char>(c) < 0x20 && c != '\t' && c != '\n') {
          made += "\xEF\xBF\xBD";
        } else {
          made += c;
        }
    }
  }
  return made;
}

/// Millimetres to a ten thousandth, without trailing zeros.
std::string number(double value) {
  char text[64];
  const auto end = std::to_chars(text, text + sizeof text, value, std::chars_format::fixed, 4).ptr;
  std::string made(text, end);
  made.erase(made.find_last_not_of('0') + 1);
  if (made.back() == '.') {
    made.pop_back();
  }
  return made == "-0" ? "0" : made;
}

std::string attribute(const char* name, double value) {
  return std::string(" ") + name + "=\"" + number(value) + "\"";
}

class Page {
 public:
  explicit Page(const LaidOutDrawing& drawing) : frame_(drawing.frame) {
    double width = frame_.high.x() - frame_.low.x();
    for (const std::string& line : drawing.legend) {
      width = std::max(width, text_width(line, kLegendHeight_mm) + 2.0);
    }
    size_ = {width, frame_.high.y() - frame_.low.y() +
                        kLegendLine_mm * (static_cast<double>(drawing.legend.size()) + 0.5)};
  }

  [[nodiscard]] const Vector2d& size() const { return size_; }
  /// From the drawing, y up, to the page, y down.
  [[nodiscard]] Vector2d at(const Vector2d& place) const {
    return {place.x() - frame_.low.x(), frame_.high.y() - place.y()};
  }
  [[nodiscard]] double legend_line(std::size_t i) const {
    return frame_.high.y() - frame_.low.y() + kLegendLine_mm * (static_cast<double>(i) + 0.8);
  }

 private:
  PageBox frame_;
  Vector2d size_;
};

std::string moved_to(const Page& page, char letter, const Vector2d& place) {
  const Vector2d at = page.at(place);
  return letter + number(at.x()) + " " + number(at.y());
}

/// The element of a stroke without what follows its attributes.
struct ShapeElement {
  const Page& page;

  std::string operator()(const LineStroke& line) const {
    const Vector2d from = page.at(line.from_mm), to = page.at(line.to_mm);
    return "line" + attribute("x1", from.x()) + attribute("y1", from.y()) +
           attribute("x2", to.x()) + attribute("y2", to.y());
  }
  std::string operator()(const EllipseStroke& ellipse) const {
    const Vector2d centre = page.at(ellipse.centre_mm);
    const std::string place = attribute("cx", centre.x()) + attribute("cy", centre.y());
    if (std::abs(ellipse.major_mm - ellipse.minor_mm) <= 1e-9 * ellipse.major_mm) {
      return "circle" + place + attribute("r", ellipse.major_mm);
    }
    // y points down here: angles change their sign.
    return "ellipse" + place + attribute("rx", ellipse.major_mm) +
           attribute("ry", ellipse.minor_mm) + " transform=\"rotate(" +
           number(-ellipse.turn_rad * calib::kDegreesPerRadian) + " " + number(centre.x()) + " " +
           number(centre.y()) + ")\"";
  }
  std::string operator()(const ArcStroke& arc) const {
    const auto end = [&](double angle) {
      return Vector2d(arc.centre_mm + arc.radius_mm * Vector2d(std::cos(angle), std::sin(angle)));
    };
    double sweep = std::fmod(arc.to_rad - arc.from_rad, 2.0 * std::numbers::pi);
    sweep += sweep <= 0.0 ? 2.0 * std::numbers::pi : 0.0;
    // In two halves: a full circle has no arc of its own in a path.
    std::string path = moved_to(page, 'M', end(arc.from_rad));
    for (const double share : {0.5, 1.0}) {
      const Vector2d to = page.at(end(arc.from_rad + share * sweep));
      path += " A" + number(arc.radius_mm) + " " + number(arc.radius_mm) + " 0 0 0 " +
              number(to.x()) + " " + number(to.y());
    }
    return "path d=\"" + path + "\"";
  }
  std::string operator()(const PathStroke& path) const {
    std::string made = path.closed ? "polygon" : "polyline";
    made += " points=\"";
    for (std::size_t i = 0; i < path.corners_mm.size(); ++i) {
      const Vector2d at = page.at(path.corners_mm[i]);
      made += (i == 0 ? "" : " ") + number(at.x()) + "," + number(at.y());
    }
    return made + "\"";
  }
  std::string operator()(const PlaceStroke& place) const {
    const Vector2d x(0.5 * kPlaceCross_mm, 0.0), y(0.0, 0.5 * kPlaceCross_mm);
    return "path d=\"" + moved_to(page, 'M', place.at_mm - x) + " " +
           moved_to(page, 'L', place.at_mm + x) + " " + moved_to(page, 'M', place.at_mm - y) + " " +
           moved_to(page, 'L', place.at_mm + y) + "\"";
  }
  std::string operator()(const ArrowStroke& arrow) const {
    const Vector2d across(-arrow.direction.y(), arrow.direction.x());
    const Vector2d base = arrow.tip_mm - kArrowLength_mm * arrow.direction;
    return "path d=\"" + moved_to(page, 'M', arrow.tip_mm) + " " +
           moved_to(page, 'L', base + 0.5 * kArrowWidth_mm * across) + " " +
           moved_to(page, 'L', base - 0.5 * kArrowWidth_mm * across) +
           " Z\" fill=\"currentColor\" stroke=\"none\"";
  }
};

std::string colour_of(const LayerPen& pen) {
  char text[8];
  std::snprintf(text, sizeof text, "#%02x%02x%02x",
                static_cast<unsigned>(std::lround(255.0 * pen.colour[0])),
                static_cast<unsigned>(std::lround(255.0 * pen.colour[1])),
                static_cast<unsigned>(std::lround(255.0 * pen.colour[2])));
  return text;
}

std::string group_start(const LayerPen& pen) {
  std::string made = std::string("  <g id=\"") + pen.id + "\" fill=\"none\" color=\"" +
                     colour_of(pen) + "\" stroke=\"" + colour_of(pen) + "\"" +
                     attribute("stroke-width", pen.width_mm);
  if (pen.dashes_mm[0] > 0.0) {
    made += " stroke-dasharray=\"";
    for (std::size_t i = 0; i < pen.dashes_mm.size(); ++i) {
      made += (i == 0 ? "" : " ") + number(pen.dashes_mm[i]);
    }
    made += "\"";
  }
  return made + ">\n    <title>" + pen.title + "</title>\n";
}

std::string text_element(const std::string& text, const Vector2d& at, double height_mm,
                         double width_mm, double turn_rad) {
  std::string made = "    <text" + attribute("x", at.x()) + attribute("y", at.y()) +
                     attribute("font-size", font_size(height_mm));
  if (width_mm > 0.0) {
    // Another font stays within the room that was found for the text.
    made += attribute("textLength", width_mm) + " lengthAdjust=\"spacingAndGlyphs\"";
  }
  if (turn_rad != 0.0) {
    made += " transform=\"rotate(" + number(-turn_rad * calib::kDegreesPerRadian) + " " +
            number(at.x()) + " " + number(at.y()) + ")\"";
  }
  return made + " fill=\"#000000\" stroke=\"none\">" + escaped(text) + "</text>\n";
}

}  // namespace

calib::Result<std::string, calib::Problem> template_svg(const TemplateDrawing& drawing,
                                                        const LayoutOptions& options) {
  if (auto problem = drawing.first_problem()) {
    return calib::Unexpected(*problem);
  }
  const LaidOutDrawing laid_out = lay_out(drawing, options);
  const Page page(laid_out);
  const std::string width = number(page.size().x()), height = number(page.size().y());
  std::string svg =
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
      "<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"" +
      width + "mm\" height=\"" + height + "mm\" viewBox=\"0 0 " + width + " " + height +
      "\" font-family=\"'" + kSheetFont + "', sans-serif\">\n  <title>" +
      escaped(laid_out.legend.front()) + "</title>\n  <desc>One user unit is 1 mm.</desc>\n";
  for (const DrawingLayer layer : kDrawingLayers) {
    std::string group;
    for (const Stroke& stroke : laid_out.strokes) {
      if (stroke.layer == layer) {
        group += "    <" + std::visit(ShapeElement{page}, stroke.shape);
        const std::string element = group.substr(group.rfind("    <") + 5);
        group += stroke.name.empty() ? "/>\n"
                                     : "><title>" + escaped(stroke.name) + "</title></" +
                                           element.substr(0, element.find(' ')) + ">\n";
      }
    }
    for (const LaidOutText& text : laid_out.texts) {
      if (text.layer == layer) {
        group += text_element(text.text, page.at(text.at_mm), text.height_mm, text.width_mm,
                              text.turn_rad);
      }
    }
    if (!group.empty()) {
      svg += group_start(pen_of(layer)) + group + "  </g>\n";
    }
  }
  svg += "  <g id=\"legend\">\n    <title>What is drawn, and its unit</title>\n";
  for (std::size_t i = 0; i < laid_out.legend.size(); ++i) {
    svg += text_element(laid_out.legend[i], {1.0, page.legend_line(i)}, kLegendHeight_mm,
                        text_width(laid_out.legend[i], kLegendHeight_mm), 0.0);
  }
  return svg + "  </g>\n</svg>\n";
}

}  // namespace measure
