#include "calib/board/refine_corner.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>
#include <optional>

#include <Eigen/Dense>
#include <opencv2/core/utility.hpp>

#include "calib/board/blurred_saddle.h"
#include "calib/board/ring.h"

namespace calib {
namespace {

// Pixels further than this many blurs from an edge say nothing about where it is, but set the
// levels.
constexpr double kBand_blurs = 3.5;
// Contrast below so many times its own noise over the window cannot be told from chance.
constexpr double kLeastContrast_noise = 1.0;
constexpr double kLeastContrast_grey = 4.0;
// Residuals above this part of the contrast: what is there is no crossing of two edges.
constexpr double kLargestResidual_contrast = 0.35;
constexpr double kSharpestAngle_rad = 0.07;  // edges nearer to parallel than 4° do not fix a point

// Beyond the noise: what uneven pixels and rendered edges leave, 0.003 to 0.005 px on the demo's
// ray-traced boards.
constexpr double kBeyondNoise_px = 0.004;

Eigen::Matrix2d with_floor(const Eigen::Matrix2d& covariance_px2) {
  return covariance_px2 + Eigen::Matrix2d::Identity() * (kBeyondNoise_px * kBeyondNoise_px);
}

double angle_of(const Eigen::Vector2d& direction) {
  return std::atan2(direction.y(), direction.x());
}

double cross(const Eigen::Vector2d& a, const Eigen::Vector2d& b) {
  return a.x() * b.y() - a.y() * b.x();
}

// Angle between two undirected lines, 0 to π/2.
double angle_between(double a, double b) {
  return std::abs(std::asin(std::clamp(std::sin(a - b), -1.0, 1.0)));
}

struct CornerFit {
  SaddleFit fit;
  SaddleWindow window;
};

double grey_unit(const cv::Mat& image) { return image.depth() == CV_16U ? 257.0 : 1.0; }

Saddle start_of(const CornerShape& shape) {
  Saddle saddle;
  saddle.centre_px = shape.position_px;
  saddle.angle_rad = {angle_of(shape.reach_px[0]), angle_of(shape.reach_px[1])};
  saddle.blur_px = {shape.blur_px, shape.blur_px};
  saddle.curvature_per_px = shape.curvature_per_px;
  return saddle;
}

std::optional<RefineRefusal> refusal_of(const cv::Mat& image, const SaddleFit& fit,
                                        const CornerShape& shape) {
  const double contrast = 2.0 * std::abs(fit.contrast);
  if (!(contrast >
        std::max(kLeastContrast_grey * grey_unit(image), kLeastContrast_noise * fit.misfit))) {
    return RefineRefusal::kLowContrast;
  }
  if (fit.misfit > kLargestResidual_contrast * contrast || !fit.converged) {
    return RefineRefusal::kNoCross;
  }
  if (angle_between(fit.saddle.angle_rad[0], fit.saddle.angle_rad[1]) < kSharpestAngle_rad) {
    return RefineRefusal::kNoCross;
  }
  // Blur as wide as the window: the crossing was spread over a smooth slope.
  const double narrow = std::abs(cross(shape.reach_px[0], shape.reach_px[1])) /
                        std::max(shape.reach_px[0].norm(), shape.reach_px[1].norm());
  if (std::min(fit.saddle.blur_px[0], fit.saddle.blur_px[1]) > 2.0 * narrow) {
    return RefineRefusal::kNoCross;
  }
  return std::nullopt;
}

// Fits in rounds: the window follows the crossing and its width follows the blur. A quick fit ends
// with the first window that stands, and without covariance.
Result<CornerFit, RefineRefusal> fit_corner(const cv::Mat& image, const CornerShape& shape,
                                            bool elliptic, bool quick = false) {
  Saddle saddle = start_of(shape);
  SaddleWindow window{.half_axis_px = shape.reach_px, .elliptic = elliptic};
  const SaddlePrior prior{.angle_rad = shape.angle_sigma_rad, .log_blur = shape.log_blur_sigma};
  // The first round must see the edge although the position is off; the next ones only what carries
  // news.
  double slack_px = 2.0 * shape.position_sigma_px;
  constexpr int kMostRounds = 4;
  for (int round = 0; round < kMostRounds; ++round) {
    const double blur_px = std::max(saddle.blur_px[0], saddle.blur_px[1]);
    window.band_px = kBand_blurs * blur_px + 1.0 + slack_px;
    Saddle from = saddle;
    if (round > 0) {
      from.blur_px = {shape.blur_px, shape.blur_px};  // the prior stays where it was
    }
    const bool rough = slack_px > 0.5;
    auto fit =
        fit_blurred_saddle(image, from, window, prior,
                           {.max_iterations = 15,
                            .settled_px = (rough || quick ? 0.05 : 1e-3) * std::max(1.0, blur_px),
                            .most_pixels = rough || quick ? 1500 : 5000,
                            .want_covariance = !rough && !quick});
    if (!fit) {
      return Unexpected(RefineRefusal::kLeavesPhoto);
    }
    const double shift_px = (fit->saddle.centre_px - saddle.centre_px).norm();
    if ((fit->saddle.centre_px - shape.position_px).norm() > 4.0 * shape.position_sigma_px + 1.0) {
      return Unexpected(RefineRefusal::kWouldJump);
    }
    const double new_band_px =
        kBand_blurs * std::max(fit->saddle.blur_px[0], fit->saddle.blur_px[1]) + 1.0;
    saddle = fit->saddle;
    const bool stands =
        quick || (!rough && shift_px < 0.35 * std::max(1.0, blur_px) &&
                  std::abs(new_band_px - window.band_px) < 2.0 + slack_px + 0.3 * window.band_px);
    if (stands || round + 1 == kMostRounds) {
      if (const auto refusal = refusal_of(image, *fit, shape)) {
        return Unexpected(*refusal);
      }
      return CornerFit{std::move(*fit), window};
    }
    slack_px = 0.0;
  }
  return Unexpected(RefineRefusal::kNoCross);
}

RefinedCorner refined_from(const SaddleFit& fit, const SaddleWindow& window) {
  RefinedCorner corner;
  corner.position_px = fit.saddle.centre_px;
  corner.covariance_px2 = with_floor(fit.covariance_px2(fit.noise_sums.autocorrelation()));
  corner.blur_px = 0.5 * (fit.saddle.blur_px[0] + fit.saddle.blur_px[1]);
  corner.contrast = 2.0 * std::abs(fit.contrast);
  corner.noise = fit.noise;
  corner.angle_rad = fit.saddle.angle_rad;
  corner.reach_px = {window.half_axis_px[0].norm(), window.half_axis_px[1].norm()};
  return corner;
}

// How far the step across the edge lasts along it, to the nearer end.
double edge_length(const cv::Mat& image, const Eigen::Vector2d& centre_px, double angle_rad,
                   double other_angle_rad, double offset_px) {
  constexpr double kLongest_px = 60.0;
  const Eigen::Vector2d along(std::cos(angle_rad), std::sin(angle_rad));
  const Eigen::Vector2d across(-along.y(), along.x());
  const double sine = std::max(std::abs(std::sin(angle_rad - other_angle_rad)), 0.1);
  double shortest_px = kLongest_px;
  std::array<double, 2> reference{};
  for (const int side : {0, 1}) {
    const double sign = side == 0 ? 1.0 : -1.0;
    const double begin_px = 1.5 * offset_px / sine;
    for (double s = begin_px; s <= kLongest_px; s += 0.5) {
      const Eigen::Vector2d at = centre_px + sign * s * along;
      const double step =
          bilinear(image, at + offset_px * across) - bilinear(image, at - offset_px * across);
      auto& largest = reference[static_cast<std::size_t>(side)];
      largest = std::abs(step) > std::abs(largest) && s < begin_px + 2.0 ? step : largest;
      if (step * largest < 0.5 * largest * largest) {
        shortest_px = std::min(shortest_px, s - 0.5);
        break;
      }
    }
  }
  return shortest_px;
}

// A quadratic through up to five corners of a grid line about this one tells how its edge bends.
double curvature_along(const std::vector<Eigen::Vector2d>& line, std::size_t at) {
  const auto count = static_cast<int>(line.size());
  const int width = std::min(5, count);
  const int first = std::clamp(static_cast<int>(at) - width / 2, 0, count - width);
  const Eigen::Vector2d chord =
      (line[static_cast<std::size_t>(first + width - 1)] - line[static_cast<std::size_t>(first)])
          .normalized();
  const Eigen::Vector2d normal(-chord.y(), chord.x());
  const Eigen::Vector2d origin = line[at];
  Eigen::Matrix<double, Eigen::Dynamic, 3> design(width, 3);
  Eigen::VectorXd height(width);
  for (int k = 0; k < width; ++k) {
    const Eigen::Vector2d offset = line[static_cast<std::size_t>(first + k)] - origin;
    const double t = chord.dot(offset);
    design.row(k) << 1.0, t, t * t;
    height[k] = normal.dot(offset);
  }
  return 2.0 * design.colPivHouseholderQr().solve(height)[2];
}

class Grid {
 public:
  Grid(int columns, int rows, const std::vector<Eigen::Vector2d>& positions_px)
      : columns_(columns), rows_(rows), at_(positions_px) {}

