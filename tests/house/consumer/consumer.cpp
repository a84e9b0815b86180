// A box of known size, seen by four made cameras, measured with the installed libraries.
#include <cmath>
#include <cstdio>
#include <map>
#include <string>

#include <Eigen/Geometry>

#include "calib/camera/camera.h"
#include "calib/camera/projection.h"
#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/dimension/quantity_text.h"

namespace {

/// Looks at the origin from `centre`.
calib::Pose looking_from(const Eigen::Vector3d& centre) {
  const Eigen::Vector3d z = -centre.normalized();
  const Eigen::Vector3d x = z.cross(Eigen::Vector3d::UnitZ()).normalized();
  Eigen::Matrix3d rotation;
  rotation << x.transpose(), z.cross(x).transpose(), z.transpose();
  return calib::Pose::from_matrix(rotation, -rotation * centre);
}

}  // namespace

int main() {
  calib::Camera camera;
  camera.name = "body";
  camera.image_size = {4000, 3000};
  camera.intrinsics = {3500, 3500, 2000, 1500, -0.05, 0.01, 0, 0, 0};

  measure::Dossier dossier;
  dossier.name = "box";
  dossier.cameras.push_back({"body", "body.json", "", measure::CameraUse::kFixed});
  std::map<std::string, Eigen::Vector3d> corners_mm;
  for (int i = 0; i < 8; ++i) {
    const std::string name = "corner " + std::to_string(i);
    corners_mm[name] = Eigen::Vector3d(i & 1 ? 100 : -100, i & 2 ? 60 : -60, i & 4 ? 40 : -40);
    dossier.points.push_back({name, ""});
  }
  int n = 0;
  for (const Eigen::Vector3d& centre :
       {Eigen::Vector3d(700, 100, 300), Eigen::Vector3d(-200, 650, 420),
        Eigen::Vector3d(-600, -300, 350), Eigen::Vector3d(250, -700, 500)}) {
    const std::string photo = "photo " + std::to_string(++n);
    dossier.photos.push_back({photo, photo + ".jpg", "", camera.image_size, "body"});
    for (const auto& [point, position_mm] : corners_mm) {
      const auto px = calib::project(camera.intrinsics, looking_from(centre), position_mm);
      // Marks by hand are off by some tenths of a pixel.
      const Eigen::Vector2d error(0.3 * std::sin(7.0 * dossier.marks.size()),
                                  0.3 * std::cos(5.0 * dossier.marks.size()));
      dossier.marks.push_back({photo, point, px + error});
    }
  }
  dossier.bars.push_back({"length", "corner 0", "corner 1", 200.0, 0.02});
  dossier.dimensions.push_back({"height", measure::Distance{"corner 0", "corner 4"}});

  const auto survey = measure::solve_survey(dossier, {{"body", camera}});
  if (!survey) {
    std::puts(survey.error().sentence.c_str());
    return 1;
  }
  for (const auto& result : measure::evaluate_dimensions(*survey, dossier)) {
    std::printf("%s (%s): %s, truth 80 mm\n", result.name.c_str(), result.scale.c_str(),
                measure::result_text(result, measure::TextUnit::kMm).c_str());
    // 3 u hold the truth in all but 0.3 % of the cases; the errors above are fixed, so this one is.
    if (!result.problem.empty() || !(std::abs(result.value - 80.0) < 3 * result.u)) return 1;
  }
  return 0;
}
