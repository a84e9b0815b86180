#include "calib/file/camera_file.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include <Eigen/Eigenvalues>

#include "calib/file/atomic_write.h"
#include "calib/file/versioned_json.h"

namespace calib {
namespace {

constexpr FileSchema kSchema{"scantling camera", "camera file", 1, 0};
constexpr int kLargestSide_px = 200'000;
// Correlations are written with all their digits: what is left is the rounding of a division.
constexpr double kRounding = 1e-9;

/// Key of a parameter with its unit: "fx_px", "k1".
std::string key_of(int index) {
  const std::string name(kIntrinsicNames[static_cast<std::size_t>(index)]);
  return index <= kCy ? name + "_px" : name;
}

std::vector<int> free_parameters(const Camera& camera) {
  std::vector<int> free;
  for (int i = 0; i < kIntrinsicCount; ++i) {
    if (!camera.held[static_cast<std::size_t>(i)]) {
      free.push_back(i);
    }
  }
  return free;
}

Json uncertainty_json(const Camera& camera) {
  const std::vector<int> free = free_parameters(camera);
  Json names = Json::array(), held = Json::array(), sd = Json::object(), rows = Json::array();
  for (int i = 0; i < kIntrinsicCount; ++i) {
    (camera.held[static_cast<std::size_t>(i)] ? held : names)
        .push_back(kIntrinsicNames[static_cast<std::size_t>(i)]);
  }
  for (const int i : free) {
    sd[key_of(i)] = std::sqrt(camera.covariance(i, i));
    Json row = Json::array();
    for (const int j : free) {
      const double scale = std::sqrt(camera.covariance(i, i)) * std::sqrt(camera.covariance(j, j));
      // The mean of both halves: the file must be symmetrical whatever the last bit of the sum was.
      const double both = 0.5 * (camera.covariance(i, j) + camera.covariance(j, i));
      row.push_back(i == j ? 1.0 : std::clamp(both / scale, -1.0, 1.0));
    }
    rows.push_back(std::move(row));
  }
  return {{"free", names}, {"held", held}, {"sd", sd}, {"correlation", rows}};
}

Json lens_and_body_json(const LensAndBody& lens_and_body) {
  Json json = Json::object();
  put_if(json, "make", lens_and_body.make);
  put_if(json, "model", lens_and_body.model);
  put_if(json, "lens", lens_and_body.lens);
  put_if(json, "focal_length_mm", lens_and_body.focal_length_mm);
  put_if(json, "focal_length_35mm", lens_and_body.focal_length_35mm);
  return json;
}

Json photo_json(const CalibrationPhoto& photo) {
  Json json = {{"file", photo.file}, {"sha256", photo.sha256}, {"used", photo.used}};
  put_if(json, "reason", photo.reason);
  put_if(json, "rms_px", photo.rms_px);
  return json;
}

Json board_json(const BoardRecord& board) {
  Json json = {{"inner_columns", board.inner_columns},
               {"inner_rows", board.inner_rows},
               {"square_mm", board.square_mm},
               {"shape_estimated", board.shape_estimated}};
  put_if(json, "flatness_mm", board.flatness_mm);
  put_if(json, "flatness_u_mm", board.flatness_u_mm);
  return json;
}

Json json_of(const Camera& camera) {
  Json json = new_file(kSchema);
  json["name"] = camera.name;
  json["image_size_px"] = {{"width", camera.image_size.width},
                           {"height", camera.image_size.height}};
  const IntrinsicVector values = camera.intrinsics.vector();
  for (int i = 0; i < kIntrinsicCount; ++i) {
    json["intrinsics"][key_of(i)] = values[i];
  }
  json["uncertainty"] = uncertainty_json(camera);
  json["lens_and_body"] = lens_and_body_json(camera.lens_and_body);
  put_if(json, "date", camera.date);
  put_if(json, "rms_px", camera.rms_px);
  put_if(json, "sigma0", camera.sigma0);
  json["redundancy"] = camera.redundancy;
  json["photos"] = Json::array();
  for (const CalibrationPhoto& photo : camera.photos) {
    json["photos"].push_back(photo_json(photo));
  }
  if (camera.board) {
    json["board"] = board_json(*camera.board);
  }
  json["warnings"] = camera.warnings;
  return json;
}

/// Which parameters are held: all that the list "free" does not name.
std::array<bool, kIntrinsicCount> held_from(const JsonItem& uncertainty) {
  std::array<int, kIntrinsicCount> named{};
  std::array<bool, kIntrinsicCount> held{};
  for (const bool is_held : {false, true}) {
    for (const JsonItem& name : uncertainty.at(is_held ? "held" : "free").list()) {
      const std::size_t i = name.word(kIntrinsicNames);
      if (++named[i] > 1) {
        name.refuse("is named twice among \"free\" and \"held\"");
      }
      held[i] = is_held;
    }
  }
  for (std::size_t i = 0; i < named.size(); ++i) {
    if (named[i] == 0) {
      uncertainty.refuse("names " + std::string(kIntrinsicNames[i]) +
                         " neither as free nor as held");
    }
  }
  return held;
}

Eigen::MatrixXd correlation_from(const JsonItem& item, Eigen::Index size) {
  const auto rows = item.list();
  if (static_cast<Eigen::Index>(rows.size()) != size) {
    item.refuse("must have " + std::to_string(size) + " rows, one for each free parameter");
  }
  Eigen::MatrixXd correlation(size, size);
  for (Eigen::Index i = 0; i < size; ++i) {
    const auto row = rows[static_cast<std::size_t>(i)].list();
    if (static_cast<Eigen::Index>(row.size()) != size) {
      rows[static_cast<std::size_t>(i)].refuse("must have " + std::to_string(size) + " numbers");
    }
    for (Eigen::Index j = 0; j < size; ++j) {
      correlation(i, j) = row[static_cast<std::size_t>(j)].number();
    }
  }
  if (size == 0) {
    return correlation;
  }
  if ((correlation.diagonal().array() - 1.0).abs().maxCoeff() > kRounding) {
    item.refuse("must have 1 on its diagonal");
  }
  if ((correlation - correlation.transpose()).cwiseAbs().maxCoeff() > kRounding) {
    item.refuse("must be symmetrical");
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(correlation, Eigen::EigenvaluesOnly);
  if (!(eigen.eigenvalues().minCoeff() > -kRounding)) {
    item.refuse("must be positive semi-definite: no set of errors is correlated like that");
  }
  return 0.5 * (correlation + correlation.transpose());
}

void read_uncertainty(const JsonItem& uncertainty, Camera& camera) {
  camera.held = held_from(uncertainty);
  // The list "free" rules the order of rows, so that a file sorted otherwise by hand is still read
  // right.
  std::vector<int> free;
  for (const JsonItem& name : uncertainty.at("free").list()) {
    free.push_back(static_cast<int>(name.word(kIntrinsicNames)));
  }
  const JsonItem sd = uncertainty.at("sd");
  const auto size = static_cast<Eigen::Index>(free.size());
  Eigen::VectorXd sds(size);
  for (Eigen::Index i = 0; i < size; ++i) {
    sds[i] = sd.at(key_of(free[static_cast<std::size_t>(i)])).positive();
  }
  const Eigen::MatrixXd correlation = correlation_from(uncertainty.at("correlation"), size);
  for (Eigen::Index i = 0; i < size; ++i) {
    for (Eigen::Index j = 0; j < size; ++j) {
      camera.covariance(free[static_cast<std::size_t>(i)], free[static_cast<std::size_t>(j)]) =
          sds[i] * sds[j] * correlation(i, j);
    }
  }
  if (!camera.covariance.allFinite()) {
    sd.refuse("is too large to be squared");
  }
}

LensAndBody lens_and_body_from(const JsonItem& item) {
  LensAndBody lens_and_body;
  lens_and_body.make = item.text_or("make", "");
  lens_and_body.model = item.text_or("model", "");
  lens_and_body.lens = item.text_or("lens", "");
  lens_and_body.focal_length_mm = item.find_number("focal_length_mm");
  lens_and_body.focal_length_35mm = item.find_number("focal_length_35mm");
  return lens_and_body;
}

bool is_sha256(const std::string& text) {
  return text.size() == 64 && text.find_first_not_of("0123456789abcdef") == std::string::npos;
}

CalibrationPhoto photo_from(const JsonItem& item) {
  CalibrationPhoto photo;
  photo.file = item.at("file").text();
  photo.sha256 = item.at("sha256").text();
  photo.used = item.at("used").truth();
  photo.reason = item.text_or("reason", "");
  photo.rms_px = item.find_number("rms_px");
  // A photo that could not be read has no hash.
  if (!is_sha256(photo.sha256) && (photo.used || !photo.sha256.empty())) {
    item.at("sha256").refuse("is no SHA-256 of 64 lower-case hexadecimal digits");
  }
  return photo;
}

BoardRecord board_from(const JsonItem& item) {
  BoardRecord board;
  board.inner_columns = item.at("inner_columns").integer(0, 1000);
  board.inner_rows = item.at("inner_rows").integer(0, 1000);
  board.square_mm = item.at("square_mm").not_negative();
  board.shape_estimated = item.truth_or("shape_estimated", false);
  board.flatness_mm = item.find_number("flatness_mm");
  board.flatness_u_mm = item.find_number("flatness_u_mm");
  return board;
}

Camera camera_from(const JsonItem& root) {
  Camera camera;
  camera.name = root.at("name").text();
  if (camera.name.empty()) {
    root.at("name").refuse("is empty");
  }
  const JsonItem size = root.at("image_size_px");
  camera.image_size = {size.at("width").integer(1, kLargestSide_px),
                       size.at("height").integer(1, kLargestSide_px)};
  const JsonItem intrinsics = root.at("intrinsics");
  IntrinsicVector values;
  for (int i = 0; i < kIntrinsicCount; ++i) {
    const JsonItem item = intrinsics.at(key_of(i));
    values[i] = i == kFx || i == kFy ? item.positive() : item.number();
  }
  camera.intrinsics = Intrinsics::from_vector(values);
  read_uncertainty(root.at("uncertainty"), camera);
  if (const auto item = root.find("lens_and_body")) {
    camera.lens_and_body = lens_and_body_from(*item);
  }
  camera.date = root.text_or("date", "");
  camera.rms_px = root.number_or("rms_px", std::numeric_limits<double>::quiet_NaN());
  camera.sigma0 = root.number_or("sigma0", std::numeric_limits<double>::quiet_NaN());
  if (const auto item = root.find("redundancy")) {
    camera.redundancy = item->integer(0, std::numeric_limits<int>::max());
  }
  for (const JsonItem& item : root.list("photos")) {
    camera.photos.push_back(photo_from(item));
  }
  if (const auto item = root.find("board")) {
    camera.board = board_from(*item);
  }
  for (const JsonItem& item : root.list("warnings")) {
    camera.warnings.push_back(item.text());
  }
  return camera;
}

}  // namespace

Result<Camera, Problem> read_camera(const std::filesystem::path& file) {
  const auto json = load_versioned(file, kSchema);
  if (!json) {
    return Unexpected(json.error());
  }
  auto camera = read_json<Camera>(*json, file.string(), camera_from);
  if (camera) {
    camera->unknown_keys = unknown_part(*json, json_of(*camera));
  }
  return camera;
}

std::string camera_text(const Camera& camera) {
  Json json = json_of(camera);
  restore_unknown(json, camera.unknown_keys);
  return pretty_text(json);
}

Result<Done, Problem> write_camera(const std::filesystem::path& file, const Camera& camera) {
  const std::string text = camera_text(camera);
  // A camera that could not be read back must not replace one that can.
  const auto json = parse_json(text, file.string());
  if (!json) {
    return Unexpected(Problem{json.error().sentence, Blame::kOurs});
  }
  if (const auto again = read_json<Camera>(*json, file.string(), camera_from); !again) {
    return Unexpected(
        Problem{"The camera was not saved, because it breaks a rule of its own file: " +
                    again.error().sentence,
                Blame::kOurs});
  }
  return atomic_write(file, text);
}

}  // namespace calib
