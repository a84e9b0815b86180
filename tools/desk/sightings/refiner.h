// The desk's question to the refinement, and what it makes of the answer.
#pragma once

#include <QString>
#include <functional>
#include <vector>

#include "calib/base/result.h"
#include "measure/refine/match.h"
#include "measure/refine/photo_window.h"
#include "measure/refine/refined_mark.h"

namespace desk {

/// What a point is to be refined as.
enum class RefineAs { kAsItLooks, kCorner, kRound, kCrossing, kCross, kMatch, kNot };
inline constexpr int kRefineAsCount = 7;
/// For a person: "as it looks", "corner" …
[[nodiscard]] QString word_of(RefineAs as);
[[nodiscard]] QString shape_word(measure::MarkShape shape);

/// Everything one refinement needs; shares no memory with the widgets, so it may run anywhere.
struct RefineQuestion {
  RefineAs as = RefineAs::kAsItLooks;
  measure::PhotoWindow window;
  Eigen::Vector2d position_px = Eigen::Vector2d::Zero();  ///< clicked or predicted
  measure::RefineOptions options;
  std::vector<measure::PatternView> patterns;  ///< the likest first; several may be tried
  QString subject;  ///< "deck corner in hauler_03.jpg", for the sentence of a refusal
};

struct RefineAnswer {
  measure::RefinedMark mark;
  double moved_px = 0.0;  ///< from the position asked about
};

/// A sentence for a person why the place was left as it is, short enough for the foot of a view.
struct RefineRefusal {
  QString clause;    ///< "hardly stands out"
  QString sentence;  ///< with every reason and the remedy, for the tooltip
};

using Refined = calib::Result<RefineAnswer, RefineRefusal>;
/// Called away from the thread of the widgets.
using Refiner = std::function<Refined(const RefineQuestion&)>;

/// The refinement of measure/refine.
[[nodiscard]] Refined refine_as_asked(const RefineQuestion& question);

/// A prediction that may be taken without a look: where it lies, and what it is worth.
struct Prediction {
  Eigen::Vector2d position_px;
  Eigen::Matrix2d covariance_px2;
};
/// Beyond this semi-axis of the 95 % ellipse another place of the same kind could be meant.
inline constexpr double kLargestTrustedEllipse_px = 10.0;
/// How far from a prediction its refinement may look.
[[nodiscard]] double search_radius_px(const Prediction& prediction);
/// Why the answer cannot be the predicted place; empty where it can: it lies within the ellipse of
/// 99.9 % of prediction, refinement and what the place itself leaves open.
[[nodiscard]] QString disagreement(const Prediction& prediction, const RefineAnswer& answer);

}  // namespace desk
