// What a refinement gives back: a position with its covariance and something to draw, or why not.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include <Eigen/Core>

#include "calib/base/result.h"

namespace measure {

/// What a mark is taken to sit on.
enum class MarkShape {
  kCorner,    ///< a corner of two edges of an object
  kRound,     ///< the centre of a round thing
  kCrossing,  ///< where two straight edges or lines cross, if only when prolonged
  kCross,     ///< the middle of a quartered target, or the inner corner of a checkerboard
  kMatch,     ///< the same place as in a pattern view
};
/// "corner", "round", "crossing", "cross", "match": the word in commands.
[[nodiscard]] std::string_view word_of(MarkShape shape);
[[nodiscard]] std::optional<MarkShape> shape_of(std::string_view word);

struct Segment {
  Eigen::Vector2d from_px, to_px;
};
/// The two edges as they were used, each from end to end. At a corner both begin in it.
struct DrawnEdges {
  std::array<Segment, 2> edge;
};
/// centre + half_axis[0] cos t + half_axis[1] sin t.
struct DrawnEllipse {
  Eigen::Vector2d centre_px;  ///< of the ellipse, not of the round thing
  std::array<Eigen::Vector2d, 2> half_axis_px;
};
/// Outline of the pattern's window where it was found.
struct DrawnWindow {
  std::array<Eigen::Vector2d, 4> corner_px;
};
using Drawing = std::variant<DrawnEdges, DrawnEllipse, DrawnWindow>;

/// What was done about the centre of an ellipse not being the picture of the circle's centre.
enum class Eccentricity {
  kNone,       ///< does not arise: no ellipse
  kCorrected,  ///< by the normal of the face
  /// The normal is not known: the position lies between both candidates, the covariance holds both.
  kEitherSide,
  kNoCamera,  ///< nor is the camera: the covariance holds what a short lens would shift
};

/// A refined position. Positions in pixels of the whole photo, whatever part of it was given.
struct RefinedMark {
  MarkShape shape = MarkShape::kCorner;
  Eigen::Vector2d position_px;  ///< (0, 0) is the centre of the top left pixel
  /// From the residuals with their correlation, how well the grey curve is known, and 0.005 px
  /// beyond.
  Eigen::Matrix2d covariance_px2;
  Drawing drawing;
  double contrast = 0.0;  ///< grey values of 255, positive
  double misfit = 0.0;    ///< standard deviation of the residuals, grey values of 255
  double blur_px = 0.0;   ///< standard deviation across the edges; 0 for a match
  Eccentricity eccentricity = Eccentricity::kNone;
  double likeness = 0.0;  ///< of a match: correlation of both windows, at most 1

  /// A coordinate's standard uncertainty: √(trace/2).
  [[nodiscard]] double sigma_px() const;
};

enum class MarkRefusal {
  kLeavesPhoto,           ///< what is needed would not lie wholly in the photo
  kLowContrast,           ///< nothing stands out from the noise
  kSaturated,             ///< too much of it is burnt out or black
  kOtherShape,            ///< something else is there
  kWouldJump,             ///< the best place lies further off than allowed
  kOneDirection,          ///< a straight edge: it fixes the place across, not along
  kAmbiguous,             ///< another place nearby fits nearly as well
  kTooSmall,              ///< too few pixels to fit the shape
  kHidden,                ///< part of the outline is covered or lost in its surroundings
  kUnlike,                ///< the best place does not look like the pattern
  kPatternLeavesPicture,  ///< the window leaves the pattern view
  kNotPrecise,            ///< fitted, but worse than half a pixel
};

/// One clause for a table or a list of reasons: "a straight edge, no corner".
[[nodiscard]] std::string_view short_reason(MarkRefusal refusal);

/// The sentence for a person, with a remedy; subject names photo and item, for example "mark A7 in
/// hauler_03.jpg".
[[nodiscard]] std::string describe(MarkRefusal refusal, MarkShape shape, std::string_view subject);

using Refinement = calib::Result<RefinedMark, MarkRefusal>;

}  // namespace measure
