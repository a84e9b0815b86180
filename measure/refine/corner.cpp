#include "measure/refine/corner.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "measure/refine/edge_profile.h"
#include "measure/refine/grey_fit.h"
#include "measure/refine/grey_patch.h"
#include "measure/refine/lens_bend.h"
#include "measure/refine/wedge.h"

namespace measure {
namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kDegree = kPi / 180.0;
// Sharper than 20° both edges run into one another's blur; blunter than 155° they are one edge.
constexpr double kSharpest_rad = 20.0 * kDegree, kBluntest_rad = 155.0 * kDegree;
constexpr double kFirstWindow_px = 10.0;
constexpr double kLargestMisfit_contrast = 0.2;
constexpr double kLeastContrast_grey = 6.0;
constexpr double kLeastContrast_noise = 2.0;
constexpr double kWorst_px = 0.5;

// Eleven numbers: apex, both directions, ln blur; level with its slopes; step with its slopes.
constexpr int kCount = 11;
using Parameters = Eigen::Matrix<double, kCount, 1>;
enum { kX, kY, kFirst, kSecond, kLogBlur, kLevel, kLevelX, kLevelY, kStep, kStepX, kStepY };

struct Start {
  Eigen::Vector2d apex_px;
  double first_rad = 0.0, opening_rad = 0.0;
  double outside = 0.0, inside = 0.0;
  double explained = -1.0;  ///< part of the variance on the rings
};

constexpr int kAngles = 48;
constexpr std::array<double, 5> kRings_px = {2.5, 4.0, 5.5, 7.0, 8.5};

// The arc that parts the rings best into two brightnesses.
Start best_arc(const GreyPatch& patch, const Eigen::Vector2d& at) {
  static const auto directions = [] {
    std::array<Eigen::Vector2d, kAngles> all;
    for (int i = 0; i < kAngles; ++i) {
      const double angle = 2.0 * kPi * i / kAngles;
      all[static_cast<std::size_t>(i)] = {std::cos(angle), std::sin(angle)};
    }
    return all;
  }();
  constexpr double kRings = static_cast<double>(kRings_px.size());
  std::array<double, kAngles> mean{};
  double sum = 0.0, squares = 0.0;
  for (std::size_t i = 0; i < kAngles; ++i) {
    for (const double radius_px : kRings_px) {
      const double grey = patch.between(at + radius_px * directions[i]);
      mean[i] += grey / kRings;
      squares += grey * grey;
    }
    sum += mean[i];
  }
  constexpr double kTotal = kAngles;
  const double total = squares / kRings - sum * sum / kTotal;
  const int shortest = static_cast<int>(std::ceil(kSharpest_rad / (2.0 * kPi) * kAngles));
  const int longest = static_cast<int>(std::floor(kBluntest_rad / (2.0 * kPi) * kAngles));
  Start best;
  best.apex_px = at;
  double most = 0.0;
  for (int begin = 0; begin < kAngles; ++begin) {
    double inside = 0.0;
    for (int count = 1; count <= longest; ++count) {
      inside += mean[static_cast<std::size_t>((begin + count - 1) % kAngles)];
      if (count < shortest) {
        continue;
      }
      const double outside = sum - inside;
      const double between =
          inside * inside / count + outside * outside / (kTotal - count) - sum * sum / kTotal;
      if (between > most) {
        most = between;
        best.first_rad = 2.0 * kPi * (begin - 0.5) / kAngles;
        best.opening_rad = 2.0 * kPi * count / kAngles;
        best.inside = inside / count;
        best.outside = outside / (kTotal - count);
      }
    }
  }
  best.explained = total > 0.0 ? most / total : -1.0;
  return best;
}

struct CornerFit {
  GreyFit<kCount> fit;
  std::vector<GreySample> samples;
  double window_px = 0.0;

