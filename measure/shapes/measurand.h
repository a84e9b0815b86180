// What is asked, as functions of forms: value, gradient, and how it departs from an end that it
// cannot cross.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>

#include <Eigen/Core>

#include "calib/base/result.h"
#include "measure/shapes/form.h"
#include "measure/shapes/shape_error.h"

namespace measure {

/// Where the value has an end that it cannot cross (0; of angles also π/2 or π): a vector that
/// follows the inputs nearly linearly right through the end, and whose size is the value's distance
/// from it.
struct Departure {
  enum class Size { kLength, kLargest };  ///< its length, or its largest |component|
  Eigen::VectorXd vector;
  Eigen::MatrixXd by_inputs;  ///< rows of vector × 8n
  Size size = Size::kLength;
  bool sine = false;  ///< the size is the sine of the distance from the end
  double end = 0.0;   ///< value = end ± size, or end ± asin(size)
};

/// A function of n forms. Lengths in the unit of the forms, angles in radians, areas in its square.
/// Gradients are by the numbers of each form in turn (points are forms, too), tangential where
/// these are bound: a direction stays unit length.
struct Measurand {
  double value = 0.0;
  Eigen::RowVectorXd gradient;  ///< 8n; zero where it does not exist (at an end)
  std::optional<Departure> departure = {};
  std::string note = {};               ///< a remark for a person, or empty
  int length_exponent = 1;             ///< 0 of an angle, 1 of a length, 2 of an area
  std::optional<std::size_t> at = {};  ///< of the largest departure of a row: which point, from 0
};

using MeasurandResult = calib::Result<Measurand, ShapeError>;

/// ≥ 0. Circle, sphere and cone count by centre or apex, cylinders by their axis. Place–place;
/// place–line and place–plane at right angles; line–line along the common perpendicular, or, when
/// within 1° of parallel, from the middle of what was marked of b.
/// Errors: kDistanceNeedsGap (a plane, and no place).
[[nodiscard]] MeasurandResult distance(const Form& a, const Form& b);
/// Signed length of b − a along the direction of a third form. Inputs: a, b, axis.
/// Errors: kNeedsPlace, kNeedsDirection.
[[nodiscard]] MeasurandResult along(const Form& a, const Form& b, const Form& axis);
/// Signed distance of a place from a plane (or circle's plane), positive on its positive side.
/// Errors: kNeedsPlace, kNeedsPlane.
[[nodiscard]] MeasurandResult offset_plane(const Form& place, const Form& plane);
/// Distance of two forms that run along each other, between the middles of both, across the mean of
/// both directions: two planes (circles by theirs), two lines (cylinders by their axes), a line and
/// a plane. Errors: kGapNeedsStraight, kGapNotParallel (beyond 10°).
[[nodiscard]] MeasurandResult gap(const Form& a, const Form& b);

/// 0 to π/2 between lines and axes, between planes and circles' planes, or of a line from a plane.
/// Errors: kAngleNeedsDirection.
[[nodiscard]] MeasurandResult angle_between(const Form& a, const Form& b);
/// 0 to π at `vertex` between the directions to two places. Errors: kNeedsPlace,
/// kAxisWithoutLength.
[[nodiscard]] MeasurandResult angle_at(const Form& first, const Form& vertex, const Form& second);
/// The full angle at the apex. Errors: kNeedsCone.
[[nodiscard]] MeasurandResult cone_angle(const Form& cone);

/// Of a circle, sphere or cylinder. Errors: kNeedsRound.
[[nodiscard]] MeasurandResult radius(const Form& form);
[[nodiscard]] MeasurandResult diameter(const Form& form);

/// Sum of the distances from place to place, n ≥ 2. Errors: kChainTooShort, kNeedsPlace.
[[nodiscard]] MeasurandResult chain_length(std::span<const Form> places);
/// Along the circle between two places (their directions from its centre), by way of `via` or else
/// the shorter way. Inputs: circle, from, to and via if given.
/// Errors: kNeedsCircle, kNeedsPlace, kArcPointAtCentre, kArcHalfTurn, kArcViaAtEnd.
[[nodiscard]] MeasurandResult arc_length(const Form& circle, const Form& from, const Form& to,
                                         const Form* via = nullptr);

/// Spacing of n ≥ 3 places in a row, in their order: least squares along the straight line that
/// fits them best. Errors: kRowTooShort, kRowInOnePlace, kNeedsPlace.
[[nodiscard]] MeasurandResult row_pitch(std::span<const Form> places);
/// The largest departure of the row from equal spacing, along it, ≥ 0; `at` and `note` say where.
[[nodiscard]] MeasurandResult row_departure(std::span<const Form> places);

/// Area inside n ≥ 3 places in their order, closed: half the length of their vector area.
/// Errors: kOutlineTooFew, kOutlineWithoutArea, kOutlineCrossesItself, kNeedsPlace.
[[nodiscard]] MeasurandResult outline_area(std::span<const Form> places);

/// The model's own axes: z from the plane, x along the line laid into the plane, from the origin.
struct AxesForms {
  Form plane, line, origin;
};
enum class AxisName { kX, kY, kZ };
/// Signed coordinate of a place in the model's axes: z from the plane; x along the line from the
/// origin; y from the line, at right angles to it in the plane (z × x). Inputs: place, plane, line,
/// origin. Errors: kNeedsPlace, kNeedsPlane, kNeedsDirection, kAxesLineAcross.
[[nodiscard]] MeasurandResult ordinate(const Form& place, const AxesForms& axes, AxisName which);

/// ≥ 0: how far the mirror image of `one` lies from `other`. Inputs: one, other, plane.
/// Errors: kNeedsPlace, kNeedsPlane.
[[nodiscard]] MeasurandResult mirror_departure(const Form& one, const Form& other,
                                               const Form& plane);

}  // namespace measure
