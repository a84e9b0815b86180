#include "measure/refine/straight_edge.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <set>

#include <Eigen/LU>
#include <opencv2/imgproc.hpp>

#include "measure/refine/edge_profile.h"
#include "measure/refine/grey_fit.h"
#include "measure/refine/lens_bend.h"

namespace measure {
namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kSharpest_px = 0.28;
constexpr double kLeastContrast_grey = 5.0;
constexpr double kLeastContrast_noise = 1.2;
constexpr double kLargestMisfit_contrast = 0.2;
constexpr double kStation_px = 4.0;
constexpr double kShortest_px = 12.0;

// Nine numbers: offset, direction, ln blur; level with its slopes along and across; the step or
// the line's height with its slope along; for a line the step between its sides.
constexpr int kCount = 9;
using Parameters = Eigen::Matrix<double, kCount, 1>;
enum {
  kOffset,
  kDirection,
  kLogBlur,
  kLevel,
  kLevelAlong,
  kLevelAcross,
  kHeight,
  kHeightAlong,
  kSides
};

struct Frame {
  Eigen::Vector2d origin_px, along, left;
  double bend_per_px = 0.0;
};

class EdgeModel {
 public:
  EdgeModel(const Frame& frame, const EdgeProfile* profile) : frame_(frame), profile_(profile) {}

  struct Place {
    double along_px, across_px;
  };
  // Small turns about the frame's origin: offset and direction are corrections to the frame.
  [[nodiscard]] Place place(const Parameters& p, const GreySample& sample) const {
    const Eigen::Vector2d offset = sample.at() - frame_.origin_px;
    const double t = frame_.along.dot(offset), n = frame_.left.dot(offset);
    if (p[kDirection] != direction_) {
      direction_ = p[kDirection];
      cosine_ = std::cos(direction_), sine_ = std::sin(direction_);
    }
    const double c = cosine_, s = sine_;
    return {c * t + s * n, c * n - s * t - p[kOffset] - 0.5 * frame_.bend_per_px * t * t};
  }

  double operator()(const Parameters& p, const GreySample& sample, Parameters& row) const {
    const auto at = place(p, sample);
    if (p[kLogBlur] != log_blur_) {
      log_blur_ = p[kLogBlur];
      blur_px_ = std::clamp(std::exp(log_blur_), kSharpest_px, 12.0);
    }
    const double blur_px = blur_px_;
    const double x = at.across_px / blur_px;
    const auto light = normal_at(x);
    const double height = p[kHeight] + p[kHeightAlong] * at.along_px;
    double shape = 0.0, by_x = 0.0;  // of the part that the height multiplies
    if (profile_ != nullptr) {
      const auto grey = profile_->at(light.part);
      shape = grey.part;
      by_x = grey.slope * light.density;
    } else {
      shape = std::exp(-0.5 * x * x);
      by_x = -x * shape;
    }
    const double sides = profile_ != nullptr ? 0.0 : p[kSides];
    const double by_across = (height * by_x + sides * light.density) / blur_px + p[kLevelAcross];
    row << -by_across, -by_across * at.along_px, -(height * by_x + sides * light.density) * x, 1.0,
        at.along_px, at.across_px, shape, at.along_px * shape,
        profile_ != nullptr ? 0.0 : light.part;
    return p[kLevel] + p[kLevelAlong] * at.along_px + p[kLevelAcross] * at.across_px +
           height * shape + sides * light.part;
  }

