// Errors actually made, beside the σ that was claimed for them.
#pragma once

#include <cmath>
#include <cstdio>
#include <vector>

#include <Eigen/LU>

#include "measure/refine/refined_mark.h"
#include "tests/support/analytic_marks.h"

namespace measure {

/// Ordinary contrast: what a photo worth marking has. Errors in pixels are asked of it; σ must be
/// right everywhere.
inline bool is_ordinary(double step_grey, const testing_support::Development& development) {
  return std::abs(step_grey) >= 60.0 && development.noise_grey <= 3.0 && development.blur_px <= 1.5;
}

class ErrorSums {
 public:
  void add(const RefinedMark& mark, const Eigen::Vector2d& truth_px) {
    const Eigen::Vector2d error = mark.position_px - truth_px;
    sum_ += error;
    squares_ += error.squaredNorm();
    normed_ += error.dot(mark.covariance_px2.inverse() * error);
    claimed_ += mark.covariance_px2.trace();
    largest_ = std::max(largest_, error.norm());
    ++count_;
  }
  [[nodiscard]] int count() const { return count_; }
  [[nodiscard]] Eigen::Vector2d mean_px() const { return sum_ / count_; }
  /// A coordinate.
  [[nodiscard]] double rms_px() const { return std::sqrt(0.5 * squares_ / count_); }
  /// √ of the mean of eᵀΣ⁻¹e over 2: 1 where the covariances are right, case by case.
  [[nodiscard]] double true_over_claimed() const { return std::sqrt(0.5 * normed_ / count_); }

  void print(const char* name) const {
    std::printf(
        "  %s: %d cases, mean %+.4f %+.4f px, rms %.4f px, claimed %.4f px, largest %.3f px, "
        "true over claimed %.2f\n",
        name, count_, mean_px().x(), mean_px().y(), rms_px(), std::sqrt(0.5 * claimed_ / count_),
        largest_, true_over_claimed());
  }

 private:
  Eigen::Vector2d sum_ = Eigen::Vector2d::Zero();
  double squares_ = 0.0, normed_ = 0.0, claimed_ = 0.0, largest_ = 0.0;
  int count_ = 0;
};

}  // namespace measure
