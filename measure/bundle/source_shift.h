// A shift between sources of marks: half a pixel is the sign of another pixel origin. For this room
// only.
#pragma once

#include <string>
#include <vector>

#include "calib/adjust/covariance.h"
#include "calib/adjust/network.h"
#include "measure/bundle/survey_network.h"

namespace measure::internal {

/// Sentences for sources whose marks lie near half a pixel off the others in both axes.
///
/// A shift of ALL marks is absorbed by the poses and cannot be seen; between sources it can. The
/// shift δ of one source is the two extra unknowns of its marks: with B = −1/σ on their residuals
/// and v the residuals, δ̂ = (BᵀRB)⁻¹Bᵀv, Σ_δ = (BᵀRB)⁻¹, R = I − J Q Jᵀ.
[[nodiscard]] std::vector<std::string> shifts_between_sources(
    const calib::adjust::Network& network, const calib::adjust::Covariance& covariance,
    const SurveyNetwork& parts, const Observed& observed);

}  // namespace measure::internal
