#include "measure/store/forms_json.h"

#include "calib/file/versioned_json.h"
#include "measure/store/results_json.h"

namespace measure {
namespace {

using calib::finite_or_null;
using calib::Json;

std::string one_line(const Json& json) {
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

Json text_or_null(const std::string& text) { return text.empty() ? Json(nullptr) : Json(text); }

template <typename Vector>
Json json_of_vector(const Vector& vector) {
  Json list = Json::array();
  for (Eigen::Index i = 0; i < vector.size(); ++i) list.push_back(finite_or_null(vector[i]));
  return list;
}

template <typename Matrix>
Json json_of_matrix(const Matrix& matrix) {
  Json rows = Json::array();
  for (Eigen::Index i = 0; i < matrix.rows(); ++i) {
    rows.push_back(json_of_vector(Eigen::VectorXd(matrix.row(i).transpose())));
  }
  return rows;
}

Json json_of(const FormTest& test) {
  return {{"within", test.within},
          {"deviation", finite_or_null(test.deviation)},
          {"u_deviation", finite_or_null(test.u_deviation)},
          {"form_sigma", finite_or_null(test.form_sigma)},
          {"statistic", finite_or_null(test.statistic)},
          {"critical", finite_or_null(test.critical)},
          {"degrees_of_freedom", test.degrees_of_freedom}};
}

Json json_of(const PairDepartureResult& pair) {
  return {
      {"first", pair.first},
      {"second", pair.second},
      {"value", finite_or_null(pair.value)},
      {"u", finite_or_null(pair.u)},
      {"vector", json_of_vector(pair.vector)},
      {"interval", pair.interval ? Json({pair.interval->first, pair.interval->second}) : Json()},
      {"symmetric", pair.symmetric}};
}

bool has_radius(FormKind kind) {
  return kind == FormKind::kCircle || kind == FormKind::kSphere || kind == FormKind::kCylinder;
}
bool has_direction(FormKind kind) { return kind != FormKind::kPoint && kind != FormKind::kSphere; }

Json json_of(const FormResult& result) {
  Json json = {
      {"name", result.name}, {"origin", result.origin}, {"problem", text_or_null(result.problem)}};
  if (!result.problem.empty()) {
    return json;
  }
  const Form& form = result.form;
  json["form"] = form_word(form.kind);
  json["position"] = json_of_vector(form.position);
  json["direction"] = has_direction(form.kind) ? json_of_vector(form.direction) : Json();
  json["radius"] = has_radius(form.kind) ? finite_or_null(form.radius) : Json();
  json["half_angle_rad"] = form.kind == FormKind::kCone ? finite_or_null(form.half_angle) : Json();
  json["covariance"] = json_of_matrix(result.covariance);
  if (result.test) {
    json["form_test"] = json_of(*result.test);
  }
  if (!result.departures.empty()) {
    json["departures"] = Json::array();
    for (const PointDeparture& point : result.departures) {
      json["departures"].push_back({{"point", point.point},
                                    {"departure", finite_or_null(point.departure)},
                                    {"u", finite_or_null(point.u)}});
    }
  }
  if (!result.pairs.empty()) {
    json["pairs"] = Json::array();
    for (const PairDepartureResult& pair : result.pairs) json["pairs"].push_back(json_of(pair));
  }
  if (result.gap) {
    json["gap"] = finite_or_null(*result.gap);
  }
  return json;
}

std::string_view unit_of(const SurveyReport& report) {
  return report.unit == LengthUnit::kMillimetre ? "mm" : "free";
}

std::string_view word_of(Contribution::What what) {
  switch (what) {
    case Contribution::What::kMark:
      return "mark";
    case Contribution::What::kShapeMark:
      return "marks on shape";
    case Contribution::What::kCamera:
      return "camera";
    case Contribution::What::kBar:
      return "bar";
    case Contribution::What::kShared:
      return "shared";
    case Contribution::What::kDefinition:
      return "definition";
  }
  return "";
}

}  // namespace

std::string forms_json(const std::vector<FormResult>& forms, const SurveyReport& report) {
  Json json = {{"unit", unit_of(report)},
               {"shapes", Json::array()},
               {"temperature", report.temperature_sentence},
               {"warnings", report.warnings}};
  for (const FormResult& form : forms) {
    json["shapes"].push_back(json_of(form));
  }
  return one_line(json);
}

std::string coordinates_json(const std::vector<CoordinatesResult>& coordinates, bool in_model_axes,
                             const SurveyReport& report) {
  Json json = {{"unit", unit_of(report)},
               {"axes", in_model_axes ? "model" : "survey"},
               {"points", Json::array()},
               {"warnings", report.warnings}};
  for (const CoordinatesResult& point : coordinates) {
    Json entry = {{"name", point.name}, {"problem", text_or_null(point.problem)}};
    if (point.problem.empty()) {
      entry["x"] = finite_or_null(point.value.x());
      entry["y"] = finite_or_null(point.value.y());
      entry["z"] = finite_or_null(point.value.z());
      entry["covariance"] = json_of_matrix(point.covariance);
    }
    json["points"].push_back(std::move(entry));
  }
  return one_line(json);
}

std::string explanation_json(const Explanation& explanation) {
  Json json = {{"dimension", json_of(std::vector<DimensionResult>{explanation.result}).front()},
               {"contributions", Json::array()},
               {"by_photo", Json::array()}};
  for (const Contribution& c : explanation.contributions) {
    json["contributions"].push_back({{"what", word_of(c.what)},
                                     {"photo", text_or_null(c.photo)},
                                     {"item", text_or_null(c.item)},
                                     {"share", finite_or_null(c.share)},
                                     {"u", finite_or_null(c.u)}});
  }
  for (const auto& [photo, share] : explanation.by_photo) {
    json["by_photo"].push_back({{"photo", photo}, {"share", finite_or_null(share)}});
  }
  return one_line(json);
}

}  // namespace measure
