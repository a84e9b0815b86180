// What of a dimension is drawn: curves of space, arrows, and where its text belongs.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "measure/dimension/form_result.h"
#include "measure/dossier/dossier.h"
#include "measure/shapes/form.h"

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

/// A circle, or the outline of a ball. The drawing chooses in which direction a radius or a
/// diameter is drawn.
struct FigureRound {
  Eigen::Vector3d centre = Eigen::Vector3d::Zero();
  Eigen::Vector3d normal = Eigen::Vector3d::UnitZ();  ///< of the circle's plane, unit length
  double radius = 0.0;
  bool ball = false;  ///< its outline is the circle that the camera sees
  enum class Measures { kNothing, kRadius, kDiameter } measures = Measures::kNothing;
};

/// What a length or an angle refers to, or a length along a curve, drawn where it is.
struct FigureCurve {
  std::vector<Eigen::Vector3d> points;  ///< joined by straight lines of space
  enum class Style {
    kThin,       ///< as extension lines are
    kCentre,     ///< chain line, as for axes and planes
    kDimension,  ///< what is measured
  } style = Style::kThin;
  bool arrow_from = false, arrow_to = false;
};

/// All that is drawn of one dimension; in the object frame, the survey's unit. The text stands at
/// the first of these that there is: length, angle, measured round, `label_at`.
struct DimensionFigure {
  std::vector<FigureLength> lengths;
  std::optional<FigureAngle> angle;
  std::vector<FigureRound> rounds;
  std::vector<FigureCurve> curves;
  std::optional<Eigen::Vector3d> label_at;
  std::vector<Eigen::Vector3d> extent;  ///< must lie in a photo that shows the dimension
};

/// Points and shapes of a survey, as far as they are placed.
struct PlacedForms {
  std::map<std::string, Form> forms;  ///< points among them
  /// Of planes: the points that they are made from, which tell how far they reach.
  std::map<std::string, std::vector<Eigen::Vector3d>> outlines;
};
/// @param forms  evaluate_forms() of the survey and dossier.
[[nodiscard]] PlacedForms placed_forms(const SurveyReport& report, const Dossier& dossier,
                                       const std::vector<FormResult>& forms);

/// Nothing where a point or shape of it is not placed, or it has no direction to be drawn in.
[[nodiscard]] std::optional<DimensionFigure> figure_of(const Dossier& dossier,
                                                       const DimensionKind& kind,
                                                       const PlacedForms& placed);

}  // namespace measure