  [[nodiscard]] Eigen::Vector2d apex_px() const { return fit.p.head<2>(); }
  [[nodiscard]] double opening_rad() const { return fit.p[kSecond] - fit.p[kFirst]; }
  [[nodiscard]] double blur_px() const { return std::exp(fit.p[kLogBlur]); }
};

Wedge wedge_of(const Parameters& p, const std::array<double, 2>& bend) {
  return {p.head<2>(), p[kFirst], std::clamp(p[kSecond] - p[kFirst], 0.02, kPi - 0.02),
          std::exp(p[kLogBlur]), bend};
}

// The wedge is set up once for each set of parameters, then asked for every pixel.
class CornerModel {
 public:
  CornerModel(const Eigen::Vector2d& middle_px, const std::array<double, 2>& bend,
              const EdgeProfile& profile, double blur_least_px)
      : middle_px_(middle_px), bend_(bend), profile_(profile), least_(std::log(blur_least_px)) {}

  double operator()(const Parameters& given, const GreySample& sample, Parameters& row) const {
    if (!wedge_ || given != last_) {
      last_ = given;
      Parameters p = given;
      p[kLogBlur] = std::clamp(p[kLogBlur], least_, std::log(20.0));
      wedge_.emplace(wedge_of(p, bend_));
    }
    const auto light = wedge_->at(sample.at());
    const auto grey = profile_.at(light.part);
    const double dx = sample.x - middle_px_.x(), dy = sample.y - middle_px_.y();
    const double step = given[kStep] + given[kStepX] * dx + given[kStepY] * dy;
    row.head<5>() = step * grey.slope * light.slope;
    row.tail<6>() << 1.0, dx, dy, grey.part, dx * grey.part, dy * grey.part;
    return given[kLevel] + given[kLevelX] * dx + given[kLevelY] * dy + step * grey.part;
  }

 private:
  Eigen::Vector2d middle_px_;
  std::array<double, 2> bend_;
  const EdgeProfile& profile_;
  double least_;
  mutable Parameters last_ = Parameters::Zero();
  mutable std::optional<BlurredWedge> wedge_;
};

// The area of a pixel alone blurs by 1/√12 px, and nothing can be sharper than that.
constexpr double kSharpest_px = 0.28;

class CornerFitter {
 public:
  CornerFitter(const GreyPatch& patch, const RefineOptions& options)
      : patch_(patch), options_(options) {}

  [[nodiscard]] std::optional<CornerFit> fit(const Parameters& start, double window_px) const {
    if (!patch_.holds(start.head<2>(), window_px)) {
      return std::nullopt;
    }
    CornerFit result;
    result.window_px = window_px;
    const auto bend = bends(start);
    const BlurredWedge about(wedge_of(start, bend));
    const double band_px = std::max(3.5 * std::exp(start[kLogBlur]) + 3.0, 7.0);
    const Eigen::Vector2d middle_px = start.head<2>();
    for (int y = static_cast<int>(std::ceil(middle_px.y() - window_px));
         y <= middle_px.y() + window_px; ++y) {
      for (int x = static_cast<int>(std::ceil(middle_px.x() - window_px));
           x <= middle_px.x() + window_px; ++x) {
        const Eigen::Vector2d at(x, y);
        if ((at - middle_px).norm() <= window_px && about.nearest_px(at) <= band_px) {
          result.samples.push_back({x, y, patch_.pixel(x, y)});
        }
      }
    }
    const EdgeProfile profile = profile_of(start, options_.curve.exponent);
    const CornerModel model(middle_px, bend, profile, kSharpest_px);
    GreyFitOptions<kCount> fit_options;
    fit_options.prior_sigma[kLogBlur] = 1.0;
    // Light seldom changes by more than half the step over one window.
    const double change = 0.5 * std::max(std::abs(start[kStep]), 5.0) / window_px;
    for (const int i : {kLevelX, kLevelY, kStepX, kStepY}) {
      fit_options.prior_sigma[i] = change;
    }
    auto fitted = fit_grey<kCount>(result.samples, start, model, fit_options);
    if (!fitted) {
      return std::nullopt;
    }
    result.fit = *fitted;
    result.fit.p[kLogBlur] =
        std::clamp(result.fit.p[kLogBlur], std::log(kSharpest_px), std::log(20.0));
    // Level and step stand for the middle of the window: carried on with the apex.
    const Eigen::Vector2d moved = result.apex_px() - middle_px;
    auto& p = result.fit.p;
    p[kLevel] += p[kLevelX] * moved.x() + p[kLevelY] * moved.y();
    p[kStep] += p[kStepX] * moved.x() + p[kStepY] * moved.y();
    return result;
  }

