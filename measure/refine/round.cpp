#include "measure/refine/round.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>

#include "measure/refine/circle_view.h"
#include "measure/refine/edge_profile.h"
#include "measure/refine/grey_fit.h"
#include "measure/refine/grey_patch.h"
#include "measure/refine/outline.h"

namespace measure {
namespace {

constexpr double kLargestRadius_px = 45.0;
constexpr double kLeastHalfAxis_px = 2.0;
constexpr double kLeastAxisRatio = 0.15;
constexpr double kLeastContrast_grey = 6.0;
constexpr double kLeastContrast_noise = 2.0;
constexpr double kLargestMisfit_contrast = 0.2;
constexpr double kWorst_px = 0.5;
constexpr double kSharpest_px = 0.28;
constexpr int kSectors = 32;
constexpr double kMostHidden = 0.35;
// Noise alike in neighbouring pixels makes sectors uneven up to twice what white noise would.
constexpr double kUsual = 2.0, kMostUneven = 6.0;

// Twelve numbers: centre; shape; ln blur; level with its slopes; step inside with its slopes.
constexpr int kCount = 12;
using Parameters = Eigen::Matrix<double, kCount, 1>;
enum { kX, kY, kXX, kXY, kYY, kLogBlur, kLevel, kLevelX, kLevelY, kStep, kStepX, kStepY };

Ellipse ellipse_of(const Parameters& p) {
  Ellipse ellipse;
  ellipse.centre_px = p.head<2>();
  ellipse.shape_per_px2 << p[kXX], p[kXY], p[kXY], p[kYY];
  return ellipse;
}

bool is_ellipse(const Parameters& p) {
  return p[kXX] > 0.0 && p[kYY] > 0.0 && p[kXX] * p[kYY] - p[kXY] * p[kXY] > 0.0;
}

// Distance outwards from the ellipse, to first order about it; for a circle exact. With s² = the
// quadratic form, it is (s − 1)/|∇s|.
struct OutwardPlace {
  double distance_px = 0.0;
  double s = 1.0;
  Eigen::Vector2d slope_per_px;  // ∇s
};
OutwardPlace outward_place(const Parameters& p, const GreySample& sample) {
  const double x = sample.x - p[kX], y = sample.y - p[kY];
  const double gx = p[kXX] * x + p[kXY] * y, gy = p[kXY] * x + p[kYY] * y;
  OutwardPlace place;
  place.s = std::sqrt(std::max(x * gx + y * gy, 1e-6));
  place.slope_per_px = Eigen::Vector2d(gx, gy) / place.s;
  place.distance_px = (place.s - 1.0) / std::max(place.slope_per_px.norm(), 1e-6);
  return place;
}

double blur_of(const Parameters& p) {
  return std::exp(std::clamp(p[kLogBlur], std::log(kSharpest_px), std::log(20.0)));
}

class RoundModel {
 public:
  RoundModel(const Eigen::Vector2d& middle_px, const EdgeProfile& profile)
      : middle_px_(middle_px), profile_(profile) {}

  double operator()(const Parameters& p, const GreySample& sample, Parameters& row) const {
    const auto place = outward_place(p, sample);
    const double blur_px = blur_of(p);
    const auto light = normal_at(-place.distance_px / blur_px);
    const auto grey = profile_.at(light.part);
    const double dx = sample.x - middle_px_.x(), dy = sample.y - middle_px_.y();
    const double step = p[kStep] + p[kStepX] * dx + p[kStepY] * dy;
    // By the distance outwards; that by the shape, the change of |∇s| is of second order.
    const double by_distance = -step * grey.slope * light.density / blur_px;
    const double by_s = by_distance / std::max(place.slope_per_px.norm(), 1e-6);
    const double x = sample.x - p[kX], y = sample.y - p[kY];
    row << -by_s * place.slope_per_px, by_s * x * x * 0.5 / place.s, by_s * x * y / place.s,
        by_s * y * y * 0.5 / place.s, -by_distance * place.distance_px, 1.0, dx, dy, grey.part,
        dx * grey.part, dy * grey.part;
    return p[kLevel] + p[kLevelX] * dx + p[kLevelY] * dy + step * grey.part;
  }