 private:
  Frame frame_;
  const EdgeProfile* profile_;
  // Functions of the parameters, kept from one pixel to the next.
  mutable double direction_ = 0.0, cosine_ = 1.0, sine_ = 0.0;
  mutable double log_blur_ = 0.0, blur_px_ = 1.0;
};

// Mean grey value across the line, half a pixel a step.
struct CrossProfile {
  static constexpr int kHalf = 18;
  std::array<double, 2 * kHalf + 1> mean{};
  static double across_px(int i) { return 0.5 * (i - kHalf); }
};

CrossProfile profile_across(const GreyPatch& patch, const Frame& frame,
                            const std::vector<double>& stations) {
  CrossProfile profile;
  for (int i = 0; i <= 2 * CrossProfile::kHalf; ++i) {
    double sum = 0.0;
    for (const double t : stations) {
      const double bend = 0.5 * frame.bend_per_px * t * t;
      sum += patch.between(frame.origin_px + t * frame.along +
                           (CrossProfile::across_px(i) + bend) * frame.left);
    }
    profile.mean[static_cast<std::size_t>(i)] = sum / static_cast<double>(stations.size());
  }
  return profile;
}

struct KindStart {
  double offset_px = 0.0, height = 0.0, level = 0.0, sides = 0.0;
};

KindStart step_start(const CrossProfile& profile) {
  KindStart start;
  for (int i = 4; i + 4 <= 2 * CrossProfile::kHalf; ++i) {
    const double rise = profile.mean[static_cast<std::size_t>(i + 4)] -
                        profile.mean[static_cast<std::size_t>(i - 4)];
    const bool near = std::abs(CrossProfile::across_px(i)) <= 3.0;
    if (near && std::abs(rise) > std::abs(start.height)) {
      start.height = rise;
      start.offset_px = CrossProfile::across_px(i);
      start.level = profile.mean[static_cast<std::size_t>(i - 4)];
    }
  }
  return start;
}

// Votes come from a line's flanks, which lie up to half its width and a blur off its middle.
KindStart line_start(const CrossProfile& profile) {
  KindStart start;
  constexpr int kSide = 8;
  for (int i = kSide; i + kSide <= 2 * CrossProfile::kHalf; ++i) {
    const double before = profile.mean[static_cast<std::size_t>(i - kSide)];
    const double after = profile.mean[static_cast<std::size_t>(i + kSide)];
    const double height = profile.mean[static_cast<std::size_t>(i)] - 0.5 * (before + after);
    if (std::abs(CrossProfile::across_px(i)) <= 4.5 && std::abs(height) > std::abs(start.height)) {
      start = {CrossProfile::across_px(i), height, before, after - before};
    }
  }
  return start;
}

// The stations at which a step or a line of the commoner sense is there at all: many edges are
// seen on one side of the crossing only.
template <typename Height>
std::vector<double> stations_with(const std::vector<double>& stations, const Height& height) {
  std::vector<double> heights;
  double rising = 0.0, falling = 0.0, largest = 0.0;
  for (const double t : stations) {
    heights.push_back(height(t));
    (heights.back() > 0.0 ? rising : falling) += std::abs(heights.back());
  }
  const double sense = rising >= falling ? 1.0 : -1.0;
  for (const double one : heights) {
    largest = std::max(largest, sense * one);
  }
  std::vector<double> kept;
  for (std::size_t i = 0; i < stations.size(); ++i) {
    if (sense * heights[i] >= 0.4 * largest) {
      kept.push_back(stations[i]);
    }
  }
  return kept;
}

struct KindFit {
  GreyFit<kCount> fit;
  std::vector<GreySample> samples;
  std::vector<double> stations;
};

int station_of(double along_px) { return static_cast<int>(std::floor(along_px / kStation_px)); }

class EdgeFitter {
 public:
  EdgeFitter(const GreyPatch& patch, const Frame& frame, const RefineOptions& options)
      : patch_(patch), frame_(frame), options_(options) {}

  // Fits, leaves out stations that do not fit, and fits again.
  [[nodiscard]] std::optional<KindFit> fit(const KindStart& start, std::vector<double> stations,
                                           bool is_step) const {
    Parameters p = Parameters::Zero();
    p[kOffset] = start.offset_px;
    p[kLogBlur] = std::log(1.2);
    p[kLevel] = start.level;
    p[kHeight] = start.height;
    p[kSides] = is_step ? 0.0 : start.sides;
    constexpr int kRounds = 3;
    for (int round = 0;; ++round) {
      auto fitted = fit_once(p, stations, is_step);
      if (!fitted) {
        return std::nullopt;
      }
      p = fitted->fit.p;
      const auto kept = round + 1 == kRounds ? stations : good_stations(*fitted, is_step);
      // Once more in any case: the band of pixels follows the blur that was found.
      if (round > 0 && kept.size() == stations.size()) {
        return fitted;
      }
      stations = kept;
    }
  }

  [[nodiscard]] Eigen::Matrix2d covariance(const KindFit& edge, bool is_step) const {
    const Parameters& p = edge.fit.p;
    const EdgeProfile profile = profile_of(p, options_.curve.exponent);
    const EdgeProfile other = profile_of(p, options_.curve.exponent + options_.curve.u);
    const EdgeModel model(frame_, is_step ? &profile : nullptr);
    return place_covariance(edge.samples, edge.fit, model, [&](const GreySample& sample) {
      const double blur_px = std::exp(p[kLogBlur]);
      const double part = normal_at(model.place(p, sample).across_px / blur_px).part;
      return is_step ? p[kHeight] * (other.at(part).part - profile.at(part).part) : 0.0;
    });
  }

 private:
  static EdgeProfile profile_of(const Parameters& p, double exponent) {
    return {p[kLevel], p[kLevel] + p[kHeight], exponent};
  }

