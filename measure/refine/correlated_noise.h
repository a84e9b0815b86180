// Inside the room: how noise with neighbours alike carries into a fitted position.
#pragma once

#include <vector>

#include <Eigen/Core>

#include "measure/refine/grey_patch.h"

namespace measure {

/// Covariance of a position whose error is Σ influence · noise, from the residuals of the fit.
///
/// Noise of photographs is alike in neighbouring pixels (demosaicing, JPEG, grain): with the
/// residuals' autocorrelation ρ at lags up to three pixels, Σ = s² Σ_ij a_i a_jᵀ ρ(i − j). Taken
/// as white, σ came out too small by a third in photos after JPEG. Never below the white part: an
/// estimated correlation can come out too negative.
///
/// @param influence_px_per_grey  one per sample.
/// @param redundancy  samples less fitted numbers; s² = Σ residual² / redundancy.
/// @param stride  the samples lie on every stride-th row and column.
[[nodiscard]] Eigen::Matrix2d correlated_covariance(
    const std::vector<GreySample>& samples, const std::vector<double>& residuals,
    const std::vector<Eigen::Vector2d>& influence_px_per_grey, double redundancy, int stride = 1);

}  // namespace measure
