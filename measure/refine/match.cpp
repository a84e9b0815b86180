#include "measure/refine/match.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>

#include "measure/refine/grey_fit.h"
#include "measure/refine/grey_patch.h"

namespace measure {
namespace {

constexpr double kUsualHalf_px = 10.0;
// Both windows are smoothed alike: interpolation would smooth one of them by an amount that depends
// on where it falls between pixels, and so draw the result to half pixels.
constexpr double kSmoothing_px = 0.8;
constexpr double kLeastContrast_grey = 2.0;
constexpr double kLeastLikeness = 0.7;
constexpr double kWorst_px = 0.5;
constexpr double kMostAniso = 8.0;

// Eight numbers: place; affine shape by rows; brightness; contrast.
constexpr int kCount = 8;
using Parameters = Eigen::Matrix<double, kCount, 1>;
enum { kX, kY, kXX, kXY, kYX, kYY, kLevel, kGain };

Eigen::Matrix2d shape_of(const Parameters& p) {
  Eigen::Matrix2d shape;
  shape << p[kXX], p[kXY], p[kYX], p[kYY];
  return shape;
}

// Cubic convolution (R. G. Keys, IEEE Trans. ASSP 29(6), 1981; from memory), with its slope.
struct Cubic {
  std::array<double, 4> weight, slope;
  explicit Cubic(double t) {
    weight = {((-0.5 * t + 1.0) * t - 0.5) * t, (1.5 * t - 2.5) * t * t + 1.0,
              ((-1.5 * t + 2.0) * t + 0.5) * t, (0.5 * t - 0.5) * t * t};
    slope = {(-1.5 * t + 2.0) * t - 0.5, (4.5 * t - 5.0) * t, (-4.5 * t + 4.0) * t + 0.5,
             (1.5 * t - 1.0) * t};
  }
};

class SmoothPatch {
 public:
  explicit SmoothPatch(const GreyPatch& patch) : x0_(patch.x0()), y0_(patch.y0()) {
    cv::GaussianBlur(patch.grey(), grey_, cv::Size(7, 7), kSmoothing_px, kSmoothing_px,
                     cv::BORDER_REPLICATE);
  }
  struct Value {
    double grey = 0.0;
    Eigen::Vector2d slope;
  };
  [[nodiscard]] Value at(const Eigen::Vector2d& place) const {
    const double x = std::clamp(place.x() - x0_, 1.0, grey_.cols - 2.001);
    const double y = std::clamp(place.y() - y0_, 1.0, grey_.rows - 2.001);
    const int column = static_cast<int>(x), row = static_cast<int>(y);
    const Cubic u(x - column), v(y - row);
    Value value{0.0, Eigen::Vector2d::Zero()};
    for (int j = 0; j < 4; ++j) {
      const float* line = grey_.ptr<float>(row - 1 + j) + column - 1;
      double sum = 0.0, by_x = 0.0;
      for (int i = 0; i < 4; ++i) {
        const auto at = static_cast<std::size_t>(i);
        sum += u.weight[at] * static_cast<double>(line[i]);
        by_x += u.slope[at] * static_cast<double>(line[i]);
      }
      const auto at = static_cast<std::size_t>(j);
      value.grey += v.weight[at] * sum;
      value.slope += Eigen::Vector2d(v.weight[at] * by_x, v.slope[at] * sum);
    }
    return value;
  }
  [[nodiscard]] const cv::Mat& grey() const { return grey_; }
  [[nodiscard]] int x0() const { return x0_; }
  [[nodiscard]] int y0() const { return y0_; }