  [[nodiscard]] std::optional<KindFit> fit_once(const Parameters& start,
                                                const std::vector<double>& stations,
                                                bool is_step) const {
    KindFit result;
    result.stations = stations;
    const EdgeProfile profile = profile_of(start, options_.curve.exponent);
    const EdgeModel model(frame_, is_step ? &profile : nullptr);
    const double band_px = std::min(3.0 * std::exp(start[kLogBlur]) + 2.0, 9.0);
    std::set<int> stations_wanted;
    double reach_px = 0.0;
    for (const double t : stations) {
      stations_wanted.insert(station_of(t));
      reach_px = std::max(reach_px, std::abs(t) + kStation_px + band_px);
    }
    const auto low = [&](int axis) {
      return static_cast<int>(std::floor(frame_.origin_px[axis] - reach_px));
    };
    const auto high = [&](int axis) {
      return static_cast<int>(std::ceil(frame_.origin_px[axis] + reach_px));
    };
    for (int y = std::max(low(1), patch_.y0()); y <= std::min(high(1), patch_.y1()); ++y) {
      for (int x = std::max(low(0), patch_.x0()); x <= std::min(high(0), patch_.x1()); ++x) {
        const GreySample sample{x, y, patch_.pixel(x, y)};
        const auto place = model.place(start, sample);
        if (std::abs(place.across_px) <= band_px &&
            stations_wanted.contains(station_of(place.along_px))) {
          result.samples.push_back(sample);
        }
      }
    }
    GreyFitOptions<kCount> fit_options;
    fit_options.prior_sigma[kLogBlur] = 0.8;
    const double change = 0.5 * std::max(std::abs(start[kHeight]), 5.0);
    fit_options.prior_sigma[kHeightAlong] = change / 20.0;
    fit_options.prior_sigma[kLevelAcross] = change / 10.0;
    if (is_step) {
      fit_options.prior_sigma[kSides] = 1.0;  // plays no part
    }
    auto fitted = fit_grey<kCount>(result.samples, start, model, fit_options);
    if (!fitted) {
      return std::nullopt;
    }
    result.fit = *fitted;
    auto& log_blur = result.fit.p[kLogBlur];
    log_blur = std::clamp(log_blur, std::log(kSharpest_px), std::log(12.0));
    return result;
  }

  // Each stretch by itself: is the step there, and does it lie on the line?
  [[nodiscard]] std::vector<double> good_stations(const KindFit& edge, bool is_step) const {
    const Parameters& p = edge.fit.p;
    const EdgeProfile profile = profile_of(p, options_.curve.exponent);
    const EdgeModel model(frame_, is_step ? &profile : nullptr);
    struct Sums {
      Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
      Eigen::Vector3d right = Eigen::Vector3d::Zero();
    };
    std::map<int, Sums> sums;
    Parameters row;
    for (const GreySample& sample : edge.samples) {
      const double residual = sample.grey - model(p, sample, row);
      auto& sum = sums[station_of(model.place(p, sample).along_px)];
      // A level, a shift and a change of height of its own.
      const Eigen::Vector3d local(1.0, row[kOffset], row[kHeight]);
      sum.normal += local * local.transpose();
      sum.right += local * residual;
    }
    std::map<int, double> shift;
    std::map<int, double> height;
    std::vector<double> sizes;
    for (const auto& [station, sum] : sums) {
      const Eigen::Vector3d own = sum.normal.ldlt().solve(sum.right);
      const bool usable = own.allFinite();
      shift[station] = usable ? own[1] : 1e3;
      height[station] = usable ? 1.0 + own[2] / p[kHeight] : 0.0;
      sizes.push_back(std::abs(shift[station]));
    }
    std::vector<double> kept;
    if (sizes.empty()) {
      return kept;
    }
    const auto middle = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
    std::nth_element(sizes.begin(), middle, sizes.end());
    const double limit_px = std::max(0.25, 5.0 * *middle);
    for (const double t : edge.stations) {
      const int station = station_of(t);
      if (shift.contains(station) && std::abs(shift[station]) <= limit_px &&
          height[station] >= 0.4) {
        kept.push_back(t);
      }
    }
    return kept;
  }

  const GreyPatch& patch_;
  const Frame& frame_;
  const RefineOptions& options_;
};

}  // namespace

Eigen::Vector2d StraightLine::along() const {
  return {std::cos(direction_rad), std::sin(direction_rad)};
}
Eigen::Vector2d StraightLine::left() const {
  return {-std::sin(direction_rad), std::cos(direction_rad)};
}

