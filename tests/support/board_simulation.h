// Photos of a printed board as corner lists, from a known camera: for tests of the calibration.
#pragma once

#include <cstdint>
#include <vector>

#include <Eigen/Core>

#include "calib/camera/projection.h"
#include "calib/intrinsics/solve_intrinsics.h"

namespace testing_support {

/// Name what the test is about and leave the rest.
struct BoardSimulationSpec {
  int photo_count = 12;
  int columns = 9, rows = 6;
  double square_mm = 25.0;
  /// In place of the grid, if given.
  std::vector<Eigen::Vector3d> pattern_mm{};
  calib::ImageSize size{2000, 1333};
  calib::Intrinsics camera{.fx = 2000.0,
                           .fy = 2004.0,
                           .cx = 1012.0,
                           .cy = 655.0,
                           .k1 = -0.12,
                           .k2 = 0.08,
                           .p1 = 0.0005,
                           .p2 = -0.0003,
                           .k3 = 0.01};
  double noise_px = 0.1;  ///< of a coordinate
  double sigma_px = 0.1;  ///< what the corners say of themselves
  double least_tilt_deg = 15.0, largest_tilt_deg = 45.0;
  double fill = 0.75;       ///< of the board in the frame
  bool draw_board = false;  ///< the true board is drawn from `prior`
  calib::BoardPrior prior{};
  double bow_mm = 0.0;     ///< the board's middle line stands out by this along x
  double refocus = 0.0;    ///< focal length of the second half of the photos longer by this part
  std::uint32_t seed = 1;  ///< fixed, so that a failure can be repeated
};

struct BoardSimulation {
  std::vector<Eigen::Vector3d> nominal_mm, true_mm;
  std::vector<calib::CornerSet> sets;  ///< corners outside the frame are missing
  std::vector<calib::Pose> poses;
  calib::Intrinsics camera;
  calib::ImageSize size;
};

[[nodiscard]] BoardSimulation simulate_board(const BoardSimulationSpec& spec = {});

}  // namespace testing_support
