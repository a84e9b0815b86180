// What a template shows: places, edges, circles and dimensions on one plane, at the size to be
// built.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "calib/base/problem.h"

namespace measure {

// All positions are millimetres on the drawing plane at the size to be built, x right, y UP; angles
// are radians from +x towards +y. Covariances are of those positions (mm²). Names are as in the
// dossier: any Unicode. Where there is no covariance, nothing of it is drawn.

struct DrawnPoint {
  std::string name;
  Eigen::Vector2d at_mm = Eigen::Vector2d::Zero();
  std::optional<Eigen::Matrix2d> covariance_mm2{};
};

struct DrawnSegment {
  std::string name;
  Eigen::Vector2d from_mm = Eigen::Vector2d::Zero(), to_mm = Eigen::Vector2d::Zero();
  std::optional<Eigen::Matrix4d> covariance_mm2{};  ///< joint, of from x, y, to x, y
};

/// A circle as seen: its own radius along one axis, less along the other where it is tilted.
struct TemplateEllipse {
  std::string name;
  Eigen::Vector2d centre_mm = Eigen::Vector2d::Zero();
  double radius_mm = 0.0;        ///< of the circle itself: the longer semi-axis
  double minor_radius_mm = 0.0;  ///< the shorter one; equal to radius_mm where it faces the viewer
  double turn_rad = 0.0;         ///< direction of the longer axis
  double u_radius_mm = 0.0;      ///< standard uncertainty of the radius; 0: none drawn
  std::optional<Eigen::Matrix2d> centre_covariance_mm2{};
};

/// Runs from from_rad counterclockwise to to_rad.
struct DrawnArc {
  std::string name;
  Eigen::Vector2d centre_mm = Eigen::Vector2d::Zero();
  double radius_mm = 0.0;
  double from_rad = 0.0, to_rad = 0.0;
  double u_radius_mm = 0.0;
};

struct DrawnPolyline {
  std::string name;
  std::vector<Eigen::Vector2d> corners_mm;
  bool closed = false;
};

struct DrawnCentreLine {
  Eigen::Vector2d from_mm = Eigen::Vector2d::Zero(), to_mm = Eigen::Vector2d::Zero();
};

/// A dimension with its value in words, "12.34 ± 0.05 mm", as quantity_text gives it. Where its
/// lines run is found when the drawing is laid out.
struct TemplateDimension {
  enum class Kind {
    kLinear,  ///< between from and to, along the straight line through them
    kRim,     ///< radius or diameter: from = centre, to = a place on the rim
    kAngle,   ///< at vertex, from the direction of from to that of to
  };
  std::string name;
  std::string text;
  Kind kind = Kind::kLinear;
  Eigen::Vector2d from_mm = Eigen::Vector2d::Zero(), to_mm = Eigen::Vector2d::Zero();
  Eigen::Vector2d vertex_mm = Eigen::Vector2d::Zero();
};

/// A sentence that belongs to a place.
struct DrawnNote {
  std::string text;
  Eigen::Vector2d at_mm = Eigen::Vector2d::Zero();
};

struct TemplateDrawing {
  std::string title;       ///< of the original and what is shown
  std::string view;        ///< "from the side"
  std::string scale_text;  ///< "replica 1:72"
  std::string unit = "mm";
  std::vector<DrawnPoint> points;
  std::vector<DrawnSegment> edges;
  std::vector<TemplateEllipse> circles;
  std::vector<DrawnArc> arcs;
  std::vector<DrawnPolyline> outlines;
  std::vector<DrawnCentreLine> centre_lines;
  std::vector<TemplateDimension> dimensions;
  std::vector<DrawnNote> notes;
  /// Ellipses and bands are drawn k standard uncertainties wide: in any direction ± U.
  double k = 2.0;
  /// Where ± U is thinner than a line: drawn so many times larger, which the legend says.
  double uncertainty_times = 1.0;

  /// Why this cannot be drawn, naming the item: nothing in it, a place that is not finite, a
  /// radius that is not positive, a covariance that is none, lengths without millimetres.
  [[nodiscard]] std::optional<calib::Problem> first_problem() const;
};

}  // namespace measure
