// A dimension sheet of 300 dimensions and 30 photographs of 24 megapixels: time and memory of
// gathering, paper and page. Made at the start, in a folder of its own that goes at the end.
#include <chrono>
#include <cstdio>
#include <ctime>
#include <filesystem>
#include <random>
#include <string>

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "measure/sheet/dimension_page.h"
#include "measure/sheet/dimension_pdf.h"
#include "measure/sheet/sheet_content.h"
#include "tests/support/simulated_survey.h"

namespace {

using namespace measure;

constexpr int kPhotos = 30, kPoints = 220, kDimensions = 300;
constexpr double kLarger = 1.5;  // than the simulated camera: 6000 × 4500 px

/// A survey of larger photos, and 300 dimensions of all kinds between neighbouring points.
testing_support::SimulatedSurvey make_survey() {
  auto survey = testing_support::make_simulated_survey(
      {.photo_count = kPhotos, .point_count = kPoints, .marks_a_point = 12});
  calib::Camera& camera = survey.cameras.at("body");
  calib::IntrinsicVector scale = calib::IntrinsicVector::Ones();
  scale.head<4>().setConstant(kLarger);
  calib::IntrinsicVector values = camera.intrinsics.vector().cwiseProduct(scale);
  values.segment<2>(calib::kCx).array() += (kLarger - 1) / 2;  // pixel centres
  camera.intrinsics = calib::Intrinsics::from_vector(values);
  camera.covariance = scale.asDiagonal() * camera.covariance * scale.asDiagonal();
  Dossier& dossier = survey.dossier;
  camera.image_size = {6000, 4500};
  for (Photo& photo : dossier.photos) photo.size = camera.image_size;
  for (Mark& mark : dossier.marks) {
    mark.position_px = kLarger * (mark.position_px + Eigen::Vector2d::Constant(0.5)) -
                       Eigen::Vector2d::Constant(0.5);
    mark.sigma_px *= kLarger;
  }
  dossier.replica_scales = {{72, 0}};
  dossier.dimensions.clear();
  std::mt19937 random(3);
  const auto point = [&] { return dossier.points[random() % kPoints].name; };
  for (int d = 0; d < kDimensions; ++d) {
    std::vector<std::string> names;
    while (names.size() < 5) {
      const std::string name = point();
      if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
    }
    DimensionKind kind = Distance{names[0], names[1]};
    switch (d % 10) {
      case 6:
        kind = DistanceAlong{names[0], names[1], names[2], names[3]};
        break;
      case 7:
        kind = Angle{names[0], names[1], names[2]};
        break;
      case 8:
        kind = OffsetFromLine{names[0], names[1], names[2]};
        break;
      case 9:
        kind = OffsetFromPlane{names[0], {names[1], names[2], names[3], names[4]}};
        break;
      default:
        break;
    }
    dossier.dimensions.push_back({"dimension number " + std::to_string(d + 1), kind});
  }
  return survey;
}

/// In a process of its own, so that its memory is not counted.
void make_photos(const std::filesystem::path& folder) {
  const pid_t child = fork();
  if (child == 0) {
    cv::Mat coarse(450, 600, CV_8UC3), photo, grain(4500, 6000, CV_8UC3);
    cv::theRNG().state = 7;
    cv::randu(coarse, 30, 220);
    cv::resize(coarse, photo, {6000, 4500}, 0, 0, cv::INTER_CUBIC);
    cv::randn(grain, 8, 4);
    photo += grain;
    for (int p = 1; p <= kPhotos; ++p) {
      const auto file = folder / ("photo " + std::to_string(p) + ".jpg");
      if (p == 1) {
        cv::imwrite(file.string(), photo, {cv::IMWRITE_JPEG_QUALITY, 92});
      } else {
        std::filesystem::copy_file(folder / "photo 1.jpg", file);
      }
    }
    _exit(0);
  }
  int status = 0;
  waitpid(child, &status, 0);
}

class Stage {
 public:
  explicit Stage(const char* name) : name_(name) {}
  ~Stage() {
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    const double seconds =
        std::chrono::duration<double>(std::chrono::steady_clock::now() - start_).count();
    std::printf("%-28s %7.2f s wall %7.2f s processor   peak memory %5ld MiB\n", name_, seconds,
                static_cast<double>(std::clock() - processor_) / CLOCKS_PER_SEC,
                usage.ru_maxrss / 1024);
  }

 private:
  const char* name_;
  std::chrono::steady_clock::time_point start_ = std::chrono::steady_clock::now();
  std::clock_t processor_ = std::clock();
};

}  // namespace

int main() {
  const auto folder =
      std::filesystem::temp_directory_path() / ("sheet_benchmark_" + std::to_string(getpid()));
  std::filesystem::create_directories(folder);
  make_photos(folder);
  int code = 1;
  {
    const auto simulated = make_survey();
    auto survey = [&] {
      const Stage stage("solving (not the sheet's)");
      return solve_survey(simulated.dossier, simulated.cameras);
    }();
    if (survey) {
      const auto results = evaluate_dimensions(*survey, simulated.dossier);
      SheetOptions options;
      options.date = "2025-05-17";
      options.photo_file = [&](const Photo& photo) { return folder / photo.file; };
      const Stage all("the sheet");
      auto content = [&] {
        const Stage stage("  gathering");
        return gather_sheet(*survey, simulated.dossier, simulated.cameras, results, options);
      }();
      if (content) {
        auto pdf = [&] {
          const Stage stage("  paper");
          return dimension_pdf(*content);
        }();
        const std::string page = [&] {
          const Stage stage("  page");
          return dimension_page(*content);
        }();
        if (pdf) {
          std::printf("%zu dimensions, %zu pictures; PDF %.1f MB, page %.1f MB\n",
                      content->dimensions.size(), content->pictures.size(),
                      static_cast<double>(pdf->size()) / 1e6,
                      static_cast<double>(page.size()) / 1e6);
          code = 0;
        }
      } else {
        std::printf("%s\n", content.error().sentence.c_str());
      }
    } else {
      std::printf("%s\n", survey.error().sentence.c_str());
    }
  }
  std::filesystem::remove_all(folder);
  return code;
}
