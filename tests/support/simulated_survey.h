// A whole survey drawn from its stochastic model: what is true, and the dossier that a user would
// have made of it.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "calib/camera/camera.h"
#include "calib/camera/projection.h"
#include "measure/dossier/dossier.h"

namespace testing_support {

struct SimulatedSurveySpec {
  int photo_count = 7;
  int point_count = 24;
  double true_sigma_px = 0.5;     ///< with which marks are drawn
  double assumed_sigma_px = 0.5;  ///< what the dossier says
  double blunder_share = 0.0;     ///< of marks moved by 6 to 40 px
  bool bars = true;               ///< two bars of one certificate, with temperature; else none
  bool planar = false;            ///< all points within 0.2 mm of a plane
  int marks_a_point = 0;          ///< 0: all photos
  std::uint32_t seed = 1;
};

struct SimulatedSurvey {
  measure::Dossier dossier;
  std::map<std::string, calib::Camera> cameras;
  std::map<std::string, Eigen::Vector3d> true_points;  ///< mm, at the temperature of the day
  calib::Intrinsics true_camera;
  std::vector<calib::Pose> true_poses;
  double true_temperature_C = 20.0;
  std::vector<std::size_t> blunders;  ///< indices of marks
};

/// Points P01 …, photos "photo 1" …, camera "body"; bars "bar A" between P01 and P02, "bar B"
/// between P03 and P04. Asked dimensions of every kind, near-zero ones among them (their names
/// begin with "near zero").
SimulatedSurvey make_simulated_survey(const SimulatedSurveySpec& spec = {});

/// True value of a dimension between points, mm or radians; NaN of other kinds.
double true_value(const SimulatedSurvey& survey, const measure::DimensionKind& kind);

}  // namespace testing_support