  [[nodiscard]] int count() const { return columns_ * rows_; }

  // Half the way to the nearer neighbour, in the mean direction of both; the same for both families
  // of lines.
  [[nodiscard]] std::array<Eigen::Vector2d, 2> edge_px(int index) const {
    return {edge(index, index % columns_, columns_, 1),
            edge(index, index / columns_, rows_, columns_)};
  }

  [[nodiscard]] std::array<double, 2> curvature(int index) const {
    const int column = index % columns_, row = index / columns_;
    std::vector<Eigen::Vector2d> along_row, along_column;
    for (int c = 0; c < columns_; ++c) {
      along_row.push_back(at_[static_cast<std::size_t>(row * columns_ + c)]);
    }
    for (int r = 0; r < rows_; ++r) {
      along_column.push_back(at_[static_cast<std::size_t>(r * columns_ + column)]);
    }
    return {curvature_along(along_row, static_cast<std::size_t>(column)),
            curvature_along(along_column, static_cast<std::size_t>(row))};
  }

 private:
  [[nodiscard]] Eigen::Vector2d edge(int index, int place, int places, int step) const {
    const auto at = [this](int i) { return at_[static_cast<std::size_t>(i)]; };
    if (place == 0) {
      return at(index + step) - at(index);
    }
    if (place == places - 1) {
      return at(index) - at(index - step);
    }
    const Eigen::Vector2d forward = at(index + step) - at(index),
                          backward = at(index) - at(index - step);
    return (forward + backward).normalized() * std::min(forward.norm(), backward.norm());
  }