 private:
  Eigen::Vector2d middle_px_;
  const EdgeProfile& profile_;
};

struct RoundFit {
  GreyFit<kCount> fit;
  std::vector<GreySample> samples;  ///< that were used
  std::vector<GreySample> outline;  ///< with those that were left out
  double hidden = 0.0;              ///< part of the outline that was left out
  int stride = 1;

  [[nodiscard]] double contrast() const { return std::abs(fit.p[kStep]); }
  [[nodiscard]] double misfit_part() const { return fit.misfit / std::max(contrast(), 1e-6); }
};

std::size_t sector_of(const Parameters& p, const GreySample& sample) {
  const auto axes = ellipse_of(p).half_axes_px();
  const Eigen::Vector2d offset = sample.at() - p.head<2>();
  const double angle = std::atan2(axes[1].dot(offset) / axes[1].squaredNorm(),
                                  axes[0].dot(offset) / axes[0].squaredNorm());
  const int sector =
      static_cast<int>(std::floor((angle / (2.0 * std::numbers::pi) + 1.0) * kSectors));
  return static_cast<std::size_t>(sector % kSectors);
}

class RoundFitter {
 public:
  RoundFitter(const GreyPatch& patch, const RefineOptions& options)
      : patch_(patch), options_(options) {}

  [[nodiscard]] calib::Result<RoundFit, MarkRefusal> fit(const Parameters& start) const {
    std::array<bool, kSectors> left_out{};
    Parameters p = start;
    constexpr int kRounds = 4;
    for (int round = 0;; ++round) {
      auto fitted = fit_once(p, left_out);
      if (!fitted) {
        return fitted;
      }
      p = fitted->fit.p;
      if (!is_same_outline(p, start)) {
        return calib::Unexpected(MarkRefusal::kOtherShape);
      }
      const auto bad = bad_sectors(*fitted);
      if (round + 1 == kRounds) {
        // Still more that does not fit: the ellipse follows what covers the outline.
        const auto count = [](const std::array<bool, kSectors>& sectors) {
          return std::count(sectors.begin(), sectors.end(), true);
        };
        return count(bad) > count(left_out) + 3
                   ? calib::Result<RoundFit, MarkRefusal>(calib::Unexpected(MarkRefusal::kHidden))
                   : fitted;
      }
      if (round > 0 && bad == left_out) {
        return fitted;
      }
      left_out = bad;
    }
  }

  // Variance of the sectors' shifts over what the noise explains: 1 for an ellipse, more where the
  // outline is none, or where something that covers it was taken for outline.
  [[nodiscard]] double unevenness(const RoundFit& round) const {
    const SectorSums sums = sector_sums(round.fit.p, round.samples);
    double by_shift = 0.0, left = 0.0, samples = 0.0;
    int sectors = 0;
    for (std::size_t i = 0; i < kSectors; ++i) {
      if (sums.square[i] > 0.0) {
        by_shift += sums.product[i] * sums.product[i] / sums.square[i];
        left += sums.left[i];
        samples += sums.count[i];
        ++sectors;
      }
    }
    constexpr int kShape = 5;  // numbers of an ellipse
    const double noise = (left - by_shift) / std::max(samples - sectors - kCount + kShape, 1.0);
    return sectors > kShape ? by_shift / (sectors - kShape) / std::max(noise, 0.01) : 1e9;
  }

  [[nodiscard]] Eigen::Matrix2d covariance(const RoundFit& round) const {
    const Parameters& p = round.fit.p;
    const EdgeProfile profile = profile_of(p, options_.curve.exponent);
    const EdgeProfile other = profile_of(p, options_.curve.exponent + options_.curve.u);
    const RoundModel model(p.head<2>(), profile);
    return place_covariance(
        round.samples, round.fit, model,
        [&](const GreySample& sample) {
          const double part = normal_at(-outward_place(p, sample).distance_px / blur_of(p)).part;
          return p[kStep] * (other.at(part).part - profile.at(part).part);
        },
        round.stride);
  }

