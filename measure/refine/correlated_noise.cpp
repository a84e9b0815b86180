#include "measure/refine/correlated_noise.h"

#include <algorithm>
#include <array>

#include <Eigen/LU>

namespace measure {
namespace {

constexpr int kReach = 3;
// Fewer pairs than this tell a correlation to worse than a tenth.
constexpr double kFewPairs = 100.0;

}  // namespace

Eigen::Matrix2d correlated_covariance(const std::vector<GreySample>& samples,
                                      const std::vector<double>& residuals,
                                      const std::vector<Eigen::Vector2d>& influence_px_per_grey,
                                      double redundancy, int stride) {
  int x0 = samples.front().x, x1 = x0, y0 = samples.front().y, y1 = y0;
  for (const GreySample& sample : samples) {
    x0 = std::min(x0, sample.x), x1 = std::max(x1, sample.x);
    y0 = std::min(y0, sample.y), y1 = std::max(y1, sample.y);
  }
  const int width = (x1 - x0) / stride + 1 + 2 * kReach;
  const int height = (y1 - y0) / stride + 1 + 2 * kReach;
  std::vector<int> index(static_cast<std::size_t>(width) * static_cast<std::size_t>(height), -1);
  const auto place = [&](const GreySample& sample) {
    return static_cast<std::ptrdiff_t>((sample.y - y0) / stride + kReach) * width +
           (sample.x - x0) / stride + kReach;
  };
  double squares = 0.0;
  Eigen::Matrix2d white = Eigen::Matrix2d::Zero();
  for (std::size_t i = 0; i < samples.size(); ++i) {
    index[static_cast<std::size_t>(place(samples[i]))] = static_cast<int>(i);
    squares += residuals[i] * residuals[i];
    white += influence_px_per_grey[i] * influence_px_per_grey[i].transpose();
  }
  const double variance = squares / std::max(redundancy, 1.0);
  const double mean_square = squares / static_cast<double>(samples.size());
  if (!(mean_square > 0.0)) {
    return Eigen::Matrix2d::Zero();
  }
  Eigen::Matrix2d sum = white;
  for (int dy = 0; dy <= kReach; ++dy) {
    for (int dx = dy == 0 ? 1 : -kReach; dx <= kReach; ++dx) {
      const std::ptrdiff_t lag = static_cast<std::ptrdiff_t>(dy) * width + dx;
      double products = 0.0, pairs = 0.0;
      Eigen::Matrix2d shared = Eigen::Matrix2d::Zero();
      for (std::size_t i = 0; i < samples.size(); ++i) {
        const int other = index[static_cast<std::size_t>(place(samples[i]) + lag)];
        if (other >= 0) {
          const auto j = static_cast<std::size_t>(other);
          products += residuals[i] * residuals[j];
          pairs += 1.0;
          shared += influence_px_per_grey[i] * influence_px_per_grey[j].transpose();
        }
      }
      if (pairs >= kFewPairs) {
        sum += products / pairs / mean_square * (shared + shared.transpose());
      }
    }
  }
  const bool usable = sum.allFinite() && sum.determinant() > 0.0 && sum.trace() > white.trace();
  return variance * (usable ? sum : white);
}

}  // namespace measure