std::vector<StraightLine> lines_about(const GreyPatch& patch, const Eigen::Vector2d& origin_px,
                                      double half_px, double reach_px) {
  constexpr int kDirections = 90;  // 2° each
  const int half_offsets = static_cast<int>(std::ceil(reach_px)) + 2;
  const int offsets = 2 * half_offsets + 1;
  cv::Mat smooth, slope_x, slope_y;
  cv::GaussianBlur(patch.grey(), smooth, {}, 1.0);
  cv::Sobel(smooth, slope_x, CV_32F, 1, 0, 3, 1.0 / 8.0);
  cv::Sobel(smooth, slope_y, CV_32F, 0, 1, 3, 1.0 / 8.0);
  cv::Mat votes(kDirections, offsets, CV_32F, cv::Scalar(0.0));
  for (int y = 0; y < slope_x.rows; ++y) {
    for (int x = 0; x < slope_x.cols; ++x) {
      const Eigen::Vector2d offset = Eigen::Vector2d(x + patch.x0(), y + patch.y0()) - origin_px;
      const double gx = static_cast<double>(slope_x.at<float>(y, x));
      const double gy = static_cast<double>(slope_y.at<float>(y, x));
      const double size = std::hypot(gx, gy);
      if (offset.norm() > half_px || size < 0.5) {
        continue;
      }
      double direction = std::atan2(gy, gx) + 0.5 * kPi;
      const int middle = static_cast<int>(std::lround(direction / kPi * kDirections));
      for (int spread = -3; spread <= 3; ++spread) {
        const int bin = ((middle + spread) % kDirections + kDirections) % kDirections;
        const double angle = kPi * bin / kDirections;
        const double across = -std::sin(angle) * offset.x() + std::cos(angle) * offset.y();
        const int at = static_cast<int>(std::lround(across)) + half_offsets;
        if (at >= 0 && at < offsets) {
          // The square root, so that one strong edge does not drown a long weak one.
          votes.at<float>(bin, at) +=
              static_cast<float>(std::sqrt(size) * (1.0 - std::abs(spread) / 4.0));
        }
      }
    }
  }
  // Direction wraps around with the offset's sign turned; both flanks of a narrow line count as
  // one.
  const auto vote = [&](int bin, int at) {
    const bool turned = bin < 0 || bin >= kDirections;
    const int row = (bin + kDirections) % kDirections;
    const int column = turned ? offsets - 1 - at : at;
    return column < 0 || column >= offsets ? 0.0
                                           : static_cast<double>(votes.at<float>(row, column));
  };
  std::vector<std::vector<double>> sum(kDirections,
                                       std::vector<double>(static_cast<std::size_t>(offsets)));
  for (int bin = 0; bin < kDirections; ++bin) {
    for (int at = 0; at < offsets; ++at) {
      sum[static_cast<std::size_t>(bin)][static_cast<std::size_t>(at)] =
          vote(bin, at - 1) + vote(bin, at) + vote(bin, at + 1);
    }
  }
  const auto summed = [&](int bin, int at) {
    const bool turned = bin < 0 || bin >= kDirections;
    const int column = turned ? offsets - 1 - at : at;
    return column < 0 || column >= offsets
               ? 0.0
               : sum[static_cast<std::size_t>((bin + kDirections) % kDirections)]
                    [static_cast<std::size_t>(column)];
  };
  std::vector<StraightLine> lines;
  for (int bin = 0; bin < kDirections; ++bin) {
    for (int at = 1; at + 1 < offsets; ++at) {
      const double here = summed(bin, at);
      bool peak = here > 0.0;
      for (int i = -4; i <= 4 && peak; ++i) {
        for (int j = -2; j <= 2 && peak; ++j) {
          const double there = summed(bin + i, at + j);
          peak = here > there || (here == there && (i > 0 || (i == 0 && j >= 0)));
        }
      }
      if (peak && std::abs(at - half_offsets) <= reach_px) {
        lines.push_back(
            {origin_px, kPi * bin / kDirections, static_cast<double>(at - half_offsets), here});
      }
    }
  }
  std::sort(lines.begin(), lines.end(),
            [](const StraightLine& a, const StraightLine& b) { return a.votes > b.votes; });
  constexpr std::size_t kMost = 8;
  lines.resize(std::min(lines.size(), kMost));
  return lines;
}

