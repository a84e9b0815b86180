// Corners of the sample photographs in Debian's opencv-doc (left01 … left14, right01 … right14; no
// 10).
#pragma once

#include <string>
#include <vector>

#include <Eigen/Core>

#include "calib/intrinsics/solve_intrinsics.h"

namespace testing_support {

inline constexpr calib::ImageSize kPublishedBoardSize{640, 480};

/// The 9×6 inner corners, 30 mm squares (CHECKS 1.4).
[[nodiscard]] std::vector<Eigen::Vector3d> published_board_mm(double square_mm = 30.0);

/// Path of one of the package's files; throws std::runtime_error with the remedy if it is missing.
[[nodiscard]] std::string opencv_data(const std::string& file);

/// All 13 photos of a side ("left" or "right").
[[nodiscard]] std::vector<std::string> published_board_files(const std::string& side);

/// Corners as the published tables were made: findChessboardCorners, cornerSubPix with that
/// half-window (0: none). σ 0.1 px for all.
[[nodiscard]] std::vector<calib::CornerSet> corners_by_fixed_window(const std::string& side,
                                                                    int half_window);

/// The same photos through our own finder, σ evened out as calibrate() does.
[[nodiscard]] const std::vector<calib::CornerSet>& corners_by_our_finder(const std::string& side);

}  // namespace testing_support