 private:
  cv::Mat grey_;
  int x0_, y0_;
};

struct Match {
  GreyFit<kCount> fit;
  double likeness = 0.0;
  [[nodiscard]] Eigen::Vector2d place_px() const { return fit.p.head<2>(); }
};

// Places where the correlation is highest about, best first.
std::vector<std::pair<double, Eigen::Vector2d>> likely_places(const SmoothPatch& photo,
                                                              const SmoothPatch& pattern,
                                                              const PatternView& view,
                                                              const Eigen::Vector2d& position_px,
                                                              double half_px, double radius_px) {
  const int half = static_cast<int>(std::floor(half_px));
  const int reach = static_cast<int>(std::ceil(radius_px)) + 1;
  const int middle_x = static_cast<int>(std::lround(position_px.x()));
  const int middle_y = static_cast<int>(std::lround(position_px.y()));
  // The pattern as the photo should show it.
  const Eigen::Matrix2d pattern_from_photo = view.photo_from_pattern.inverse();
  cv::Mat seen(2 * half + 1, 2 * half + 1, CV_32F);
  for (int y = -half; y <= half; ++y) {
    for (int x = -half; x <= half; ++x) {
      seen.at<float>(y + half, x + half) = static_cast<float>(
          pattern.at(view.position_px + pattern_from_photo * Eigen::Vector2d(x, y)).grey);
    }
  }
  const cv::Rect wanted(middle_x - reach - half - photo.x0(), middle_y - reach - half - photo.y0(),
                        2 * (reach + half) + 1, 2 * (reach + half) + 1);
  const cv::Rect area = wanted & cv::Rect(0, 0, photo.grey().cols, photo.grey().rows);
  if (area.width < seen.cols || area.height < seen.rows) {
    return {};
  }
  cv::Mat likeness;
  cv::matchTemplate(photo.grey()(area), seen, likeness, cv::TM_CCOEFF_NORMED);
  std::vector<std::pair<double, Eigen::Vector2d>> places;
  for (int y = 0; y < likeness.rows; ++y) {
    for (int x = 0; x < likeness.cols; ++x) {
      const float here = likeness.at<float>(y, x);
      bool peak = std::isfinite(here);
      for (int j = std::max(0, y - 1); j <= std::min(likeness.rows - 1, y + 1) && peak; ++j) {
        for (int i = std::max(0, x - 1); i <= std::min(likeness.cols - 1, x + 1) && peak; ++i) {
          peak = here >= likeness.at<float>(j, i);
        }
      }
      if (peak) {
        places.emplace_back(
            here, Eigen::Vector2d(x + area.x + half + photo.x0(), y + area.y + half + photo.y0()));
      }
    }
  }
  std::sort(places.begin(), places.end(),
            [](const auto& a, const auto& b) { return a.first > b.first; });
  return places;
}

class Matcher {
 public:
  Matcher(const SmoothPatch& photo, const SmoothPatch& pattern, const PatternView& view,
          double half_px)
      : photo_(photo), view_(view) {
    // Pixels of the pattern as they are: only one of both windows is interpolated.
    const Eigen::Vector2d& middle = view.position_px;
    for (int y = static_cast<int>(std::ceil(middle.y() - half_px)); y <= middle.y() + half_px;
         ++y) {
      for (int x = static_cast<int>(std::ceil(middle.x() - half_px)); x <= middle.x() + half_px;
           ++x) {
        samples_.push_back(
            {x, y,
             static_cast<double>(pattern.grey().at<float>(y - pattern.y0(), x - pattern.x0()))});
        mean_ += samples_.back().grey;
      }
    }
    mean_ /= static_cast<double>(samples_.size());
    for (const GreySample& sample : samples_) {
      squares_ += (sample.grey - mean_) * (sample.grey - mean_);
    }
  }

  [[nodiscard]] double contrast() const {
    return std::sqrt(squares_ / static_cast<double>(samples_.size()));
  }
  [[nodiscard]] const std::vector<GreySample>& samples() const { return samples_; }

  double operator()(const Parameters& p, const GreySample& sample, Parameters& row) const {
    const Eigen::Vector2d offset = sample.at() - view_.position_px;
    const auto seen = photo_.at(p.head<2>() + shape_of(p) * offset);
    const Eigen::Vector2d slope = p[kGain] * seen.slope;
    row << slope, slope.x() * offset.x(), slope.x() * offset.y(), slope.y() * offset.x(),
        slope.y() * offset.y(), 1.0, seen.grey;
    return p[kLevel] + p[kGain] * seen.grey;
  }

