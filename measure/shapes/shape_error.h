// Why a shape, or what is asked of it, does not exist.
#pragma once

#include <string>

namespace measure {

enum class ShapeError {
  kAxisWithoutLength,  ///< the two points that give a direction coincide
  kPointsInLine,       ///< the points that span a plane lie in one line
  kTooFewPoints,       ///< a plane needs three points or more
  kSideUnknown,  ///< the first three points of a plane lie in one line and tell no positive side

  // Fits
  kTooFewForLine,       ///< fewer than two
  kTooFewForCircle,     ///< fewer than three
  kTooFewForSphere,     ///< fewer than four
  kTooFewForCylinder,   ///< fewer than five
  kTooFewForCone,       ///< fewer than six
  kTooFewPairs,         ///< a mirror plane without a pair
  kNoFormToPoint,       ///< a point was asked for, which is marked and not fitted
  kPointsInOnePlace,    ///< of a line, circle, sphere, cylinder or cone
  kCircleInLine,        ///< the points of a circle lie in one line, or nearly
  kSphereInPlane,       ///< the points of a sphere lie in one plane, or nearly
  kCylinderOneSide,     ///< the points of a cylinder lie on one straight line of its side
  kCylinderOneRing,     ///< the points of a cylinder do not tell its axis
  kConeOneSide,         ///< the points of a cone lie on one straight line of its side
  kConeIsCylinder,      ///< the half angle of a cone does not differ from zero
  kConeIsPlane,         ///< the half angle of a cone does not differ from 90°
  kConeOneRing,         ///< the points of a cone do not tell its axis and apex
  kTwoShapesFit,        ///< two cylinders or cones fit the same points as well
  kPairsWithoutLength,  ///< the two points of each mirror pair coincide, or give no direction
  kFitDoesNotSettle,    ///< the fit did not converge
  kFarFromForm,         ///< the points lie so far from any such shape that it has no direction
  kNotANumber,          ///< a coordinate or covariance is not finite
  kCovarianceSize,      ///< the covariance does not belong to the points

  // Constructions
  kNoCrossing,       ///< these two kinds have no crossing
  kLinesParallel,    ///< nearly: their crossing lies nowhere
  kLineAlongPlane,   ///< nearly parallel: their crossing lies nowhere
  kPlanesParallel,   ///< nearly: their crossing lies nowhere
  kNeedsPlane,       ///< a plane, or a circle for its plane, is asked for here
  kMiddleUndecided,  ///< two planes at an angle, and the places on them do not tell between which

  // Measurands
  kDistanceNeedsGap,     ///< distance from a plane is asked of something that is not a place
  kNeedsPlace,           ///< a point, centre or apex is asked for here
  kNeedsDirection,       ///< a form with a direction is asked for here
  kGapNeedsStraight,     ///< a gap is between planes, lines, cylinders, circles
  kGapNotParallel,       ///< the two are more than 10° from parallel
  kAngleNeedsDirection,  ///< an angle is between forms with a direction
  kNeedsRound,           ///< a radius is asked of something not round
  kNeedsCone,            ///< a cone angle is asked of something else
  kNeedsCircle,          ///< an arc is asked of something else
  kArcPointAtCentre,     ///< a point of the arc lies at the circle's centre
  kArcHalfTurn,          ///< from and to lie opposite: which way round is not told
  kArcViaAtEnd,          ///< the point on the way lies at an end
  kChainTooShort,        ///< fewer than two points
  kRowTooShort,          ///< fewer than three points
  kRowInOnePlace,        ///< the row has no length
  kOutlineTooFew,        ///< fewer than three points
  kOutlineWithoutArea,   ///< all in one line
  kOutlineCrossesItself,
  kAxesLineAcross,  ///< the model's line stands nearly at right angles to its plane
};

/// What is wrong and the remedy, to follow "cannot be measured: ".
[[nodiscard]] std::string describe(ShapeError error);

}  // namespace measure