 private:
  static EdgeProfile profile_of(const Parameters& p, double exponent) {
    return {p[kLevel], p[kLevel] + p[kStep], exponent};
  }

  // The fit sharpens an outline; one that wandered off has lost it.
  static bool is_same_outline(const Parameters& p, const Parameters& start) {
    const auto now = ellipse_of(p).half_axes_px(), before = ellipse_of(start).half_axes_px();
    const double furthest_px = std::max(3.0, 0.25 * before[0].norm());
    return (p.head<2>() - start.head<2>()).norm() < furthest_px &&
           std::abs(now[0].norm() - before[0].norm()) < furthest_px &&
           std::abs(now[1].norm() - before[1].norm()) < furthest_px;
  }

  [[nodiscard]] calib::Result<RoundFit, MarkRefusal> fit_once(
      const Parameters& start, const std::array<bool, kSectors>& left_out) const {
    RoundFit result;
    const auto axes = ellipse_of(start).half_axes_px();
    if (!is_ellipse(start) || axes[1].norm() < kLeastHalfAxis_px ||
        axes[0].norm() > 1.5 * kLargestRadius_px) {
      return calib::Unexpected(axes[1].norm() < kLeastHalfAxis_px ? MarkRefusal::kTooSmall
                                                                  : MarkRefusal::kOtherShape);
    }
    const double band_px = 3.5 * blur_of(start) + 1.5;
    const double reach_px = axes[0].norm() + band_px;
    const Eigen::Vector2d middle_px = start.head<2>();
    if (!patch_.holds(middle_px, axes[0].norm() + 2.0)) {
      return calib::Unexpected(MarkRefusal::kLeavesPhoto);
    }
    constexpr double kMostPixels = 4000.0;
    const double area = std::numbers::pi * (axes[0].norm() + axes[1].norm()) * 2.0 * band_px;
    result.stride = std::max(1, static_cast<int>(std::ceil(std::sqrt(area / kMostPixels))));
    const int x0 = std::max(patch_.x0(), static_cast<int>(std::floor(middle_px.x() - reach_px)));
    const int x1 = std::min(patch_.x1(), static_cast<int>(std::ceil(middle_px.x() + reach_px)));
    const int y0 = std::max(patch_.y0(), static_cast<int>(std::floor(middle_px.y() - reach_px)));
    const int y1 = std::min(patch_.y1(), static_cast<int>(std::ceil(middle_px.y() + reach_px)));
    for (int y = y0; y <= y1; y += result.stride) {
      for (int x = x0; x <= x1; x += result.stride) {
        const GreySample sample{x, y, patch_.pixel(x, y)};
        if (std::abs(outward_place(start, sample).distance_px) <= band_px) {
          result.outline.push_back(sample);
          if (!left_out[sector_of(start, sample)]) {
            result.samples.push_back(sample);
          }
        }
      }
    }
    const EdgeProfile profile = profile_of(start, options_.curve.exponent);
    GreyFitOptions<kCount> fit_options;
    fit_options.prior_sigma[kLogBlur] = 1.0;
    const double change = 0.5 * std::max(std::abs(start[kStep]), 5.0) / reach_px;
    for (const int i : {kLevelX, kLevelY, kStepX, kStepY}) {
      fit_options.prior_sigma[i] = change;
    }
    auto fitted =
        fit_grey<kCount>(result.samples, start, RoundModel(middle_px, profile), fit_options);
    if (!fitted || !is_ellipse(fitted->p)) {
      return calib::Unexpected(MarkRefusal::kOtherShape);
    }
    result.fit = *fitted;
    Parameters& p = result.fit.p;
    const Eigen::Vector2d moved = p.head<2>() - middle_px;
    p[kLevel] += p[kLevelX] * moved.x() + p[kLevelY] * moved.y();
    p[kStep] += p[kStepX] * moved.x() + p[kStepY] * moved.y();
    result.hidden =
        static_cast<double>(std::count(left_out.begin(), left_out.end(), true)) / kSectors;
    return result;
  }