  [[nodiscard]] std::optional<Match> fit(const Eigen::Vector2d& start_px) const {
    Parameters p;
    const auto& shape = view_.photo_from_pattern;
    p << start_px, shape(0, 0), shape(0, 1), shape(1, 0), shape(1, 1), 0.0, 0.0;
    // Brightness and contrast that suit the start, by regression.
    double sum = 0.0, square = 0.0, product = 0.0;
    Parameters row;
    for (const GreySample& sample : samples_) {
      (*this)(p, sample, row);
      sum += row[kGain];
      square += row[kGain] * row[kGain];
      product += row[kGain] * (sample.grey - mean_);
    }
    const double count = static_cast<double>(samples_.size());
    const double spread = square - sum * sum / count;
    p[kGain] = spread > 1e-6 ? std::clamp(product / spread, 0.2, 5.0) : 1.0;
    p[kLevel] = mean_ - p[kGain] * sum / count;
    GreyFitOptions<kCount> options;
    options.prior_sigma.segment<4>(kXX).setConstant(0.25 * std::sqrt(0.5) * shape.norm());
    options.max_iterations = 30;
    auto fitted = fit_grey<kCount>(samples_, p, *this, options);
    if (!fitted) {
      return std::nullopt;
    }
    const double left = fitted->misfit * fitted->misfit * (count - kCount);
    return Match{*fitted,
                 fitted->p[kGain] > 0.0 ? std::sqrt(std::max(1.0 - left / squares_, 0.0)) : 0.0};
  }

  // Slopes of the photo's window, summed, with and without what noise alone adds to them.
  struct Slopes {
    Eigen::Matrix2d seen = Eigen::Matrix2d::Zero(), real = Eigen::Matrix2d::Zero();
  };
  [[nodiscard]] Slopes slopes(const Match& match) const {
    Slopes slopes;
    Parameters row;
    for (const GreySample& sample : samples_) {
      (*this)(match.fit.p, sample, row);
      slopes.seen += row.head<2>() * row.head<2>().transpose();
    }
    // White noise under a Gaussian of s: its slopes have 1/(2 s²) of its variance; half of the
    // residuals' variance is the photo's, half the pattern's.
    const double noise = match.fit.misfit * match.fit.misfit * 0.5 /
                         (2.0 * kSmoothing_px * kSmoothing_px) *
                         static_cast<double>(samples_.size());
    slopes.real = slopes.seen - noise * Eigen::Matrix2d::Identity();
    return slopes;
  }

