// A camera and a survey's report in which every field that may be missing is there once and missing
// once.
#pragma once

#include <limits>
#include <string>
#include <utility>
#include <vector>

#include "calib/camera/camera.h"
#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/dimension/explain.h"
#include "measure/dimension/form_result.h"
#include "measure/store/stock_json.h"

namespace testing_support {

inline calib::Camera small_camera() {
  calib::Camera camera;
  camera.name = "body";
  camera.image_size = {2400, 1600};
  camera.intrinsics = {2512.5, 2511.5, 1199.25, 800.5, -0.125, 0.1, 1e-4, -2e-4, 0.0};
  camera.held[calib::kK3] = true;
  for (int i = 0; i < calib::kK3; ++i) {
    camera.covariance(i, i) = i <= calib::kCy ? 0.25 : 1e-8;
  }
  camera.covariance(0, 1) = camera.covariance(1, 0) = 0.2;
  camera.lens_and_body = {"Maker", "Body", "50 mm", 50.0, std::nullopt};
  camera.date = "2026-11-25T12:00:00Z";
  camera.rms_px = 0.2;
  camera.sigma0 = 1.0;
  camera.redundancy = 100;
  camera.photos = {{"a.jpg", std::string(64, 'e'), true, "", 0.19},
                   {"b.jpg", "", false, "is empty", std::nullopt}};
  camera.board = calib::BoardRecord{9, 6, 25.0, true, 0.31, std::nullopt};
  camera.warnings = {"Only frontal views: tilt the board."};
  return camera;
}

inline measure::SurveyReport full_report() {
  constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
  measure::SurveyReport report;
  report.rms_px = 0.4;
  report.fit.sigma0 = kNaN;
  report.fit.redundancy = 12;
  report.fit.groups = {{20, 11.5, 10.0, 0.9, true}, {1, 0.0, 0.0, kNaN, false}};
  report.group_names = {"marks by hand", "bars"};
  report.photos.resize(2);
  report.photos[0] = {"a.jpg", true, "", 0.4, 9, {}};
  report.photos[1] = {"b, turned.jpg", false, "needs 2 more marks", std::nullopt, 0, {}};
  report.points.resize(2);
  report.points[0].name = "A";
  report.points[0].placed = true;
  report.points[1].name = "B";
  report.points[1].reason = "is marked in one photo only";
  report.marks.resize(2);
  report.marks[0].photo = report.marks[1].photo = "a.jpg";
  report.marks[0].point = "A";
  report.marks[0].doubted = true;
  report.marks[0].w = 7.5;
  report.marks[1].point = "B";
  report.marks[1].controlled = false;
  report.marks[1].w = kNaN;
  report.shapes.resize(2);
  report.shapes[0] = {"rim", true, "", 2, 1, 0.0, 0.0};
  report.shapes[1] = {"edge", false, "is marked in one photo only", 0, 0, 0.0, 0.0};
  report.shape_marks.resize(2);
  report.shape_marks[0].photo = report.shape_marks[1].photo = "a.jpg";
  report.shape_marks[0].shape = report.shape_marks[1].shape = "rim";
  report.shape_marks[0].position_px = {120.5, 80.25};
  report.shape_marks[0].doubted = true;
  report.shape_marks[0].w = 4.5;
  report.shape_marks[1].controlled = false;
  report.shape_marks[1].w = kNaN;
  report.bars.resize(3);
  report.bars[0].name = "front";
  report.bars[1].name = "check";
  report.bars[1].reason = "its end B is not placed";
  report.bars[1].found_mm = kNaN;
  report.bars[2].name = "rear";
  report.bars[2].used = report.bars[2].checked = true;
  report.bars[2].error_mm = 0.004;
  report.bars[2].u_error_mm = 0.01;
  report.cameras.resize(1);
  report.cameras[0].name = "body";
  report.cameras[0].covariance = small_camera().covariance;
  report.cameras[0].change_d2 = 3.0;
  report.swaps = {{"a.jpg", {"A", "B"}}};
  report.one_of_these = {{{"a.jpg", "A"}, {"b, turned.jpg", "A"}}};
  report.warnings = {"A sentence."};
  return report;
}

inline std::vector<measure::DimensionResult> full_dimensions() {
  constexpr double kInfinite = std::numeric_limits<double>::infinity();
  std::vector<measure::DimensionResult> results(4);
  results[0].name = "length";
  results[0].kind = "distance";
  results[0].scale = "model";
  results[0].value = 300.125;
  results[0].u = 0.02;
  results[0].U = 0.04;
  results[0].effective_dof = kInfinite;
  results[0].budget = {{"bars", 0.75}, {"marks", 0.25}};
  results[0].external_reliability = 0.1;
  results[1] = results[0];
  results[1].scale = "replica 1:72";
  results[1].interval = {0.0, 0.3};
  results[1].effective_dof = 14.5;
  results[2] = results[0];
  results[2].name = "pipe";
  results[2].kind = "offset_plane";
  results[2].problem = "Point B is not placed.";
  results[2].value = results[2].u = results[2].U = std::numeric_limits<double>::quiet_NaN();
  results[1].note = "at number 2 of the row, which lies too near the first";
  results[3] = results[0];
  results[3].name = "ratio";
  results[3].unit = measure::DimensionUnit::kRatio;
  results[3].reference = "length";
  return results;
}

/// One of each form, one without a place, and all that is only said of some.
inline std::vector<measure::FormResult> full_forms() {
  using measure::FormKind;
  std::vector<measure::FormResult> forms;
  for (const auto& [origin, kind] :
       {std::pair("crossing", FormKind::kPoint), std::pair("seen_edge", FormKind::kLine),
        std::pair("mirror_plane", FormKind::kPlane), std::pair("circle", FormKind::kCircle),
        std::pair("sphere", FormKind::kSphere), std::pair("seen_cylinder", FormKind::kCylinder),
        std::pair("cone", FormKind::kCone)}) {
    measure::FormResult form;
    form.name = std::string("the ") + origin;
    form.origin = origin;
    form.form.kind = kind;
    form.covariance = 1e-4 * measure::FormMatrix::Identity();
    forms.push_back(form);
  }
  forms[0].gap = measure::PassingGap{0.02, 0.03, std::pair(0.0, 0.08)};
  forms[2].pairs.resize(2);
  forms[2].pairs[0] = {"A", "B", {0.1, 0.2, 0.0}, 0.22, 0.02, std::nullopt, false};
  forms[2].pairs[1] = {"C, left", "D", {0.0, 0.0, 0.01}, 0.01, 0.02, std::pair(0.0, 0.05), true};
  forms[3].test = measure::FormTest{1.5, 10.8, 1, true, 0.05, 0.02, 0.0};
  forms[3].departures = {{"A", -0.01, 0.02}, {"B", 0.015, 0.02}};
  forms.push_back({});
  forms.back().name = "nowhere";
  forms.back().origin = "plane";
  forms.back().problem = "Point B is not placed.";
  return forms;
}

inline std::vector<measure::CoordinatesResult> full_coordinates() {
  std::vector<measure::CoordinatesResult> points(2);
  points[0].name = "A";
  points[0].value = {1.5, -2.0, 3.0};
  points[0].covariance = 1e-4 * Eigen::Matrix3d::Identity();
  points[1].name = "B";
  points[1].problem = "Point B is not placed.";
  return points;
}

/// With a contribution of every kind.
inline measure::Explanation full_explanation() {
  using What = measure::Contribution::What;
  return {full_dimensions().front(),
          {{What::kMark, "a.jpg", "A", 0.4, 0.0126},
           {What::kShapeMark, "a.jpg", "rim", 0.2, 0.009},
           {What::kCamera, "", "body", 0.1, 0.006},
           {What::kBar, "", "front", 0.1, 0.006},
           {What::kShared, "", "certificate cert 7", 0.1, 0.006},
           {What::kDefinition, "", "", 0.1, 0.006}},
          {{"a.jpg", 0.6}}};
}

/// One that fits, and one that is exact and fits nothing.
inline std::vector<measure::StockAtScale> full_stock() {
  std::vector<measure::StockAtScale> answers(2);
  answers[0].result = full_dimensions().front();
  answers[0].answer.candidates = {{"1/32 in", {"brass", "acrylic"}, 0.79375, 0.75, 0.5},
                                  {"0.8 mm", {"brass"}, 0.8, 0.25, 1.5}};
  answers[0].answer.sentence = "1/32 in sheet 75 %, 0.8 mm 25 %";
  answers[1] = answers[0];
  answers[1].result = full_dimensions()[1];
  answers[1].answer.none_of_these = true;
  for (measure::StockCandidate& candidate : answers[1].answer.candidates) {
    candidate.apart = std::numeric_limits<double>::infinity();
  }
  return answers;
}

inline std::vector<measure::MonteCarloComparison> full_comparisons() {
  measure::MonteCarloComparison one;
  one.name = "length";
  one.runs = 100;
  one.mean = 300.1;
  one.sd = 0.021;
  one.low = 300.06;
  one.high = 300.14;
  one.first_order_u = 0.02;
  return {one};
}

}  // namespace testing_support