  [[nodiscard]] Eigen::Matrix2d covariance(const CornerFit& corner) const {
    const Parameters& p = corner.fit.p;
    const EdgeProfile profile = profile_of(p, options_.curve.exponent);
    const EdgeProfile other = profile_of(p, options_.curve.exponent + options_.curve.u);
    const auto bend = bends(p);
    const CornerModel model(p.head<2>(), bend, profile, kSharpest_px);
    const BlurredWedge wedge(wedge_of(p, bend));
    return place_covariance(corner.samples, corner.fit, model, [&](const GreySample& sample) {
      const double part = wedge.at(sample.at()).part;
      return p[kStep] * (other.at(part).part - profile.at(part).part);
    });
  }

  // Both arms must be there: the step across each, over that of the whole.
  [[nodiscard]] double weaker_arm(const CornerFit& corner) const {
    const Parameters& p = corner.fit.p;
    double weaker = 1e9;
    for (const int k : {0, 1}) {
      const double angle = k == 0 ? p[kFirst] : p[kSecond];
      const Eigen::Vector2d along(std::cos(angle), std::sin(angle));
      const Eigen::Vector2d inward = Eigen::Vector2d(-along.y(), along.x()) * (k == 0 ? 1.0 : -1.0);
      const double across_px = 1.5 * corner.blur_px() + 1.0;
      // Beyond the blur of the other edge.
      const double begin_px = std::min(across_px / std::tan(0.5 * corner.opening_rad()) + across_px,
                                       0.6 * corner.window_px);
      double sum = 0.0;
      int count = 0;
      for (double t = begin_px; t <= corner.window_px; t += 1.0, ++count) {
        const Eigen::Vector2d at = corner.apex_px() + t * along;
        sum += patch_.between(at + across_px * inward) - patch_.between(at - across_px * inward);
      }
      weaker = std::min(weaker, sum / std::max(count, 1) / p[kStep]);
    }
    return weaker;
  }

 private:
  static EdgeProfile profile_of(const Parameters& p, double exponent) {
    return {p[kLevel], p[kLevel] + p[kStep], exponent};
  }
  [[nodiscard]] std::array<double, 2> bends(const Parameters& p) const {
    return {lens_bend_per_px(options_.camera, p.head<2>(), p[kFirst]),
            lens_bend_per_px(options_.camera, p.head<2>(), p[kSecond])};
  }

  const GreyPatch& patch_;
  const RefineOptions& options_;
};

Start best_start(const GreyPatch& patch, const Eigen::Vector2d& position_px, double radius_px) {
  Start best;
  const int reach = static_cast<int>(std::ceil(radius_px));
  for (int dy = -reach; dy <= reach; ++dy) {
    for (int dx = -reach; dx <= reach; ++dx) {
      const Eigen::Vector2d at = position_px + Eigen::Vector2d(dx, dy);
      if (std::hypot(dx, dy) > radius_px + 0.5 || !patch.holds(at, kRings_px.back())) {
        continue;
      }
      if (const Start start = best_arc(patch, at); start.explained > best.explained) {
        best = start;
      }
    }
  }
  return best;
}

std::optional<MarkRefusal> refusal_of(const CornerFit& corner, const CornerFitter& fitter) {
  const double contrast = std::abs(corner.fit.p[kStep]);
  if (contrast < std::max(kLeastContrast_grey, kLeastContrast_noise * corner.fit.misfit)) {
    return MarkRefusal::kLowContrast;
  }
  if (clipped_part(corner.samples) > kMostClipped) {
    return MarkRefusal::kSaturated;
  }
  if (corner.opening_rad() > kBluntest_rad) {
    return MarkRefusal::kOneDirection;
  }
  if (!corner.fit.settled || corner.opening_rad() < kSharpest_rad ||
      corner.fit.misfit > kLargestMisfit_contrast * contrast ||
      corner.blur_px() > 0.4 * corner.window_px || fitter.weaker_arm(corner) < 0.5) {
    return MarkRefusal::kOtherShape;
  }
  return std::nullopt;
}

}  // namespace