  // How far the outline lies off the ellipse in each sector, by least squares.
  struct SectorSums {
    std::array<double, kSectors> product{}, square{}, left{}, count{};
    [[nodiscard]] double shift_px(std::size_t i) const { return product[i] / square[i]; }
  };
  [[nodiscard]] SectorSums sector_sums(const Parameters& p,
                                       const std::vector<GreySample>& samples) const {
    SectorSums sums;
    const EdgeProfile profile = profile_of(p, options_.curve.exponent);
    for (const GreySample& sample : samples) {
      const auto light = normal_at(-outward_place(p, sample).distance_px / blur_of(p));
      const auto grey = profile.at(light.part);
      const double dx = sample.x - p[kX], dy = sample.y - p[kY];
      const double local = p[kStep] + p[kStepX] * dx + p[kStepY] * dy;
      const double residual =
          sample.grey - (p[kLevel] + p[kLevelX] * dx + p[kLevelY] * dy + local * grey.part);
      const double by_shift = local * grey.slope * light.density / blur_of(p);
      const std::size_t sector = sector_of(p, sample);
      sums.product[sector] += residual * by_shift;
      sums.square[sector] += by_shift * by_shift;
      sums.left[sector] += residual * residual;
      sums.count[sector] += 1.0;
    }
    return sums;
  }

  // Sectors of the outline where the step is not there, lies elsewhere than the ellipse, or where
  // something else is in sight, with their neighbours into which it is blurred.
  [[nodiscard]] std::array<bool, kSectors> bad_sectors(const RoundFit& round) const {
    const Parameters& p = round.fit.p;
    const auto axes = ellipse_of(p).half_axes_px();
    const double across_px = std::min(1.5 * blur_of(p) + 1.0, 0.8 * axes[1].norm());
    std::array<double, kSectors> step{};
    for (std::size_t i = 0; i < kSectors; ++i) {
      constexpr int kRays = 5;
      for (int k = 0; k < kRays; ++k) {
        const double t = 2.0 * std::numbers::pi * (double(i) + (k + 0.5) / kRays) / kSectors;
        const Eigen::Vector2d offset = std::cos(t) * axes[0] + std::sin(t) * axes[1];
        const Eigen::Vector2d outward =
            (ellipse_of(p).shape_per_px2 * offset).normalized() * across_px;
        step[i] += (patch_.between(p.head<2>() + offset - outward) -
                    patch_.between(p.head<2>() + offset + outward)) /
                   (kRays * p[kStep]);
      }
    }
    const SectorSums sums = sector_sums(p, round.outline);
    std::vector<double> misfits;
    for (std::size_t i = 0; i < kSectors; ++i) {
      if (sums.square[i] > 0.0) {
        misfits.push_back(sums.left[i] / sums.count[i]);
      }
    }
    std::array<bool, kSectors> bad{};
    if (misfits.empty()) {
      return bad;
    }
    const auto median = [](std::vector<double>& values) {
      const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
      std::nth_element(values.begin(), middle, values.end());
      return *middle;
    };
    // Of the noise, not of the shifts: an ellipse that fits nowhere shifts everywhere.
    const double noise = std::sqrt(median(misfits));
    constexpr double kMisfitFactor = 3.0;
    const double limit_square =
        std::max(kMisfitFactor * kMisfitFactor * noise * noise, 0.01 * p[kStep] * p[kStep]);
    for (std::size_t i = 0; i < kSectors; ++i) {
      const bool seen = sums.square[i] > 0.0;
      const bool is_bad =
          step[i] < 0.4 || !seen ||
          std::abs(sums.shift_px(i)) > 0.3 + 4.0 * noise / std::sqrt(sums.square[i]) ||
          sums.left[i] / sums.count[i] > limit_square;
      if (is_bad) {
        bad[i] = true;
        bad[(i + 1) % kSectors] = true;
        bad[(i + kSectors - 1) % kSectors] = true;
      }
    }
    return bad;
  }

