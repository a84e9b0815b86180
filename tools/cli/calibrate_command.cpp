#include <algorithm>
#include <cmath>
#include <ctime>
#include <filesystem>

#include "calib/file/atomic_write.h"
#include "calib/file/calibration_json.h"
#include "calib/file/camera_file.h"
#include "calib/intrinsics/calibrate.h"
#include "calib/intrinsics/quality_pictures.h"
#include "measure/dimension/camera_text.h"
#include "measure/dimension/quantity_text.h"
#include "measure/edit/name_rules.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/table.h"
#include "tools/cli/typed.h"

namespace cli {
namespace {

namespace fs = std::filesystem;

std::string now_iso8601() {
  const std::time_t now = std::time(nullptr);
  std::tm utc{};
  ::gmtime_r(&now, &utc);
  char text[32];
  std::strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &utc);
  return text;
}

Typed<calib::CalibrateOptions> options_of(const CalibrateCommand& command) {
  calib::CalibrateOptions options;
  options.camera_name =
      command.name.empty() ? fs::path(command.output).stem().string() : command.name;
  if (const auto problem = measure::name_problem(options.camera_name, "camera")) {
    return refused(*problem);
  }
  options.date = now_iso8601();
  options.solve.shape = command.board_shape == "perfect" ? calib::BoardShape::kPerfect
                        : command.board_shape == "free"  ? calib::BoardShape::kFree
                                                         : calib::BoardShape::kPrior;
  for (const std::string& name : command.hold) {
    const auto at = std::find(calib::kIntrinsicNames.begin(), calib::kIntrinsicNames.end(), name);
    if (at == calib::kIntrinsicNames.end()) {
      return refused("--hold: \"" + name +
                     "\" is no parameter: give some of fx fy cx cy k1 k2 p1 p2 k3.");
    }
    options.solve.free[static_cast<std::size_t>(at - calib::kIntrinsicNames.begin())] = false;
  }
  return options;
}

void print_parameters(const calib::Camera& camera) {
  Table table({"parameter", "value ± u", ""});
  for (const measure::ParameterText& parameter : measure::parameter_texts(camera)) {
    table.add({parameter.name, parameter.value, parameter.held ? "held, not determined here" : ""});
  }
  say(table.text());
}

void print_photos(const calib::Camera& camera) {
  Table table({"photo", "used", "rms px", "reason"},
              {Align::kLeft, Align::kLeft, Align::kRight, Align::kLeft});
  for (const calib::CalibrationPhoto& photo : camera.photos) {
    table.add({photo.file, photo.used ? "yes" : "no", photo.rms_px ? fixed(*photo.rms_px, 3) : "",
               photo.reason});
  }
  say(table.text());
}

void print(const calib::Camera& camera) {
  print_photos(camera);
  print_parameters(camera);
  say("rms " + fixed(camera.rms_px, 3) + " px, sigma0 " + fixed(camera.sigma0, 2) +
      ", redundancy " + std::to_string(camera.redundancy));
  if (camera.board && camera.board->flatness_mm && camera.board->flatness_u_mm) {
    say("The board is flat to " +
        measure::length_text(*camera.board->flatness_mm, 2.0 * *camera.board->flatness_u_mm,
                             measure::TextUnit::kMm)
            .joined() +
        " (k = 2).");
  }
  for (const std::string& sentence : camera.warnings) {
    warn(sentence);
  }
}

}  // namespace

Outcome run(const CalibrateCommand& command) {
  const auto board = typed_board(command.inner, command.square);
  if (!board) {
    return calib::Unexpected(board.error());
  }
  const auto options = options_of(command);
  if (!options) {
    return calib::Unexpected(options.error());
  }
  const std::vector<fs::path> photos(command.photos.begin(), command.photos.end());
  const auto calibration = [&] {
    Progress progress;
    return calib::calibrate(photos, *board, *options, [&](const calib::CalibrateProgress& step) {
      progress.show(std::to_string(step.done) + "/" + std::to_string(step.total) + " " + step.file +
                    ": " + (step.found ? "found" : step.reason));
    });
  }();
  if (!calibration) {
    return calib::Unexpected(calibration.error());
  }
  const fs::path folder = fs::path(command.output).parent_path();
  std::error_code ignored;
  if (!folder.empty()) {
    fs::create_directories(folder, ignored);  // if that fails, the write says why
  }
  if (auto written = calib::write_camera(command.output, calibration->camera); !written) {
    return written;
  }
  const auto write_picture = [&](const std::string& file,
                                 std::string (*picture)(const calib::IntrinsicsSolution&)) {
    return file.empty() ? Outcome(calib::Done{})
                        : calib::atomic_write(file, picture(calibration->solution));
  };
  if (auto written = write_picture(command.residual_picture, calib::residual_picture); !written) {
    return written;
  }
  if (auto written = write_picture(command.coverage_picture, calib::coverage_picture); !written) {
    return written;
  }
  if (command.json) {
    say(calib::calibration_json(calibration->camera));
    return calib::Done{};
  }
  print(calibration->camera);
  say("Wrote " + command.output + ".");
  return calib::Done{};
}

}  // namespace cli
