#include "calib/file/calibration_json.h"

#include <cmath>

#include "calib/file/versioned_json.h"

namespace calib {
namespace {

Json optional_json(const std::optional<double>& value) {
  return value ? finite_or_null(*value) : Json(nullptr);
}

Json parameters_json(const Camera& camera) {
  Json json = Json::object();
  const IntrinsicVector values = camera.intrinsics.vector();
  for (int i = 0; i < kIntrinsicCount; ++i) {
    const auto at = static_cast<std::size_t>(i);
    const bool held = camera.held[at];
    json[std::string(kIntrinsicNames[at])] = {
        {"value", finite_or_null(values[i])},
        {"u", held ? Json(nullptr) : finite_or_null(std::sqrt(camera.covariance(i, i)))},
        {"held", held}};
  }
  return json;
}

Json board_json(const BoardRecord& board) {
  return {{"inner_columns", board.inner_columns},
          {"inner_rows", board.inner_rows},
          {"square_mm", board.square_mm},
          {"shape_estimated", board.shape_estimated},
          {"flatness_mm", optional_json(board.flatness_mm)},
          {"flatness_u_mm", optional_json(board.flatness_u_mm)}};
}

}  // namespace

std::string calibration_json(const Camera& camera) {
  Json photos = Json::array();
  for (const CalibrationPhoto& photo : camera.photos) {
    photos.push_back({{"file", photo.file},
                      {"used", photo.used},
                      {"reason", photo.used ? Json(nullptr) : Json(photo.reason)},
                      {"rms_px", optional_json(photo.rms_px)}});
  }
  const Json json = {{"camera", camera.name},
                     {"parameters", parameters_json(camera)},
                     {"rms_px", finite_or_null(camera.rms_px)},
                     {"sigma0", finite_or_null(camera.sigma0)},
                     {"redundancy", camera.redundancy},
                     {"photos", photos},
                     {"board", camera.board ? board_json(*camera.board) : Json(nullptr)},
                     {"warnings", camera.warnings}};
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace calib
