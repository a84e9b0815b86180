// What of a dimension is drawn: curves of space, arrows, and where its text belongs.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "measure/dossier/dossier.h"

namespace measure {

/// A straight length. The dimension line runs along `along`, as long as to − from is in that
/// direction; extension lines lead to it from both places.
struct FigureLength {
  Eigen::Vector3d from = Eigen::Vector3d::Zero(), to = Eigen::Vector3d::Zero();
  Eigen::Vector3d along = Eigen::Vector3d::UnitX();  ///< unit length
  bool moved_off = true;  ///< drawn beside the original; false: where it is measured
  bool arrow_from = true, arrow_to = true;
};

/// The angle between two arms. The drawing chooses the radius of its arc.
struct FigureAngle {
  Eigen::Vector3d vertex = Eigen::Vector3d::Zero();
  Eigen::Vector3d first = Eigen::Vector3d::Zero(), second = Eigen::Vector3d::Zero();
};

/// What a length or an angle refers to, drawn where it is: an axis, a plane's outline, a rim.
struct FigureCurve {
  std::vector<Eigen::Vector3d> points;  ///< joined by straight lines of space
  bool centre_line = false;             ///< chain line, as for axes; else a thin line
  bool arrow_from = false, arrow_to = false;
};

/// All that is drawn of one dimension; in the object frame, the survey's unit. Kinds without a
/// straight length or an angle (a radius, an area, an arc) give curves and `label_at`.
struct DimensionFigure {
  std::vector<FigureLength> lengths;  ///< the first carries the text
  std::optional<FigureAngle> angle;
  std::vector<FigureCurve> curves;
  std::optional<Eigen::Vector3d> label_at;  ///< where neither length nor angle carries the text
  std::vector<Eigen::Vector3d> extent;      ///< must lie in a photo that shows the dimension
};

using PlacedPoints = std::map<std::string, Eigen::Vector3d>;

/// Nothing where a point of it is not placed, or it has no direction to be drawn in.
[[nodiscard]] std::optional<DimensionFigure> figure_of(const DimensionKind& kind,
                                                       const PlacedPoints& points);

}  // namespace measure
