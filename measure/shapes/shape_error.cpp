#include "measure/shapes/shape_error.h"

namespace measure {

// No default, so that the compiler reports a case without its sentence.
std::string describe(ShapeError error) {
  switch (error) {
    case ShapeError::kAxisWithoutLength:
      return "the two points that give the direction lie in one place: name two that are apart";
    case ShapeError::kPointsInLine:
      return "the points of the plane lie in one line: name one beside it";
    case ShapeError::kTooFewPoints:
      return "a plane needs three points or more";
    case ShapeError::kSideUnknown:
      return "the first three points of the plane lie in one line and do not tell its positive "
             "side: name three of its corners first";
    case ShapeError::kTooFewForLine:
      return "a line needs two points or more";
    case ShapeError::kTooFewForCircle:
      return "a circle needs three points or more";
    case ShapeError::kTooFewForSphere:
      return "a sphere needs four points or more";
    case ShapeError::kTooFewForCylinder:
      return "a cylinder needs five points or more, better eight, round two of its ends";
    case ShapeError::kTooFewForCone:
      return "a cone needs six points or more, better eight, round two of its ends";
    case ShapeError::kTooFewPairs:
      return "a mirror plane needs one pair of points or more";
    case ShapeError::kNoFormToPoint:
      return "a point is marked, not fitted to other points: ask for a line, plane, circle, "
             "sphere, cylinder or cone";
    case ShapeError::kPointsInOnePlace:
      return "its points lie in one place within their error bars: name some that are apart";
    case ShapeError::kCircleInLine:
      return "the points of the circle lie in one line within their error bars: name some farther "
             "round it";
    case ShapeError::kSphereInPlane:
      return "the points of the sphere lie in one plane, or too close together for their error "
             "bars: name one well off that plane";
    case ShapeError::kCylinderOneSide:
      return "the points of the cylinder lie on one straight line along its side: name some "
             "farther round it";
    case ShapeError::kCylinderOneRing:
      return "the points of the cylinder do not tell its axis and radius within their error bars: "
             "name some farther along and farther round it";
    case ShapeError::kConeOneSide:
      return "the points of the cone lie on one straight line along its side: name some farther "
             "round it";
    case ShapeError::kConeIsCylinder:
      return "the sides of the cone are parallel within their error bars: ask for a cylinder";
    case ShapeError::kConeIsPlane:
      return "the cone is flat within its error bars: ask for a plane";
    case ShapeError::kConeOneRing:
      return "the points of the cone do not tell its axis and angle within their error bars: name "
             "some farther along and farther round it";
    case ShapeError::kTwoShapesFit:
      return "two different shapes fit its points equally well: name more points, farther along "
             "and farther round it";
    case ShapeError::kPairsWithoutLength:
      return "the points of each pair lie in one place within their error bars and tell no mirror "
             "plane: name pairs that are apart";
    case ShapeError::kFitDoesNotSettle:
      return "no shape of this kind settles on its points: look at their departures from a simpler "
             "one, or name more points";
    case ShapeError::kFarFromForm:
      return "its points lie too far from any shape of this kind for its direction to mean "
             "anything: look at which points are named";
    case ShapeError::kNotANumber:
      return "a coordinate of its points, or the covariance, is not a finite number: adjust the "
             "survey again";
    case ShapeError::kCovarianceSize:
      return "the covariance does not have three rows for each of its points: adjust the survey "
             "again";
    case ShapeError::kNoCrossing:
      return "a crossing is of two lines, of a line and a plane, or of two planes";
    case ShapeError::kLinesParallel:
      return "the two lines are parallel within one degree and cross nowhere that can be told: ask "
             "for the gap between them";
    case ShapeError::kLineAlongPlane:
      return "the line runs along the plane within one degree and crosses it nowhere that can be "
             "told: ask for the gap between them";
    case ShapeError::kPlanesParallel:
      return "the two planes are parallel within one degree and cross nowhere that can be told: "
             "ask for the gap between them";
    case ShapeError::kNeedsPlane:
      return "a plane, or a circle for its plane, is needed here";
    case ShapeError::kMiddleUndecided:
      return "the two planes stand at an angle and their points lie where they cross, so that it "
             "is open which of two mid-planes is meant: name points of each away from the crossing";
    case ShapeError::kDistanceNeedsGap:
      return "the distance from a plane is that of a point: ask for the gap of two things that run "
             "along each other, or for their angle";
    case ShapeError::kNeedsPlace:
      return "a point, or the centre of a circle or sphere, or the apex of a cone, is needed here";
    case ShapeError::kNeedsDirection:
      return "a line, or something with an axis or a plane, is needed here to give the direction";
    case ShapeError::kGapNeedsStraight:
      return "a gap is between planes, lines, cylinders or circles: ask for the distance";
    case ShapeError::kGapNotParallel:
      return "the two stand more than ten degrees from parallel and have no one gap: ask for the "
             "distance of a point of one from the other, or for their angle";
    case ShapeError::kAngleNeedsDirection:
      return "an angle is between lines, planes, circles, cylinders or cones";
    case ShapeError::kNeedsRound:
      return "a radius or diameter is that of a circle, sphere or cylinder";
    case ShapeError::kNeedsCone:
      return "a cone is needed here";
    case ShapeError::kNeedsCircle:
      return "an arc lies on a circle: name one first";
    case ShapeError::kArcPointAtCentre:
      return "a point of the arc lies at the centre of the circle: name points on the rim";
    case ShapeError::kArcHalfTurn:
      return "the ends of the arc lie opposite each other, so that either way round is as short: "
             "name a point on the way";
    case ShapeError::kArcViaAtEnd:
      return "the point on the way lies at an end of the arc: name one between them";
    case ShapeError::kChainTooShort:
      return "a chain needs two points or more";
    case ShapeError::kRowTooShort:
      return "a row needs three points or more: ask for the distance of two";
    case ShapeError::kRowInOnePlace:
      return "the points of the row lie in one place, or do not follow one another along a line: "
             "name them in their order";
    case ShapeError::kOutlineTooFew:
      return "an outline needs three points or more";
    case ShapeError::kOutlineWithoutArea:
      return "the points of the outline lie in one line or enclose nothing: name one beside it";
    case ShapeError::kOutlineCrossesItself:
      return "the outline crosses itself: name its points in their order round the edge";
    case ShapeError::kAxesLineAcross:
      return "the line that gives the model's x axis stands across the model's plane: name one "
             "that runs along it";
  }
  return {};
}

}  // namespace measure