  int columns_, rows_;
  const std::vector<Eigen::Vector2d>& at_;
};

double median_of(std::vector<double> values) {
  assert(!values.empty());
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

}  // namespace

std::string describe(RefineRefusal refusal, std::string_view subject) {
  const std::string name(subject);
  switch (refusal) {
    case RefineRefusal::kLeavesPhoto:
      return name + " is too near the photo's edge to be refined: keep it by hand";
    case RefineRefusal::kLowContrast:
      return name +
             " does not stand out from the noise: keep it by hand, or light the original more "
             "evenly";
    case RefineRefusal::kNoCross:
      return name +
             " has no crossing of two edges near it: set the mark within 6 pixels of the target's "
             "middle";
    case RefineRefusal::kWouldJump:
      return name +
             " would jump to something else when refined: set the mark nearer to the target's "
             "middle";
  }
  return name;
}

Result<RefinedCorner, RefineRefusal> refine_corner(const cv::Mat& image, const CornerShape& shape) {
  auto fitted = fit_corner(image, shape, false);
  if (!fitted) {
    return Unexpected(fitted.error());
  }
  return refined_from(fitted->fit, fitted->window);
}

Result<RefinedCorner, RefineRefusal> refine_cross(const cv::Mat& image,
                                                  const Eigen::Vector2d& position_px,
                                                  double search_radius_px) {
  constexpr double kSmallestRing_px = 4.0;
  const double radius_px = std::clamp(search_radius_px, 0.5, 30.0);
  const double margin_px = kSmallestRing_px + 3.0;
  if (!position_px.allFinite() || image.empty() || position_px.x() < margin_px ||
      position_px.y() < margin_px || position_px.x() > image.cols - 1 - margin_px ||
      position_px.y() > image.rows - 1 - margin_px) {
    return Unexpected(RefineRefusal::kLeavesPhoto);
  }
  // Where, within reach, does a ring look most like a crossing? Two rings, so that a lone spot does
  // not.
  double best = -std::numeric_limits<double>::max();
  Eigen::Vector2d centre_px = position_px;
  const int steps = static_cast<int>(std::ceil(radius_px));
  for (int dy = -steps; dy <= steps; ++dy) {
    for (int dx = -steps; dx <= steps; ++dx) {
      const Eigen::Vector2d candidate_px = position_px + Eigen::Vector2d(dx, dy);
      if (std::hypot(dx, dy) > radius_px + 0.5 || candidate_px.x() < margin_px ||
          candidate_px.y() < margin_px || candidate_px.x() > image.cols - 1 - margin_px ||
          candidate_px.y() > image.rows - 1 - margin_px) {
        continue;
      }
      const double response =
          std::min(crossing_response(ring_about(image, candidate_px, kSmallestRing_px)),
                   crossing_response(ring_about(image, candidate_px, 1.5 * kSmallestRing_px)));
      if (response > best) {
        best = response;
        centre_px = candidate_px;
      }
    }
  }
  const double unit = grey_unit(image);
  if (best < 0.25 * kLeastContrast_grey * kLeastContrast_grey * unit * unit) {
    const auto ring = ring_about(image, position_px, 1.5 * kSmallestRing_px);
    const auto [low, high] = std::minmax_element(ring.begin(), ring.end());
    return Unexpected(*high - *low < 3.0 * kLeastContrast_grey * unit ? RefineRefusal::kLowContrast
                                                                      : RefineRefusal::kNoCross);
  }
  const auto angles_rad = edge_angles(ring_about(image, centre_px, 1.5 * kSmallestRing_px));
  if (angles_rad.size() != 2) {
    return Unexpected(RefineRefusal::kNoCross);
  }
  const double offset_px = 2.5;
  std::array<double, 2> length_px = {
      edge_length(image, centre_px, angles_rad[0], angles_rad[1], offset_px),
      edge_length(image, centre_px, angles_rad[1], angles_rad[0], offset_px)};
  CornerShape shape;
  shape.position_px = centre_px;
  shape.position_sigma_px = 1.0;
  shape.blur_px = 1.2;
  shape.angle_sigma_rad = 0.3;
  for (std::size_t i = 0; i < 2; ++i) {
    // The rim of the disc and its blur stay outside; the size was seen from a centre up to a pixel
    // off.
    const double reach_px = std::min(0.8 * (length_px[i] - 1.0), 40.0);
    if (reach_px < kSmallestRing_px) {
      return Unexpected(RefineRefusal::kNoCross);
    }
    shape.reach_px[i] =
        reach_px * Eigen::Vector2d(std::cos(angles_rad[i]), std::sin(angles_rad[i]));
  }
  auto fitted = fit_corner(image, shape, true);
  if (!fitted) {
    return Unexpected(fitted.error());
  }
  if ((fitted->fit.saddle.centre_px - position_px).norm() > radius_px) {
    return Unexpected(RefineRefusal::kWouldJump);
  }
  return refined_from(fitted->fit, fitted->window);
}

std::vector<GridCorner> refine_grid(const cv::Mat& image, int columns, int rows,
                                    const std::vector<Eigen::Vector2d>& positions_px,
                                    const GridOptions& options) {
  assert(columns >= 3 && rows >= 3 &&
         positions_px.size() == static_cast<std::size_t>(columns * rows));
  constexpr double kWindow_squares =
      0.42;  // of the way to the next corner: its own edges stay outside
  constexpr double kLongestReach_px =
      36.0;  // by then more length adds nothing that calibration could use
  constexpr double kLongestReach_blurs = 24.0;
  constexpr int kManyCorners = 150;
  constexpr double kManyReach = 0.7;

  const int count = columns * rows;
  std::vector<std::optional<CornerFit>> fits(static_cast<std::size_t>(count));
  std::vector<Eigen::Vector2d> current_px = positions_px;
  double blur_px = options.blur_px;
  double log_blur_sigma = 1.0;
  double sigma_px = options.position_sigma_px;

  const auto run = [&](bool quick) {
    const Grid grid(columns, rows, current_px);
    double longest_px = std::max({kLongestReach_px, kLongestReach_blurs * blur_px, 4.0 * sigma_px});
    longest_px *= count > kManyCorners ? kManyReach : 1.0;
    cv::parallel_for_(cv::Range(0, count), [&](const cv::Range& range) {
      for (int i = range.start; i < range.end; ++i) {
        const auto at = static_cast<std::size_t>(i);
        CornerShape shape;
        shape.position_px = current_px[at];
        const auto edges = grid.edge_px(i);
        for (std::size_t k = 0; k < 2; ++k) {
          shape.reach_px[k] =
              edges[k] * std::min(kWindow_squares, longest_px / std::max(edges[k].norm(), 1e-9));
        }
        if (!quick) {
          shape.curvature_per_px = grid.curvature(i);
        }
        const double narrow_px =
            std::abs(cross(edges[0], edges[1])) / std::max(edges[0].norm(), edges[1].norm());
        shape.position_sigma_px = std::min(sigma_px, 0.1 * narrow_px);
        shape.blur_px = blur_px;
        shape.log_blur_sigma = log_blur_sigma;
        shape.angle_sigma_rad = 0.1;
        auto fitted = fit_corner(image, shape, false, quick);
        fits[at] = fitted ? std::optional(std::move(*fitted)) : std::nullopt;
      }
    });
    std::vector<double> blurs_px;
    for (std::size_t i = 0; i < fits.size(); ++i) {
      if (fits[i]) {
        current_px[i] = fits[i]->fit.saddle.centre_px;
        blurs_px.push_back(0.5 * (fits[i]->fit.saddle.blur_px[0] + fits[i]->fit.saddle.blur_px[1]));
      }
    }
    if (!blurs_px.empty()) {
      blur_px = median_of(blurs_px);
      log_blur_sigma =
          0.3;  // blur changes over a board with focus and tilt, but not by more than a third
      sigma_px = 0.15 * std::max(1.0, blur_px);
    }
  };
  run(true);
  if (options.effort == GridEffort::kFull) {
    run(false);
  }

  NoiseSums noise;
  for (const auto& fit : fits) {
    if (fit) {
      noise.add(fit->fit.noise_sums);
    }
  }
  const auto autocorrelation = noise.autocorrelation();
  const Grid grid(columns, rows, current_px);
  std::vector<GridCorner> corners(static_cast<std::size_t>(count));
  for (int i = 0; i < count; ++i) {
    const auto at = static_cast<std::size_t>(i);
    auto& corner = corners[at];
    const auto edges = grid.edge_px(i);
    corner.square_px =
        std::abs(cross(edges[0], edges[1])) / std::max(edges[0].norm(), edges[1].norm());
    corner.position_px = current_px[at];
    corner.blur_px = blur_px;
    if (fits[at]) {
      const auto& fit = fits[at]->fit;
      corner.covariance_px2 = with_floor(fit.covariance_px2(autocorrelation));
      corner.blur_px = 0.5 * (fit.saddle.blur_px[0] + fit.saddle.blur_px[1]);
      corner.contrast =
          -2.0 * fit.contrast;  // the model is negative in the quadrant between both directions
      corner.refined = true;
    } else {
      const double wide_px = std::max(1.0, options.position_sigma_px);
      corner.covariance_px2 = Eigen::Matrix2d::Identity() * (wide_px * wide_px);
    }
  }
  return corners;
}

}  // namespace calib
