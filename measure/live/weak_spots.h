// What is unmeasured or too uncertain, and which mark or new photo would help most: computed, not
// guessed.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/dimension/quantity_text.h"
#include "measure/dossier/dossier.h"

namespace measure {

/// One thing to do, and what it would bring.
struct Help {
  enum class Kind {
    kMark,      ///< mark `point` in `photo`
    kNewPhoto,  ///< take a photo from `camera_position`
    kOrient,    ///< give `photo` the marks it lacks
    kLook,      ///< look at the doubted mark of `point` in `photo`
  };
  Kind kind = Kind::kMark;
  std::string photo, point;
  /// Object frame, in the unit of the survey; the camera looks at the middle of the points it is
  /// for.
  std::optional<Eigen::Vector3d> camera_position, looking_at;
  /// U of the dimension after this and all helps before it in the list (mm or radians); nothing
  /// where it cannot be told yet.
  std::optional<double> predicted_U;
  std::string sentence;
};

struct WeakSpot {
  enum class Kind {
    kDimensionUnmeasured,  ///< no value
    kDimensionWeak,        ///< U above the tolerance
    kPointUnmeasured,      ///< marked or named, and not placed; in no dimension
    kPhotoNotOriented,
    kMarkDoubted,
  };
  Kind kind = Kind::kDimensionWeak;
  std::string dimension, point, photo;  ///< what applies
  std::optional<double> U, tolerance;   ///< mm or radians
  std::string sentence;
  std::vector<Help> helps;  ///< marks: each adds to those before it; then one new photo instead
};

struct WeakSpotOptions {
  double tolerance_mm = 0.1;      ///< of lengths without one of their own: largest U
  double tolerance_rad = 0.0035;  ///< of angles; 0.2°
  double mark_sigma_px = 0.5;     ///< with which new marks would be set, before their group's scale
  std::size_t most_marks = 4;     ///< suggested for one dimension
  TextUnit unit = TextUnit::kMm;  ///< of the lengths in sentences
  std::function<bool()> cancelled = {};
};

/// The list, worst first: what has no value, then by U over tolerance, then the rest.
///
/// Each candidate mark is a row pair J added to the adjustment: with g the gradient of the
/// dimension, var' = var − hᵀS⁻¹h, h = J Q g, S = J Q Jᵀ + σ²I (the update of the Kalman filter).
/// A new photo brings six unknowns of its own, which take their part of S⁻¹ away again. What is
/// predicted is first order and holds while the σ of the marks stay what they are.
/// @param results  evaluate_dimensions() of the same survey and dossier.
[[nodiscard]] std::vector<WeakSpot> find_weak_spots(const Survey& survey, const Dossier& dossier,
                                                    const std::vector<DimensionResult>& results,
                                                    const WeakSpotOptions& options = {});

}  // namespace measure