 private:
  const SmoothPatch& photo_;
  const PatternView& view_;
  std::vector<GreySample> samples_;
  double mean_ = 0.0, squares_ = 0.0;
};

bool is_edge_only(const Eigen::Matrix2d& seen, const Eigen::Matrix2d& real) {
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> of_seen(seen), of_real(real);
  const double weaker = of_real.eigenvalues()[0];
  // Most of the weaker slopes are noise, or they are nothing beside the stronger ones.
  return weaker < 0.3 * of_seen.eigenvalues()[0] ||
         weaker * kMostAniso * kMostAniso < of_real.eigenvalues()[1];
}

}  // namespace

Refinement refine_match(const PhotoWindow& photo, const Eigen::Vector2d& position_px,
                        const PatternView& pattern, const RefineOptions& options) {
  const double half_px = options.half_window_px.value_or(kUsualHalf_px);
  constexpr double kMargin_px = 4.0;
  const Eigen::Matrix2d& change = pattern.photo_from_pattern;
  const double growth = change.cwiseAbs().rowwise().sum().maxCoeff();
  const double shrink =
      change.determinant() != 0.0 ? change.inverse().cwiseAbs().rowwise().sum().maxCoeff() : 1e9;
  if (!(growth < 8.0) || !(shrink < 8.0)) {
    return calib::Unexpected(MarkRefusal::kUnlike);
  }
  const GreyPatch pattern_patch(pattern.photo, pattern.position_px,
                                half_px * std::max(shrink, 1.0) + kMargin_px);
  if (!pattern_patch.holds(pattern.position_px, half_px + kMargin_px - 1.0)) {
    return calib::Unexpected(MarkRefusal::kPatternLeavesPicture);
  }
  const GreyPatch photo_patch(
      photo, position_px, half_px * std::max(growth, 1.0) + options.radius_px + 2.0 * kMargin_px);
  if (!photo_patch.holds(position_px, half_px * growth + 1.0)) {
    return calib::Unexpected(MarkRefusal::kLeavesPhoto);
  }
  const SmoothPatch smooth_pattern(pattern_patch), smooth_photo(photo_patch);
  const Matcher matcher(smooth_photo, smooth_pattern, pattern, half_px);
  if (matcher.contrast() < kLeastContrast_grey) {
    return calib::Unexpected(MarkRefusal::kLowContrast);
  }
  if (clipped_part(matcher.samples()) > kMostClipped) {
    return calib::Unexpected(MarkRefusal::kSaturated);
  }
  const auto places =
      likely_places(smooth_photo, smooth_pattern, pattern, position_px, half_px, options.radius_px);
  if (places.empty()) {
    return calib::Unexpected(MarkRefusal::kLeavesPhoto);
  }
  std::vector<Match> matches;
  constexpr std::size_t kMostStarts = 4;
  constexpr double kBehind = 0.25;
  for (const auto& [likeness, start_px] : places) {
    if (matches.size() == kMostStarts || likeness < places.front().first - kBehind) {
      break;
    }
    if (auto match = matcher.fit(start_px); match && match->fit.settled) {
      const double size = shape_of(match->fit.p).determinant() / change.determinant();
      if (size > 0.4 && size < 2.5) {
        matches.push_back(*match);
      }
    }
  }
  if (matches.empty()) {
    return calib::Unexpected(MarkRefusal::kUnlike);
  }
  std::sort(matches.begin(), matches.end(),
            [](const Match& a, const Match& b) { return a.fit.misfit < b.fit.misfit; });
  const Match& best = matches.front();
  if (best.likeness < kLeastLikeness) {
    return calib::Unexpected(MarkRefusal::kUnlike);
  }
  const auto slopes = matcher.slopes(best);
  if (is_edge_only(slopes.seen, slopes.real)) {
    return calib::Unexpected(MarkRefusal::kOneDirection);
  }
  for (const Match& other : matches) {
    constexpr double kNearlyAsGood = 1.4;
    if ((other.place_px() - best.place_px()).norm() > 1.0 &&
        other.fit.misfit < kNearlyAsGood * best.fit.misfit) {
      return calib::Unexpected(MarkRefusal::kAmbiguous);
    }
  }
  if ((best.place_px() - position_px).norm() > options.radius_px) {
    return calib::Unexpected(MarkRefusal::kWouldJump);
  }
  const Eigen::Matrix2d shape = shape_of(best.fit.p);
  if (!photo_patch.holds(best.place_px(), half_px * shape.cwiseAbs().rowwise().sum().maxCoeff())) {
    return calib::Unexpected(MarkRefusal::kLeavesPhoto);
  }
  std::vector<GreySample> seen;
  for (const GreySample& sample : matcher.samples()) {
    const Eigen::Vector2d at = best.place_px() + shape * (sample.at() - pattern.position_px);
    seen.push_back({0, 0, photo_patch.between(at)});
  }
  if (clipped_part(seen) > kMostClipped) {
    return calib::Unexpected(MarkRefusal::kSaturated);
  }
  RefinedMark mark;
  mark.shape = MarkShape::kMatch;
  mark.position_px = best.place_px();
  // Slopes that are noise enter the normal equations but answer to no shift: the estimate's error
  // is larger by real⁻¹ seen on either side.
  const Eigen::Matrix2d more = slopes.real.inverse() * slopes.seen;
  mark.covariance_px2 = more *
                            place_covariance(matcher.samples(), best.fit, matcher,
                                             [](const GreySample&) { return 0.0; }) *
                            more.transpose() +
                        Eigen::Matrix2d::Identity() * (kBeyondNoise_px * kBeyondNoise_px);
  mark.likeness = best.likeness;
  mark.contrast = 2.0 * matcher.contrast();
  mark.misfit = best.fit.misfit;
  mark.drawing = DrawnWindow{{mark.position_px + shape * Eigen::Vector2d(-half_px, -half_px),
                              mark.position_px + shape * Eigen::Vector2d(half_px, -half_px),
                              mark.position_px + shape * Eigen::Vector2d(half_px, half_px),
                              mark.position_px + shape * Eigen::Vector2d(-half_px, half_px)}};
  if (!(mark.sigma_px() < kWorst_px)) {
    return calib::Unexpected(MarkRefusal::kNotPrecise);
  }
  return mark;
}

std::optional<Eigen::Matrix2d> window_change(const WindowView& pattern, const WindowView& photo,
                                             const Eigen::Vector3d& point,
                                             const Eigen::Vector3d& normal) {
  if (!(normal.norm() > 0.0)) {
    return std::nullopt;
  }
  const Eigen::Vector3d n = normal.normalized();
  const Eigen::Vector3d u = n.unitOrthogonal(), v = n.cross(u);
  const auto by_face = [&](const WindowView& view) -> std::optional<Eigen::Matrix2d> {
    const Eigen::Matrix3d rotation = view.pose.rotation_matrix();
    const Eigen::Vector3d seen = rotation * point + view.pose.translation;
    if (!(seen.z() > 0.0)) {
      return std::nullopt;
    }
    calib::ProjectionDerivatives derivatives;
    static_cast<void>(calib::project(view.camera, seen, &derivatives));
    Eigen::Matrix<double, 3, 2> face;
    face << rotation * u, rotation * v;
    return Eigen::Matrix2d(derivatives.by_point * face);
  };
  const auto in_pattern = by_face(pattern), in_photo = by_face(photo);
  if (!in_pattern || !in_photo) {
    return std::nullopt;
  }
  // Seen flatter than one in twenty, a face tells nothing.
  const auto flat = [](const Eigen::Matrix2d& m) {
    return std::abs(m.determinant()) < 0.05 * m.squaredNorm();
  };
  if (flat(*in_pattern) || flat(*in_photo) ||
      in_pattern->determinant() * in_photo->determinant() < 0.0) {
    return std::nullopt;
  }
  return Eigen::Matrix2d(*in_photo * in_pattern->inverse());
}

std::optional<Eigen::Matrix2d> window_change(const std::vector<MarkPair>& marks,
                                             const Eigen::Vector2d& pattern_px) {
  constexpr std::size_t kFewest = 3, kMost = 8;
  std::vector<MarkPair> nearest = marks;
  std::sort(nearest.begin(), nearest.end(), [&](const MarkPair& a, const MarkPair& b) {
    return (a.pattern_px - pattern_px).norm() < (b.pattern_px - pattern_px).norm();
  });
  nearest.resize(std::min(nearest.size(), kMost));
  if (nearest.size() < kFewest) {
    return std::nullopt;
  }
  const auto count = static_cast<Eigen::Index>(nearest.size());
  Eigen::Matrix<double, Eigen::Dynamic, 3> design(count, 3);
  Eigen::Matrix<double, Eigen::Dynamic, 2> seen(count, 2);
  const double near_px = (nearest.front().pattern_px - pattern_px).norm() + 20.0;
  for (Eigen::Index i = 0; i < count; ++i) {
    const MarkPair& pair = nearest[static_cast<std::size_t>(i)];
    const Eigen::Vector2d offset = pair.pattern_px - pattern_px;
    const double weight = near_px / (near_px + offset.norm());
    design.row(i) = weight * Eigen::RowVector3d(offset.x(), offset.y(), near_px);
    seen.row(i) = weight * pair.photo_px.transpose();
  }
  const Eigen::JacobiSVD<Eigen::MatrixXd> svd(design, Eigen::ComputeThinU | Eigen::ComputeThinV);
  constexpr double kInALine = 0.05;
  if (svd.singularValues()[2] < kInALine * svd.singularValues()[0]) {
    return std::nullopt;
  }
  const Eigen::Matrix2d change = svd.solve(Eigen::MatrixXd(seen)).topRows<2>().transpose();
  const Eigen::JacobiSVD<Eigen::Matrix2d> stretch(change);
  constexpr double kMostChange = 3.0;
  if (change.determinant() <= 0.0 || stretch.singularValues()[0] > kMostChange ||
      stretch.singularValues()[1] < 1.0 / kMostChange) {
    return std::nullopt;
  }
  return change;
}

}  // namespace measure
