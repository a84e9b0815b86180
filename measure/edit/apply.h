// The one door through which a dossier changes.
#pragma once

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/dossier/dossier.h"
#include "measure/edit/edit.h"

namespace measure {

/// Changes the dossier and returns the edit that undoes it: applied next, that gives back the same
/// dossier.
///
/// Cameras, photos, kinds, points, bars (by name), marks and hidden places (by photo, then point)
/// are kept sorted, bytewise; dimensions keep the order in which they are asked. A dossier that
/// only edits have changed is valid.
///
/// Errors: a Problem (kInput) naming the item and the remedy; then nothing has changed. Refused
/// are: names that
///         name_problem refuses or that are taken, references to what is not there, removing what
///         others need, marks outside their photo, lengths and uncertainties that cannot be, points
///         named twice where they must differ, numbers that are not finite.
[[nodiscard]] calib::Result<Edit, calib::Problem> apply(const Edit& edit, Dossier& dossier);

/// Whether a position lies on the photo's pixels, edges included.
[[nodiscard]] bool lies_in_photo(const Eigen::Vector2d& position_px, const calib::ImageSize& size);

}  // namespace measure
