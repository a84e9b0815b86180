#include "measure/refine/refined_mark.h"

#include <cmath>

#include "measure/refine/photo_window.h"

namespace measure {

std::string_view word_of(MarkShape shape) {
  switch (shape) {
    case MarkShape::kCorner:
      return "corner";
    case MarkShape::kRound:
      return "round";
    case MarkShape::kCrossing:
      return "crossing";
    case MarkShape::kCross:
      return "cross";
    case MarkShape::kMatch:
      return "match";
  }
  return "";
}

std::optional<MarkShape> shape_of(std::string_view word) {
  for (const MarkShape shape : {MarkShape::kCorner, MarkShape::kRound, MarkShape::kCrossing,
                                MarkShape::kCross, MarkShape::kMatch}) {
    if (word_of(shape) == word) {
      return shape;
    }
  }
  return std::nullopt;
}

double RefinedMark::sigma_px() const { return std::sqrt(0.5 * covariance_px2.trace()); }

std::string_view short_reason(MarkRefusal refusal) {
  switch (refusal) {
    case MarkRefusal::kLeavesPhoto:
      return "too near the photo's border";
    case MarkRefusal::kLowContrast:
      return "hardly stands out";
    case MarkRefusal::kSaturated:
      return "burnt out or black";
    case MarkRefusal::kOtherShape:
      return "something else is there";
    case MarkRefusal::kWouldJump:
      return "lies further off than allowed";
    case MarkRefusal::kOneDirection:
      return "a straight edge, fixed across but not along";
    case MarkRefusal::kAmbiguous:
      return "another place nearby fits nearly as well";
    case MarkRefusal::kTooSmall:
      return "too small";
    case MarkRefusal::kHidden:
      return "outline partly hidden";
    case MarkRefusal::kUnlike:
      return "does not look like the pattern view";
    case MarkRefusal::kPatternLeavesPicture:
      return "too near the pattern view's border";
    case MarkRefusal::kNotPrecise:
      return "worse than half a pixel";
  }
  return "";
}

std::string describe(MarkRefusal refusal, MarkShape shape, std::string_view subject) {
  const std::string name(subject);
  const std::string what = shape == MarkShape::kMatch ? "match" : std::string(word_of(shape));
  switch (refusal) {
    case MarkRefusal::kLeavesPhoto:
      return name + " is too near the border of the photo for a " + what +
             ": mark it by hand, or in another photo.";
    case MarkRefusal::kLowContrast:
      return name +
             " hardly stands out from the noise: mark it by hand, or in a photo with better "
             "light.";
    case MarkRefusal::kSaturated:
      return name +
             " is burnt out or black, and its edges are not where they seem: mark it in a "
             "photo exposed for it.";
    case MarkRefusal::kOtherShape:
      return name + " shows no " + what + ": try another shape, or mark it by hand.";
    case MarkRefusal::kWouldJump:
      return name + " would move further than allowed: set it nearer, or allow a larger radius.";
    case MarkRefusal::kOneDirection:
      return name +
             " lies on something straight, which fixes it across but not along: choose a "
             "place where two edges meet, or mark it by hand.";
    case MarkRefusal::kAmbiguous:
      return name +
             " could be either of two places that fit nearly as well: set it nearer and "
             "allow a smaller radius, or mark it by hand.";
    case MarkRefusal::kTooSmall:
      return name + " is too small in this photo for a " + what + ": mark it in a closer photo.";
    case MarkRefusal::kHidden:
      return name + " shows too little of its outline for a " + what +
             ": mark it by hand, or in a photo that shows it whole.";
    case MarkRefusal::kUnlike:
      return name +
             " does not look like the pattern view here: take a pattern view seen from nearer "
             "this side, or mark it by hand.";
    case MarkRefusal::kPatternLeavesPicture:
      return name + " is too near the border of the pattern view: take another pattern view.";
    case MarkRefusal::kNotPrecise:
      return name + " would be worse than half a pixel: mark it by hand, or in a sharper photo.";
  }
  return name;
}

std::optional<std::string> RefineOptions::first_problem() const {
  if (!(radius_px > 0.0 && radius_px <= 30.0)) {
    return "The radius must be above 0 and at most 30 pixels.";
  }
  if (half_window_px && !(*half_window_px >= 6.0 && *half_window_px <= 60.0)) {
    return "Half the window must be 6 to 60 pixels.";
  }
  if (!(curve.exponent >= 0.5 && curve.exponent <= 4.0 && curve.u >= 0.0 && curve.u <= 1.0)) {
    return "The grey curve's exponent must be 0.5 to 4, its uncertainty at most 1.";
  }
  if (face_normal && !(face_normal->norm() > 0.0 && face_normal->allFinite())) {
    return "The normal of the face must not be zero.";
  }
  return std::nullopt;
}

}  // namespace measure