calib::Result<FittedEdge, MarkRefusal> fit_edge(const GreyPatch& patch, const StraightLine& start,
                                                const EdgeStretch& stretch,
                                                const RefineOptions& options) {
  Frame frame;
  frame.along = start.along();
  frame.left = start.left();
  // The frame's origin: the line's own point nearest to the crossing.
  const double along_px = frame.along.dot(stretch.crossing_px - start.origin_px);
  frame.origin_px = start.origin_px + along_px * frame.along + start.offset_px * frame.left;
  frame.bend_per_px = lens_bend_per_px(options.camera, frame.origin_px, start.direction_rad);
  std::vector<double> stations;
  constexpr double kAcross_px = 9.0;
  for (double t = -stretch.half_px + 0.5 * kStation_px; t < stretch.half_px; t += kStation_px) {
    // Stations lie between multiples of their length, so that each pixel belongs to one.
    const double middle = (std::floor(t / kStation_px) + 0.5) * kStation_px;
    if (std::abs(middle) - 0.5 * kStation_px >= stretch.left_out_px &&
        patch.holds(frame.origin_px + middle * frame.along, kAcross_px)) {
      stations.push_back(middle);
    }
  }
  if (static_cast<double>(stations.size()) * kStation_px < kShortest_px) {
    return calib::Unexpected(MarkRefusal::kLeavesPhoto);
  }
  const auto with_step = stations_with(
      stations, [&](double t) { return step_start(profile_across(patch, frame, {t})).height; });
  const auto with_line = stations_with(
      stations, [&](double t) { return line_start(profile_across(patch, frame, {t})).height; });
  const EdgeFitter fitter(patch, frame, options);
  const KindStart step = step_start(profile_across(patch, frame, with_step));
  const KindStart line = line_start(profile_across(patch, frame, with_line));
  std::optional<KindFit> as_step, as_line;
  // A line is tried where its height is a good part of the step: it has one number more to please
  // with.
  if (std::abs(line.height) > std::max(0.5 * kLeastContrast_grey, 0.4 * std::abs(step.height))) {
    as_line = fitter.fit(line, with_line, false);
  }
  // A clear line between like sides is no step, and need not be tried as one.
  constexpr double kClearMisfit = 0.08, kLikeSides = 0.3;
  const bool is_clear_line =
      as_line && as_line->fit.settled &&
      as_line->fit.misfit < kClearMisfit * std::abs(as_line->fit.p[kHeight]) &&
      std::abs(as_line->fit.p[kSides]) < kLikeSides * std::abs(as_line->fit.p[kHeight]);
  if (!is_clear_line && std::abs(step.height) > 0.5 * kLeastContrast_grey) {
    as_step = fitter.fit(step, with_step, true);
  }
  if (!as_step && !as_line) {
    return calib::Unexpected(MarkRefusal::kLowContrast);
  }
  const auto cost = [](const std::optional<KindFit>& fit) {
    return fit && fit->fit.settled ? fit->fit.misfit / std::sqrt(double(fit->stations.size()))
                                   : 1e9;
  };
  // A broad line with unlike sides can imitate a step: a line has more height than its sides
  // differ.
  if (as_line && std::abs(as_line->fit.p[kHeight]) < 1.5 * std::abs(as_line->fit.p[kSides])) {
    as_line.reset();
  }
  const bool is_step = cost(as_step) <= 1.05 * cost(as_line);
  const auto& best = is_step ? as_step : as_line;
  if (!best || !best->fit.settled) {
    return calib::Unexpected(MarkRefusal::kOtherShape);
  }
  const Parameters& p = best->fit.p;
  FittedEdge edge;
  edge.is_step = is_step;
  edge.contrast = std::abs(p[kHeight]);
  edge.misfit = best->fit.misfit;
  edge.blur_px = std::exp(p[kLogBlur]);
  edge.used_px = static_cast<double>(best->stations.size()) * kStation_px;
  if (edge.contrast < std::max(kLeastContrast_grey, kLeastContrast_noise * edge.misfit)) {
    return calib::Unexpected(MarkRefusal::kLowContrast);
  }
  if (edge.used_px < kShortest_px) {
    return calib::Unexpected(MarkRefusal::kTooSmall);
  }
  if (edge.misfit > kLargestMisfit_contrast * edge.contrast || edge.blur_px > 6.0 ||
      std::abs(p[kOffset]) > 5.5) {
    return calib::Unexpected(MarkRefusal::kOtherShape);
  }
  if (clipped_part(best->samples) > kMostClipped) {
    return calib::Unexpected(MarkRefusal::kSaturated);
  }
  edge.line.origin_px = frame.origin_px;
  edge.line.direction_rad = start.direction_rad + p[kDirection];
  edge.line.offset_px = p[kOffset];
  edge.line.votes = start.votes;
  edge.covariance = fitter.covariance(*best, is_step);
  edge.from_px = best->stations.front() - 0.5 * kStation_px;
  edge.to_px = best->stations.back() + 0.5 * kStation_px;
  return edge;
}

}  // namespace measure