  const GreyPatch& patch_;
  const RefineOptions& options_;
};

double distance_to(const std::vector<Eigen::Vector2d>& outline, const Eigen::Vector2d& centre) {
  double sum = 0.0;
  for (const auto& point : outline) {
    sum += (point - centre).norm();
  }
  return sum / static_cast<double>(outline.size());
}

// A. Fitzgibbon, M. Pilu & R. Fisher, IEEE TPAMI 21(5), 1999, as OpenCV has it.
std::optional<Parameters> ellipse_through(const std::vector<Eigen::Vector2d>& points_px,
                                          const Eigen::Vector2d& near_px) {
  std::vector<cv::Point2f> points;
  for (const auto& point : points_px) {
    points.emplace_back(static_cast<float>(point.x() - near_px.x()),
                        static_cast<float>(point.y() - near_px.y()));
  }
  if (points.size() < kOutlineRays / 2) {
    return std::nullopt;
  }
  const cv::RotatedRect box = cv::fitEllipseDirect(points);
  const double angle = static_cast<double>(box.angle) * std::numbers::pi / 180.0;
  const double a = 0.5 * static_cast<double>(box.size.width);
  const double b = 0.5 * static_cast<double>(box.size.height);
  if (!(a > 0.5 && b > 0.5 && a < 200.0 && b < 200.0)) {
    return std::nullopt;
  }
  const double c = std::cos(angle), s = std::sin(angle);
  Parameters p = Parameters::Zero();
  p[kX] = static_cast<double>(box.center.x) + near_px.x();
  p[kY] = static_cast<double>(box.center.y) + near_px.y();
  p[kXX] = c * c / (a * a) + s * s / (b * b);
  p[kXY] = c * s * (1.0 / (a * a) - 1.0 / (b * b));
  p[kYY] = s * s / (a * a) + c * c / (b * b);
  return p;
}

std::vector<Eigen::Vector2d> points_on(const Parameters& p,
                                       const std::vector<Eigen::Vector2d>& points_px) {
  constexpr double kNear_px = 1.0;
  std::vector<Eigen::Vector2d> on;
  for (const auto& point : points_px) {
    const Eigen::Vector2d offset = point - p.head<2>();
    const Eigen::Vector2d slope = ellipse_of(p).shape_per_px2 * offset;
    const double s = std::sqrt(std::max(offset.dot(slope), 1e-6));
    if (std::abs(s - 1.0) < kNear_px * slope.norm() / s) {
      on.push_back(point);
    }
  }
  return on;
}

// An ellipse through the outline. Where something lies before a part of it, an ellipse through the
// other three quarters has more points on it than one through all.
std::optional<Parameters> start_of(const GreyPatch& patch, const Outline& outline) {
  const auto& all = outline.points_px;
  constexpr std::size_t kQuarter = kOutlineRays / 4, kEighth = kOutlineRays / 8;
  std::vector<Eigen::Vector2d> points;
  for (std::size_t turn = 0; turn <= kOutlineRays / kEighth; ++turn) {
    std::vector<Eigen::Vector2d> part = all;
    if (turn > 0) {
      std::rotate(part.begin(), part.begin() + static_cast<std::ptrdiff_t>((turn - 1) * kEighth),
                  part.end());
      part.resize(kOutlineRays - kQuarter);
    }
    if (const auto fitted = ellipse_through(part, all.front())) {
      auto on = points_on(*fitted, all);
      if (on.size() > points.size()) {
        points = std::move(on);
      }
    }
    if (turn == 0 && points.size() > kOutlineRays * 9 / 10) {
      break;
    }
  }
  const auto through = ellipse_through(points, all.front());
  if (!through) {
    return std::nullopt;
  }
  Parameters p = *through;
  const Ellipse ellipse = ellipse_of(p);
  const auto axes = ellipse.half_axes_px();
  double inside = 0.0, outside = 0.0;
  constexpr int kPoints = 24;
  for (int i = 0; i < kPoints; ++i) {
    const double t = 2.0 * std::numbers::pi * i / kPoints;
    const Eigen::Vector2d offset = std::cos(t) * axes[0] + std::sin(t) * axes[1];
    const Eigen::Vector2d outward = (ellipse.shape_per_px2 * offset).normalized();
    inside +=
        patch.between(ellipse.centre_px + offset - std::min(2.5, 0.7 * axes[1].norm()) * outward) /
        kPoints;
    outside += patch.between(ellipse.centre_px + offset + 2.5 * outward) / kPoints;
  }
  p[kLogBlur] = std::log(1.2);
  p[kLevel] = outside;
  p[kStep] = inside - outside;
  return p;
}

std::optional<MarkRefusal> refusal_of(const RoundFit& round) {
  if (round.contrast() < std::max(kLeastContrast_grey, kLeastContrast_noise * round.fit.misfit)) {
    return MarkRefusal::kLowContrast;
  }
  if (round.hidden > kMostHidden) {
    return MarkRefusal::kHidden;
  }
  if (clipped_part(round.samples) > kMostClipped) {
    return MarkRefusal::kSaturated;
  }
  const auto axes = ellipse_of(round.fit.p).half_axes_px();
  if (axes[1].norm() < kLeastHalfAxis_px) {
    return MarkRefusal::kTooSmall;
  }
  if (!round.fit.settled || axes[1].norm() < kLeastAxisRatio * axes[0].norm() ||
      round.misfit_part() > kLargestMisfit_contrast ||
      blur_of(round.fit.p) > 0.7 * axes[1].norm() + 0.5) {
    return MarkRefusal::kOtherShape;
  }
  return std::nullopt;
}

// Puts the circle's centre in the place of the ellipse's, or widens the covariance by the shift.
void correct_centre(const PhotoWindow& photo, const RefineOptions& options, const Ellipse& ellipse,
                    RefinedMark& mark) {
  const auto axes = ellipse.half_axes_px();
  if (options.camera) {
    const auto views = circle_views(*options.camera, ellipse);
    if (views && options.face_normal) {
      // A normal that contradicts the outline is no guide: 25° covers a face known roughly.
      constexpr double kAgree = 0.906;
      const Eigen::Vector3d normal = options.face_normal->normalized();
      const double agree =
          std::max(std::abs(normal.dot(views->normal[0])), std::abs(normal.dot(views->normal[1])));
      const auto centre = circle_centre_px(*options.camera, ellipse, normal);
      if (agree > kAgree && centre) {
        mark.position_px = *centre;
        mark.eccentricity = Eccentricity::kCorrected;
        return;
      }
    }
    if (views) {
      mark.position_px = 0.5 * (views->centre_px[0] + views->centre_px[1]);
      const Eigen::Vector2d half = 0.5 * (views->centre_px[0] - views->centre_px[1]);
      mark.covariance_px2 += half * half.transpose();
      mark.eccentricity = Eccentricity::kEitherSide;
      return;
    }
  }
  // To first order the shift is a·b·sin(tilt)/f along the shorter axis, with cos(tilt) = b/a.
  constexpr double kShortLens = 0.7;
  const double longer_side_px =
      std::max(photo.pixels.cols + photo.offset_px.x(), photo.pixels.rows + photo.offset_px.y());
  const double a = axes[0].norm(), b = axes[1].norm();
  const double shift_px =
      a * b * std::sqrt(std::max(1.0 - b * b / (a * a), 0.0)) / (kShortLens * longer_side_px);
  const Eigen::Vector2d shift = shift_px * axes[1].normalized();
  mark.covariance_px2 += shift * shift.transpose();
  mark.eccentricity = Eccentricity::kNoCamera;
}

}  // namespace

Refinement refine_round(const PhotoWindow& photo, const Eigen::Vector2d& position_px,
                        const RefineOptions& options) {
  const double largest_px = options.half_window_px.value_or(kLargestRadius_px);
  const GreyPatch patch(photo, position_px, options.radius_px + largest_px + 10.0);
  if (!patch.holds(position_px, 5.0)) {
    return calib::Unexpected(MarkRefusal::kLeavesPhoto);
  }
  // Small outlines first: in a large window clutter further out can outweigh them.
  struct Candidate {
    Parameters start;
    double step;
  };
  std::vector<Candidate> candidates;
  double strongest = 0.0;
  for (const double part : {0.22, 0.45, 1.0}) {
    for (const double rising : {-1.0, 1.0}) {
      Eigen::Vector2d place_px = position_px;
      std::optional<Parameters> start;
      double step = 0.0;
      // Seen from its own middle an outline is smoother: twice.
      for (int round = 0; round < 2; ++round) {
        const Outline outline =
            outline_about(patch, place_px, std::max(6.0, part * largest_px), rising);
        step = std::abs(outline.step);
        strongest = std::max(strongest, step);
        start = start_of(patch, outline);
        if (!start || distance_to(outline.points_px, start->head<2>()) > largest_px) {
          start.reset();
          break;
        }
        place_px = start->head<2>();
      }
      if (start && (place_px - position_px).norm() <= options.radius_px + 3.0) {
        const bool known =
            std::any_of(candidates.begin(), candidates.end(), [&](const Candidate& candidate) {
              const auto alike = [&](int i) {
                return std::abs(candidate.start[i] / (*start)[i] - 1.0) < 0.2;
              };
              return (candidate.start.head<2>() - start->head<2>()).norm() < 1.0 && alike(kXX) &&
                     alike(kYY) && candidate.start[kStep] * (*start)[kStep] > 0.0;
            });
        if (!known) {
          candidates.push_back({*start, step});
        }
      }
    }
  }
  if (strongest < 0.5 * kLeastContrast_grey) {
    return calib::Unexpected(MarkRefusal::kLowContrast);
  }
  std::sort(candidates.begin(), candidates.end(),
            [](const Candidate& a, const Candidate& b) { return a.step > b.step; });
  constexpr std::size_t kMostFits = 4;
  candidates.resize(std::min(candidates.size(), kMostFits));

  const RoundFitter fitter(patch, options);
  std::vector<RoundFit> good;
  MarkRefusal why = MarkRefusal::kOtherShape;
  bool explained = false;
  for (const Candidate& candidate : candidates) {
    auto fitted = fitter.fit(candidate.start);
    auto refusal = fitted ? refusal_of(*fitted) : fitted.error();
    if (!refusal && fitter.unevenness(*fitted) > kMostUneven) {
      refusal = fitted->hidden > 0.0 ? MarkRefusal::kHidden : MarkRefusal::kOtherShape;
    }
    if (!refusal) {
      if ((fitted->fit.p.head<2>() - position_px).norm() > options.radius_px) {
        why = MarkRefusal::kWouldJump;
        explained = true;
        continue;
      }
      good.push_back(std::move(*fitted));
    } else if (!explained) {
      why = *refusal;  // of the strongest outline
      explained = true;
    }
  }
  if (good.empty()) {
    return calib::Unexpected(why);
  }
  std::sort(good.begin(), good.end(),
            [](const RoundFit& a, const RoundFit& b) { return a.misfit_part() < b.misfit_part(); });
  const RoundFit& best = good.front();
  for (const RoundFit& other : good) {
    // Rings about one centre agree; rims at different depths do not.
    if (other.misfit_part() < 1.3 * best.misfit_part() &&
        (other.fit.p.head<2>() - best.fit.p.head<2>()).norm() > 1.0) {
      return calib::Unexpected(MarkRefusal::kAmbiguous);
    }
  }
  const Ellipse ellipse = ellipse_of(best.fit.p);
  RefinedMark mark;
  mark.shape = MarkShape::kRound;
  mark.position_px = ellipse.centre_px;
  mark.covariance_px2 = fitter.covariance(best) * std::max(1.0, fitter.unevenness(best) / kUsual) +
                        Eigen::Matrix2d::Identity() * (kBeyondNoise_px * kBeyondNoise_px);
  mark.drawing = DrawnEllipse{ellipse.centre_px, ellipse.half_axes_px()};
  mark.contrast = best.contrast();
  mark.misfit = best.fit.misfit;
  mark.blur_px = blur_of(best.fit.p);
  correct_centre(photo, options, ellipse, mark);
  if (!(mark.sigma_px() < kWorst_px)) {
    return calib::Unexpected(MarkRefusal::kNotPrecise);
  }
  return mark;
}

}  // namespace measure
