#include "measure/sheet/outline.h"

#include <cmath>

namespace measure {
namespace {

using calib::Problem;

std::string named(const char* what, const std::string& name) {
  return std::string(what) + (name.empty() ? "" : " \"" + name + "\"");
}

template <typename Matrix>
bool is_covariance(const Matrix& matrix) {
  // A variance that is negative by more than rounding is no variance.
  return matrix.allFinite() &&
         (matrix.diagonal().array() >= -1e-12 * (1.0 + matrix.cwiseAbs().maxCoeff())).all();
}

class Check {
 public:
  explicit Check(const TemplateDrawing& drawing) : drawing_(drawing) {}

  std::optional<std::string> fault() {
    for (const DrawnPoint& point : drawing_.points) {
      place(named("point", point.name), {point.at_mm});
      covariance(named("point", point.name), point.covariance_mm2);
    }
    for (const DrawnSegment& edge : drawing_.edges) {
      place(named("edge", edge.name), {edge.from_mm, edge.to_mm});
      covariance(named("edge", edge.name), edge.covariance_mm2);
    }
    for (const TemplateEllipse& circle : drawing_.circles) {
      const std::string what = named("circle", circle.name);
      place(what, {circle.centre_mm, {circle.turn_rad, circle.u_radius_mm}});
      covariance(what, circle.centre_covariance_mm2);
      if (!(circle.radius_mm > 0.0 && std::isfinite(circle.radius_mm))) {
        say(what + " has no radius above 0");
      } else if (!(circle.minor_radius_mm >= 0.0 &&
                   circle.minor_radius_mm <= circle.radius_mm * (1.0 + 1e-9))) {
        say(what + " is drawn wider than it is");
      }
    }
    for (const DrawnArc& arc : drawing_.arcs) {
      const std::string what = named("arc", arc.name);
      place(what, {arc.centre_mm, {arc.from_rad, arc.to_rad}, {arc.u_radius_mm, 0.0}});
      if (!(arc.radius_mm > 0.0 && std::isfinite(arc.radius_mm))) {
        say(what + " has no radius above 0");
      }
    }
    for (const DrawnPolyline& outline : drawing_.outlines) {
      place(named("outline", outline.name), outline.corners_mm);
      if (outline.corners_mm.size() < 2) {
        say(named("outline", outline.name) + " has fewer than two corners");
      }
    }
    for (const DrawnCentreLine& line : drawing_.centre_lines) {
      place("a centre line", {line.from_mm, line.to_mm});
    }
    for (const TemplateDimension& dimension : drawing_.dimensions) {
      place(named("dimension", dimension.name),
            {dimension.from_mm, dimension.to_mm, dimension.vertex_mm});
    }
    for (const DrawnNote& note : drawing_.notes) {
      place("a note", {note.at_mm});
    }
    return fault_;
  }

 private:
  void say(const std::string& what) {
    if (!fault_) {
      fault_ = what;
    }
  }
  void place(const std::string& what, const std::vector<Eigen::Vector2d>& places) {
    constexpr double kLargest_mm = 1e6;  // a kilometre is no sheet
    for (const Eigen::Vector2d& at : places) {
      if (!at.allFinite()) {
        say(what + " has a place that is no number");
      } else if (at.cwiseAbs().maxCoeff() > kLargest_mm) {
        say(what + " lies further than a kilometre from the origin of the drawing");
      }
    }
  }
  template <typename Matrix>
  void covariance(const std::string& what, const std::optional<Matrix>& matrix) {
    if (matrix && !is_covariance(*matrix)) {
      say(what + " has a covariance that is none");
    }
  }

  const TemplateDrawing& drawing_;
  std::optional<std::string> fault_;
};

}  // namespace

std::optional<Problem> TemplateDrawing::first_problem() const {
  const std::string what = "drawing \"" + title + "\"";
  if (unit != "mm") {
    return Problem{what + " has no millimetres to be built at: enter a scale bar with its length."};
  }
  if (points.empty() && edges.empty() && circles.empty() && arcs.empty() && outlines.empty()) {
    return Problem{what + " shows nothing: choose points, edges or circles that the survey has."};
  }
  if (!(k > 0.0 && std::isfinite(k)) ||
      !(uncertainty_times > 0.0 && std::isfinite(uncertainty_times))) {
    return Problem{what +
                   ": the coverage factor and how many times larger uncertainty is drawn "
                   "must be numbers above 0."};
  }
  if (const auto fault = Check(*this).fault()) {
    return Problem{what + ": " + *fault + ": leave it out, or look at what the survey says of it."};
  }
  return std::nullopt;
}

}  // namespace measure
