#include "measure/refine/refine_mark.h"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "measure/refine/corner.h"
#include "measure/refine/cross.h"
#include "measure/refine/crossing.h"
#include "measure/refine/round.h"

namespace measure {
namespace {

constexpr double kTrustedMisfit_contrast = 0.12;
constexpr double kTrustedSigma_px = 0.15;
constexpr double kTrustedLikeness = 0.85;

bool is_trusted(const RefinedMark& mark) {
  if (!(mark.sigma_px() < kTrustedSigma_px)) {
    return false;
  }
  return mark.shape == MarkShape::kMatch ? mark.likeness > kTrustedLikeness
                                         : mark.misfit < kTrustedMisfit_contrast * mark.contrast;
}

// Two shapes that mean the same place differ by their errors only; a rounded corner by a little
// more.
bool agree(const RefinedMark& a, const RefinedMark& b) {
  const double distance_px = (a.position_px - b.position_px).norm();
  return distance_px < 0.3 + 3.0 * std::hypot(a.sigma_px(), b.sigma_px());
}

}  // namespace

Refinement refine_as(MarkShape shape, const PhotoWindow& photo, const Eigen::Vector2d& position_px,
                     const RefineOptions& options, const PatternView* pattern) {
  assert(!options.first_problem());
  switch (shape) {
    case MarkShape::kCorner:
      return refine_corner(photo, position_px, options);
    case MarkShape::kRound:
      return refine_round(photo, position_px, options);
    case MarkShape::kCrossing:
      return refine_crossing(photo, position_px, options);
    case MarkShape::kCross:
      return refine_cross(photo, position_px, options);
    case MarkShape::kMatch:
      assert(pattern != nullptr);
      return refine_match(photo, position_px, *pattern, options);
  }
  return calib::Unexpected(MarkRefusal::kOtherShape);
}

ChosenRefinement refine_where_trusted(const PhotoWindow& photo, const Eigen::Vector2d& position_px,
                                      const RefineOptions& options, const PatternView* pattern) {
  ChosenRefinement chosen;
  for (const MarkShape shape :
       {MarkShape::kCross, MarkShape::kRound, MarkShape::kCorner, MarkShape::kCrossing}) {
    auto refined = refine_as(shape, photo, position_px, options);
    if (!refined) {
      chosen.tried.push_back({shape, refined.error()});
    } else if (!is_trusted(*refined)) {
      chosen.tried.push_back({shape, std::nullopt});
    } else if (!chosen.mark) {
      chosen.mark = std::move(*refined);
      // A quartered target is made to be found, and its quadrants are corners of their own.
      if (shape == MarkShape::kCross) {
        return chosen;
      }
    } else {
      chosen.contradiction = chosen.contradiction || !agree(*chosen.mark, *refined);
      chosen.tried.push_back({shape, std::nullopt});
    }
  }
  if (chosen.contradiction) {
    chosen.tried.push_back({chosen.mark->shape, std::nullopt});
    chosen.mark.reset();
  }
  if (!chosen.mark && pattern != nullptr) {
    auto refined = refine_match(photo, position_px, *pattern, options);
    if (refined && is_trusted(*refined)) {
      chosen.mark = std::move(*refined);
      chosen.contradiction = false;
    } else {
      chosen.tried.push_back(
          {MarkShape::kMatch, refined ? std::nullopt : std::optional(refined.error())});
    }
  }
  return chosen;
}

std::string ChosenRefinement::why_not(std::string_view subject) const {
  std::string text(subject);
  if (contradiction) {
    return text + " fits shapes that say different places: say which it is, or mark it by hand.";
  }
  text += " was left as it is: no ";
  std::string reasons;
  for (const TriedShape& one : tried) {
    reasons += reasons.empty() ? "" : "; no ";
    reasons += std::string(word_of(one.shape)) + " (" +
               std::string(one.refusal ? short_reason(*one.refusal)
                                       : std::string_view("not to be trusted here")) +
               ")";
  }
  return text + reasons + ". Mark it by hand, or say which shape it is.";
}

}  // namespace measure
