// Least-squares fit of a blurred crossing of two edges: the inner corner of a checkerboard, or a
// quartered target.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include <Eigen/Core>
#include <opencv2/core/mat.hpp>

namespace calib {

/// The shape of a crossing. Pixels; angles in radians from the x axis towards the y axis.
struct Saddle {
  Eigen::Vector2d centre_px = Eigen::Vector2d::Zero();
  std::array<double, 2> angle_rad{};        ///< direction of each edge
  std::array<double, 2> blur_px{1.5, 1.5};  ///< standard deviation of the blur across each edge
  /// Of each edge, 1/px: the edge lies at n·x = ½ κ (t·x)², t its direction, n = t turned by +90°.
  /// Held.
  std::array<double, 2> curvature_per_px{};
};

/// The pixels that take part: |u|, |v| ≤ 1 (or u² + v² ≤ 1) in centre + u·half_axis[0] +
/// v·half_axis[1], and no further than band_px from one of the edges. Symmetrical about the centre,
/// so that a grey curve or a symmetrical blur cannot shift the result.
struct SaddleWindow {
  std::array<Eigen::Vector2d, 2> half_axis_px;
  double band_px = 6.0;
  bool elliptic = false;
};

/// What is known of the shape beforehand, as standard deviations; infinite where nothing is.
struct SaddlePrior {
  double angle_rad = 0.2;
  double log_blur = 1.0;
};

/// Autocorrelation of a noise at the lags (dx, dy), |dx|, |dy| ≤ kNoiseReach, as sums, so that the
/// corners of a photo can be pooled.
inline constexpr int kNoiseReach = 2;
inline constexpr int kNoiseSpan = 2 * kNoiseReach + 1;
struct NoiseSums {
  Eigen::Matrix<double, kNoiseSpan, kNoiseSpan> product = decltype(product)::Zero();
  Eigen::Matrix<double, kNoiseSpan, kNoiseSpan> count = decltype(count)::Zero();

  void add(const NoiseSums& other);
  /// 1 at lag 0; zero where fewer than 200 pairs were seen.
  [[nodiscard]] Eigen::Matrix<double, kNoiseSpan, kNoiseSpan> autocorrelation() const;
};

struct SaddleFit {
  Saddle saddle;
  double contrast = 0.0;  ///< half the difference between the bright and the dark squares, signed
  double misfit = 0.0;    ///< standard deviation of the residuals, grey values
  /// The same without the part that depends on the distance from the edge alone: what a grey curve,
  /// sharpening or a lens's own blur leave is the same on both halves of an edge and moves nothing.
  double noise = 0.0;
  int pixel_count = 0;
  bool converged = false;
  Eigen::Matrix2d white_covariance_px2;  ///< of the centre, were the noise without correlation
  NoiseSums noise_sums;

  /// Position error = Σ influence · residual: what carries correlated noise into the covariance.
  struct Influence {
    int x = 0, y = 0;
    Eigen::Vector2d px_per_grey;
  };
  std::vector<Influence> influence;

  /// Covariance of the centre under noise with this autocorrelation; never below the white one.
  [[nodiscard]] Eigen::Matrix2d covariance_px2(
      const Eigen::Matrix<double, kNoiseSpan, kNoiseSpan>& autocorrelation) const;
};

struct SaddleFitOptions {
  int max_iterations = 15;
  double settled_px = 2e-4;  ///< a step below this ends the fit
  int most_pixels = 5000;    ///< of more, every second, third … row and column is taken
  bool want_covariance = true;
};

/// Grey value of a unit crossing (between −1 and +1) at distances a and b from its edges, in units
/// of the blur, where the blur across the two edges has the correlation rho: E[sgn(a + g)·sgn(b +
/// h)].
///
/// = erf(a/√2)·erf(b/√2) + (2/π)∫₀^{asin ρ} exp(−(a² + b² − 2ab sin t)/(2cos² t)) dt: the bivariate
/// normal orthant as an integral over the correlation (R. L. Plackett, Biometrika 41, 1954; from
/// memory).
[[nodiscard]] double blurred_crossing(double a, double b, double rho);

/// Fits centre, directions, blur, level, contrast, the linear change of both over the window, and
/// the bow of the camera's grey curve (13 numbers) to the window's pixels, by Levenberg and
/// Marquardt's method. Image CV_8UC1, CV_16UC1 or CV_32FC1.
///
/// @return nothing if the window leaves the picture or holds too few pixels.
[[nodiscard]] std::optional<SaddleFit> fit_blurred_saddle(const cv::Mat& image, const Saddle& start,
                                                          const SaddleWindow& window,
                                                          const SaddlePrior& prior = {},
                                                          const SaddleFitOptions& options = {});

}  // namespace calib
