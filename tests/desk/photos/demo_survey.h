// A small dossier on disk that a survey can be solved of: photographs of nothing, marks by formula.
#pragma once

#include <filesystem>
#include <string>

#include <gtest/gtest.h>

#include "calib/board/photo_hash.h"
#include "calib/camera/projection.h"
#include "calib/file/camera_file.h"
#include "measure/edit/apply.h"
#include "measure/store/dossier_file.h"
#include "tests/desk/photos/painted_photo.h"

namespace testing_support {

struct DemoSurvey {
  static constexpr int kWidth = 1200, kHeight = 900, kPhotos = 6;
  calib::Intrinsics intrinsics{1300, 1300, 600, 450, -0.25, 0.03, 0, 0, 0};
  std::vector<calib::Pose> poses;
  std::vector<std::pair<std::string, Eigen::Vector3d>> points;

  [[nodiscard]] Eigen::Vector2d place(int photo, std::size_t point) const {
    return calib::project(intrinsics, poses[photo], points[point].second);
  }
};

/// Writes dossier, camera and photographs into `folder`. Points P1 … P12 on two planes, photos
/// a1.jpg … a6.jpg on an arc; every point is marked in every photo with σ 0.2 px and errors of
/// that size, but P12 not in the last. A bar, a distance "edge" P1–P4.
inline DemoSurvey write_demo_survey(const std::filesystem::path& folder) {
  DemoSurvey demo;
  std::filesystem::create_directories(folder / "photos");
  std::filesystem::create_directories(folder / "cameras");
  for (int i = 0; i < 12; ++i) {
    demo.points.emplace_back(std::string("P").append(std::to_string(i + 1)),
                             Eigen::Vector3d(100.0 * (i % 4) - 150, 85.0 * (i / 4) - 85,
                                             i % 2 ? 25.0 * (i % 3) : -30.0 + 7 * i));
  }
  for (int p = 0; p < DemoSurvey::kPhotos; ++p) {
    const double angle = 0.25 * (p - 2.5);
    const Eigen::Matrix3d turn = calib::rotation_from_vector(Eigen::Vector3d(0.1 * (p % 2), 0, 0)) *
                                 calib::rotation_from_vector(Eigen::Vector3d(0, angle, 0));
    demo.poses.push_back(calib::Pose::from_matrix(turn, Eigen::Vector3d(0, 0, 520)));
  }
  calib::Camera camera;
  camera.name = "body";
  camera.image_size = {DemoSurvey::kWidth, DemoSurvey::kHeight};
  camera.intrinsics = demo.intrinsics;
  camera.covariance = calib::IntrinsicMatrix::Identity() * 1e-8;
  camera.rms_px = 0.1;
  camera.sigma0 = 1.0;
  camera.redundancy = 1000;
  camera.date = "2024-01-01";
  const auto camera_file = folder / "cameras" / "body.json";
  EXPECT_TRUE(calib::write_camera(camera_file, camera));

  measure::Dossier dossier;
  const auto edit = [&](const measure::Edit& what) {
    const auto applied = measure::apply(what, dossier);
    EXPECT_TRUE(applied) << (applied ? "" : applied.error().sentence);
  };
  edit(measure::SetDossierName{"demo"});
  edit(measure::AddCamera{{"body", "cameras/body.json", *calib::sha256_of_file(camera_file),
                           measure::CameraUse::kFixed}});
  cv::RNG random(5);
  for (int p = 0; p < DemoSurvey::kPhotos; ++p) {
    const std::string name = "a" + std::to_string(p + 1) + ".jpg";
    const auto file = folder / "photos" / name;
    write_photo(file, painted_photo(DemoSurvey::kWidth, DemoSurvey::kHeight, 10 + p));
    edit(measure::AddPhoto{{name,
                            "photos/" + name,
                            *calib::sha256_of_file(file),
                            {DemoSurvey::kWidth, DemoSurvey::kHeight},
                            "body",
                            1,
                            ""}});
  }
  for (const auto& [name, ignored] : demo.points) edit(measure::AddPoint{{name, ""}});
  measure::SetMarks marks;
  for (int p = 0; p < DemoSurvey::kPhotos; ++p) {
    for (std::size_t i = 0; i < demo.points.size(); ++i) {
      const Eigen::Vector2d error(random.gaussian(0.2), random.gaussian(0.2));
      if (p == DemoSurvey::kPhotos - 1 && i == 11) continue;
      marks.marks.push_back({"a" + std::to_string(p + 1) + ".jpg", demo.points[i].first,
                             demo.place(p, i) + error, 0.2, measure::MarkSource::kByHand, false});
    }
  }
  edit(marks);
  const double length = (demo.points[8].second - demo.points[11].second).norm();
  edit(measure::AddBar{
      {"bar", "P9", "P12", length, 0.01, 0.0, "", std::nullopt, std::nullopt, false}});
  edit(measure::AddDimension{{"edge", measure::Distance{"P1", "P4"}}, std::nullopt});
  EXPECT_TRUE(measure::write_dossier(folder, dossier));
  return demo;
}

}  // namespace testing_support