Refinement refine_corner(const PhotoWindow& photo, const Eigen::Vector2d& position_px,
                         const RefineOptions& options) {
  const double largest_px = options.half_window_px.value_or(32.0);
  const GreyPatch patch(photo, position_px, options.radius_px + largest_px + 4.0);
  if (!patch.holds(position_px, kRings_px.back())) {
    return calib::Unexpected(MarkRefusal::kLeavesPhoto);
  }
  const Start start = best_start(patch, position_px, options.radius_px);
  if (std::abs(start.inside - start.outside) < 0.7 * kLeastContrast_grey) {
    return calib::Unexpected(MarkRefusal::kLowContrast);
  }
  Parameters p;
  p << start.apex_px, start.first_rad, start.first_rad + start.opening_rad, std::log(1.2),
      start.outside, 0.0, 0.0, start.inside - start.outside, 0.0, 0.0;
  const CornerFitter fitter(patch, options);
  std::optional<CornerFit> best;
  for (double window_px = std::min(kFirstWindow_px, largest_px);;) {
    // The first window once more about the place found: its pixels follow the wedge.
    auto fit = fitter.fit(best ? best->fit.p : p, window_px);
    if (fit && !best) {
      fit = fitter.fit(fit->fit.p, window_px);
    }
    if (!fit) {
      if (!best) {
        return calib::Unexpected(patch.holds(start.apex_px, window_px) ? MarkRefusal::kOtherShape
                                                                       : MarkRefusal::kLeavesPhoto);
      }
      break;
    }
    // More edge tells more only while the wedge still explains it.
    const bool still = !best || (fit->fit.settled && fit->fit.misfit < 1.15 * best->fit.misfit &&
                                 (fit->apex_px() - best->apex_px()).norm() < 0.5);
    if (!still && !options.half_window_px) {
      break;
    }
    best = std::move(fit);
    if (window_px >= largest_px) {
      break;
    }
    window_px = std::min(1.4 * window_px, largest_px);
  }
  if (const auto refusal = refusal_of(*best, fitter)) {
    return calib::Unexpected(*refusal);
  }
  if ((best->apex_px() - position_px).norm() > options.radius_px) {
    return calib::Unexpected(MarkRefusal::kWouldJump);
  }
  RefinedMark mark;
  mark.shape = MarkShape::kCorner;
  mark.position_px = best->apex_px();
  mark.covariance_px2 =
      fitter.covariance(*best) + Eigen::Matrix2d::Identity() * (kBeyondNoise_px * kBeyondNoise_px);
  mark.contrast = std::abs(best->fit.p[kStep]);
  mark.misfit = best->fit.misfit;
  mark.blur_px = best->blur_px();
  DrawnEdges drawn;
  for (const int k : {0, 1}) {
    const double angle = best->fit.p[k == 0 ? kFirst : kSecond];
    drawn.edge[static_cast<std::size_t>(k)] = {
        mark.position_px,
        mark.position_px + best->window_px * Eigen::Vector2d(std::cos(angle), std::sin(angle))};
  }
  mark.drawing = drawn;
  if (!(mark.sigma_px() < kWorst_px)) {
    return calib::Unexpected(MarkRefusal::kNotPrecise);
  }
  return mark;
}

}  // namespace measure
