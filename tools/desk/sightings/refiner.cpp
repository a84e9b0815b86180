#include "tools/desk/sightings/refiner.h"

#include <QCoreApplication>
#include <QLocale>
#include <algorithm>
#include <cmath>

#include <Eigen/Cholesky>

#include "measure/live/predict.h"
#include "measure/refine/refine_mark.h"

namespace desk {
namespace {

struct Words {
  Q_DECLARE_TR_FUNCTIONS(desk::Sightings)
};

measure::MarkShape shape_of(RefineAs as) {
  switch (as) {
    case RefineAs::kRound:
      return measure::MarkShape::kRound;
    case RefineAs::kCrossing:
      return measure::MarkShape::kCrossing;
    case RefineAs::kCross:
      return measure::MarkShape::kCross;
    case RefineAs::kMatch:
      return measure::MarkShape::kMatch;
    case RefineAs::kAsItLooks:
    case RefineAs::kCorner:
    case RefineAs::kNot:
      break;
  }
  return measure::MarkShape::kCorner;
}

RefineAnswer answer(measure::RefinedMark mark, const RefineQuestion& question) {
  RefineAnswer found;
  found.moved_px = (mark.position_px - question.position_px).norm();
  found.mark = std::move(mark);
  return found;
}

// What refine_where_trusted asks of a match (measure/refine/refine_mark.cpp).
constexpr double kTrustedSigma_px = 0.15;
constexpr double kTrustedLikeness = 0.85;

/// The place itself, seen from two directions, is not the same to better than this: edges are
/// round, bolts stand proud. px, standard deviation; common practice, no source.
constexpr double kPlaceItself_px = 0.4;
/// χ² of two degrees of freedom, 99.9 %: −2 ln 0.001.
constexpr double kChiSquare999 = 13.816;

}  // namespace

QString word_of(RefineAs as) {
  switch (as) {
    case RefineAs::kAsItLooks:
      return Words::tr("as it looks");
    case RefineAs::kCorner:
      return Words::tr("corner");
    case RefineAs::kRound:
      return Words::tr("round");
    case RefineAs::kCrossing:
      return Words::tr("crossing");
    case RefineAs::kCross:
      return Words::tr("cross");
    case RefineAs::kMatch:
      return Words::tr("match");
    case RefineAs::kNot:
      return Words::tr("not at all");
  }
  return {};
}

QString shape_word(measure::MarkShape shape) {
  switch (shape) {
    case measure::MarkShape::kCorner:
      return word_of(RefineAs::kCorner);
    case measure::MarkShape::kRound:
      return word_of(RefineAs::kRound);
    case measure::MarkShape::kCrossing:
      return word_of(RefineAs::kCrossing);
    case measure::MarkShape::kCross:
      return word_of(RefineAs::kCross);
    case measure::MarkShape::kMatch:
      return word_of(RefineAs::kMatch);
  }
  return {};
}

Refined refine_as_asked(const RefineQuestion& question) {
  const measure::PatternView* pattern =
      question.patterns.empty() ? nullptr : &question.patterns.front();
  const std::string subject = question.subject.toStdString();
  if (question.as == RefineAs::kAsItLooks) {
    auto chosen = measure::refine_where_trusted(question.window, question.position_px,
                                                question.options, pattern);
    if (chosen.mark) return answer(std::move(*chosen.mark), question);
    // Where no shape says anything else, the next pattern views have a say.
    for (std::size_t other = 1; other < question.patterns.size() && !chosen.contradiction;
         ++other) {
      auto match = measure::refine_match(question.window, question.position_px,
                                         question.patterns[other], question.options);
      if (match && match->sigma_px() < kTrustedSigma_px && match->likeness > kTrustedLikeness) {
        return answer(std::move(*match), question);
      }
    }
    return calib::Unexpected(RefineRefusal{chosen.contradiction
                                               ? Words::tr("fits two shapes at different places")
                                               : Words::tr("no shape fits that could be trusted"),
                                           QString::fromStdString(chosen.why_not(subject))});
  }
  if (question.as == RefineAs::kMatch && !pattern) {
    return calib::Unexpected(
        RefineRefusal{Words::tr("no pattern view yet"),
                      Words::tr("There is no pattern view yet: mark the point in another photo "
                                "and take that view as pattern.")});
  }
  const measure::MarkShape shape = shape_of(question.as);
  auto refined =
      measure::refine_as(shape, question.window, question.position_px, question.options, pattern);
  if (refined) return answer(std::move(*refined), question);
  return calib::Unexpected(
      RefineRefusal{QString::fromUtf8(measure::short_reason(refined.error()).data(),
                                      qsizetype(measure::short_reason(refined.error()).size())),
                    QString::fromStdString(measure::describe(refined.error(), shape, subject))});
}

double search_radius_px(const Prediction& prediction) {
  const double semi_major = measure::confidence_ellipse(prediction.covariance_px2).semi_major;
  return std::clamp(1.3 * semi_major + 3 * kPlaceItself_px, 2.5, 1.3 * kLargestTrustedEllipse_px);
}

QString disagreement(const Prediction& prediction, const RefineAnswer& answer) {
  const Eigen::Vector2d off = answer.mark.position_px - prediction.position_px;
  const Eigen::Matrix2d covariance =
      prediction.covariance_px2 + answer.mark.covariance_px2 +
      kPlaceItself_px * kPlaceItself_px * Eigen::Matrix2d::Identity();
  const double distance2 = off.dot(covariance.ldlt().solve(off));
  if (distance2 <= kChiSquare999) return {};
  return Words::tr("what fits lies %1 px off, too far for the prediction")
      .arg(QLocale().toString(off.norm(), 'f', 1));
}

}  // namespace desk
