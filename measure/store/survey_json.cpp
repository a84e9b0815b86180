#include "measure/store/survey_json.h"

#include "measure/store/dossier_json.h"
#include "measure/store/results_json.h"

namespace measure {
namespace {

using calib::finite_or_null;
using calib::Json;

Json optional_json(const std::optional<double>& value) {
  return value ? finite_or_null(*value) : Json(nullptr);
}

/// A reason, or null where there is none.
Json reason_json(const std::string& reason) {
  return reason.empty() ? Json(nullptr) : Json(reason);
}

Json json_of(const PhotoReport& photo, const Dossier& dossier) {
  const Photo* known = dossier.find_photo(photo.name);
  Json json = {{"name", photo.name},
               {"file", known != nullptr ? known->file : photo.name},
               {"placed", photo.placed},
               {"reason", reason_json(photo.reason)},
               {"rms_px", optional_json(photo.rms_px)},
               {"marks", photo.marks}};
  if (photo.placed) {
    json["rotation_vector_rad"] = {photo.pose.rotation.x(), photo.pose.rotation.y(),
                                   photo.pose.rotation.z()};
    json["translation"] = {photo.pose.translation.x(), photo.pose.translation.y(),
                           photo.pose.translation.z()};
  }
  return json;
}

Json json_of(const PointReport& point) {
  Json json = {
      {"name", point.name},   {"placed", point.placed}, {"reason", reason_json(point.reason)},
      {"marks", point.marks}, {"x", nullptr},           {"y", nullptr},
      {"z", nullptr},         {"covariance", nullptr}};
  if (point.placed && point.position.allFinite() && point.covariance.allFinite()) {
    json["x"] = point.position.x();
    json["y"] = point.position.y();
    json["z"] = point.position.z();
    json["covariance"] = Json::array();
    for (int i = 0; i < 3; ++i) {
      json["covariance"].push_back(
          {point.covariance(i, 0), point.covariance(i, 1), point.covariance(i, 2)});
    }
  }
  return json;
}

Json json_of(const MarkReport& mark) {
  return {{"photo", mark.photo},
          {"point", mark.point},
          {"dx_px", finite_or_null(mark.residual_px.x())},
          {"dy_px", finite_or_null(mark.residual_px.y())},
          {"w", mark.controlled ? finite_or_null(mark.w) : Json(nullptr)},
          {"critical_w", finite_or_null(mark.critical_w)},
          {"redundancy", finite_or_null(mark.redundancy)},
          {"controlled", mark.controlled},
          {"in_use", mark.in_use}};
}

Json json_of(const ShapeMarkReport& mark) {
  return {{"photo", mark.photo},
          {"shape", mark.shape},
          {"x_px", finite_or_null(mark.position_px.x())},
          {"y_px", finite_or_null(mark.position_px.y())},
          {"off_px", finite_or_null(mark.residual_px)},
          {"w", mark.controlled ? finite_or_null(mark.w) : Json(nullptr)},
          {"critical_w", finite_or_null(mark.critical_w)},
          {"redundancy", finite_or_null(mark.redundancy)},
          {"controlled", mark.controlled},
          {"in_use", mark.in_use},
          {"doubted", mark.doubted}};
}

Json json_of(const DoubtedMarkName& mark) {
  Json json = {{"photo", mark.photo}, {"w", finite_or_null(mark.w)}};
  if (mark.shape.empty()) {
    json["point"] = mark.point;
  } else {
    json["shape"] = mark.shape;
    json["x_px"] = finite_or_null(mark.position_px.x());
    json["y_px"] = finite_or_null(mark.position_px.y());
  }
  return json;
}

Json json_of(const BarReport& bar) {
  const bool compared = bar.reason.empty();
  return {{"name", bar.name},
          {"used", bar.used},
          {"reason", reason_json(bar.reason)},
          {"certified_mm", finite_or_null(bar.certified_mm)},
          {"u_mm", finite_or_null(bar.u_mm)},
          {"found_mm", compared ? finite_or_null(bar.found_mm) : Json(nullptr)},
          {"checked", compared && bar.checked},
          // An unchecked bar fits by itself: 0 ± 0 would say that it is right.
          {"error_mm", compared && bar.checked ? finite_or_null(bar.error_mm) : Json(nullptr)},
          {"u_error_mm", compared && bar.checked ? finite_or_null(bar.u_error_mm) : Json(nullptr)},
          {"contradicts", bar.contradicts}};
}

Json json_of(const CameraReport& camera) {
  Json parameters = Json::object();
  const calib::IntrinsicVector values = camera.intrinsics.vector();
  for (int i = 0; i < calib::kIntrinsicCount; ++i) {
    const double variance = camera.covariance(i, i);
    parameters[std::string(calib::kIntrinsicNames[static_cast<std::size_t>(i)])] = {
        {"value", finite_or_null(values[i])},
        // A held parameter has no variance: 0 would say that it is known exactly.
        {"u", variance > 0.0 ? finite_or_null(std::sqrt(variance)) : Json(nullptr)}};
  }
  return {{"name", camera.name},
          {"use", word_of(camera.use)},
          {"parameters", parameters},
          {"as_calibrated", camera.as_calibrated},
          {"change_d2", optional_json(camera.change_d2)},
          {"changed_parameter", reason_json(camera.changed_parameter)}};
}

Json groups_json(const SurveyReport& report) {
  Json groups = Json::array();
  for (std::size_t i = 0; i < report.fit.groups.size() && i < report.group_names.size(); ++i) {
    const auto& group = report.fit.groups[i];
    groups.push_back({{"name", report.group_names[i]},
                      {"observations", group.observations},
                      {"redundancy", finite_or_null(group.redundancy)},
                      {"s0", finite_or_null(group.s0)},
                      {"estimated", group.factor_estimated}});
  }
  return groups;
}

std::string_view unit_word(DimensionUnit unit) {
  switch (unit) {
    case DimensionUnit::kMillimetre:
      return "mm";
    case DimensionUnit::kSquareMillimetre:
      return "mm2";
    case DimensionUnit::kRadian:
      return "rad";
    case DimensionUnit::kRatio:
      return "ratio";
  }
  return "";
}

Json json_of(const DimensionResult& dimension) {
  Json json = {{"name", dimension.name},
               {"kind", dimension.kind},
               {"scale", dimension.scale},
               {"unit", unit_word(dimension.unit)},
               {"problem", reason_json(dimension.problem)}};
  calib::put_if(json, "note", dimension.note);
  if (dimension.unit == DimensionUnit::kRatio) {
    json["reference"] = dimension.reference;
  }
  if (!dimension.problem.empty()) {
    // Such numbers mean nothing, so none are given.
    for (const char* key :
         {"value", "u", "U", "k", "effective_dof", "interval", "external_reliability"}) {
      json[key] = nullptr;
    }
    json["budget"] = Json::object();
    return json;
  }
  json["value"] = finite_or_null(dimension.value);
  json["u"] = finite_or_null(dimension.u);
  json["U"] = finite_or_null(dimension.U);
  json["k"] = finite_or_null(dimension.k);
  json["effective_dof"] = finite_or_null(dimension.effective_dof);  // null: infinite
  json["interval"] =
      dimension.interval ? Json({dimension.interval->first, dimension.interval->second}) : Json();
  json["external_reliability"] = optional_json(dimension.external_reliability);
  json["budget"] = Json::object();
  for (const auto& [group, share] : dimension.budget) {
    json["budget"][group] = finite_or_null(share);
  }
  return json;
}

Json json_of(const MonteCarloComparison& comparison) {
  return {{"name", comparison.name},
          {"unit", unit_word(comparison.unit)},
          {"runs", comparison.runs},
          {"mean", finite_or_null(comparison.mean)},
          {"sd", finite_or_null(comparison.sd)},
          {"low", finite_or_null(comparison.low)},
          {"high", finite_or_null(comparison.high)},
          {"first_order_u", finite_or_null(comparison.first_order_u)}};
}

std::string one_line(const Json& json) {
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace

Json json_of(const SurveyReport& report, const Dossier& dossier) {
  Json json = {{"unit", report.unit == LengthUnit::kMillimetre ? "mm" : "free"},
               {"rms_px", finite_or_null(report.rms_px)},
               {"sigma0", finite_or_null(report.fit.sigma0)},
               {"sigma0_95_low", finite_or_null(report.fit.sigma0_low)},
               {"sigma0_95_high", finite_or_null(report.fit.sigma0_high)},
               {"redundancy", report.fit.redundancy},
               {"groups", groups_json(report)},
               {"expected_false_doubts", finite_or_null(report.expected_false_doubts)},
               {"datum", report.datum},
               {"temperature", report.temperature_sentence},
               {"warnings", report.warnings}};
  for (const char* list :
       {"photos", "points", "marks", "doubted", "bars", "cameras", "swaps", "one_of_these"}) {
    json[list] = Json::array();
  }
  for (const PhotoReport& photo : report.photos) {
    json["photos"].push_back(json_of(photo, dossier));
  }
  for (const PointReport& point : report.points) {
    json["points"].push_back(json_of(point));
  }
  for (const MarkReport& mark : report.marks) {
    json["marks"].push_back(json_of(mark));
    if (mark.doubted) {
      json["doubted"].push_back(
          {{"photo", mark.photo}, {"point", mark.point}, {"w", finite_or_null(mark.w)}});
    }
  }
  // Only where there are shapes: what reads surveys of points goes on as it was.
  for (const SeenShapeReport& shape : report.shapes) {
    json["shapes"].push_back({{"name", shape.name},
                              {"placed", shape.placed},
                              {"reason", reason_json(shape.reason)},
                              {"marks", shape.marks},
                              {"photos", shape.photos}});
  }
  for (const ShapeMarkReport& mark : report.shape_marks) {
    json["shape_marks"].push_back(json_of(mark));
    if (mark.doubted) {
      json["doubted"].push_back(
          json_of(DoubtedMarkName{mark.photo, "", mark.shape, mark.w, mark.position_px}));
    }
  }
  for (const BarReport& bar : report.bars) {
    json["bars"].push_back(json_of(bar));
  }
  for (const CameraReport& camera : report.cameras) {
    json["cameras"].push_back(json_of(camera));
  }
  for (const auto& [photo, points] : report.swaps) {
    json["swaps"].push_back({{"photo", photo}, {"points", {points.first, points.second}}});
  }
  for (const auto& group : report.one_of_these) {
    Json marks = Json::array();
    for (const auto& [photo, point] : group) {
      marks.push_back({{"photo", photo}, {"point", point}});
    }
    json["one_of_these"].push_back(std::move(marks));
  }
  return json;
}

Json json_of(const std::vector<DimensionResult>& dimensions) {
  Json list = Json::array();
  for (const DimensionResult& dimension : dimensions) {
    list.push_back(json_of(dimension));
  }
  return list;
}

std::string adjust_json(const SurveyReport& report, const Dossier& dossier,
                        const std::vector<std::vector<DoubtedMarkName>>& set_aside) {
  Json json = json_of(report, dossier);
  if (!set_aside.empty()) {
    json["set_aside"] = Json::array();
  }
  for (const auto& round : set_aside) {
    Json marks = Json::array();
    for (const DoubtedMarkName& mark : round) {
      marks.push_back(json_of(mark));
    }
    json["set_aside"].push_back(std::move(marks));
  }
  return one_line(json);
}

std::string dimensions_json(const std::vector<DimensionResult>& dimensions,
                            const std::vector<MonteCarloComparison>& comparisons,
                            const SurveyReport& report) {
  Json json = {{"dimensions", json_of(dimensions)},
               {"temperature", report.temperature_sentence},
               {"warnings", report.warnings}};
  if (!comparisons.empty()) {
    json["monte_carlo"] = Json::array();
    for (const MonteCarloComparison& comparison : comparisons) {
      json["monte_carlo"].push_back(json_of(comparison));
    }
  }
  return one_line(json);
}

}  // namespace measure
