#include <algorithm>
#include <cmath>
#include <optional>

#include "measure/dimension/dimension.h"
#include "measure/dimension/quantity_text.h"
#include "measure/edit/apply.h"
#include "measure/store/dossier_file.h"
#include "measure/store/results_file.h"
#include "measure/store/survey_json.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/survey_run.h"
#include "tools/cli/table.h"

namespace cli {
namespace {

using measure::Dossier;
using measure::SurveyReport;

/// Doubts that go on longer have another cause than single marks.
constexpr std::size_t kMostRounds = 5;

measure::CameraUse use_of(const std::string& word) {
  return word == "fixed"  ? measure::CameraUse::kFixed
         : word == "self" ? measure::CameraUse::kSelfCalibrated
                          : measure::CameraUse::kPrior;
}

measure::Edit edit_for_use(const Dossier& dossier, const std::string& word) {
  measure::EditGroup group;
  for (const measure::CameraEntry& camera : dossier.cameras) {
    group.edits.push_back(measure::SetCameraUse{camera.name, use_of(word)});
  }
  return group;
}

measure::Edit edit_for_doubted(const SurveyReport& report) {
  measure::EditGroup group;
  for (const measure::MarkReport& mark : report.marks) {
    if (mark.doubted) {
      group.edits.push_back(measure::SetAside{{mark.photo, mark.point}, true});
    }
  }
  for (const measure::ShapeMarkReport& mark : report.shape_marks) {
    if (mark.doubted) {
      group.edits.push_back(measure::SetShapeMarkAside{
          {mark.photo, mark.shape, mark.position_px.x(), mark.position_px.y()}, true});
    }
  }
  return group;
}

void print_photos(const SurveyReport& report) {
  Table table({"photo", "placed", "marks", "rms px", "reason"},
              {Align::kLeft, Align::kLeft, Align::kRight, Align::kRight, Align::kLeft});
  for (const measure::PhotoReport& photo : report.photos) {
    table.add({photo.name, photo.placed ? "yes" : "no", std::to_string(photo.marks),
               photo.rms_px ? fixed(*photo.rms_px, 3) : "", photo.reason});
  }
  say(table.text());
}

void print_points(const SurveyReport& report) {
  std::vector<double> u;
  Table missing({"point not placed", "reason"});
  for (const measure::PointReport& point : report.points) {
    if (point.placed) {
      u.push_back(std::sqrt(point.covariance.trace() / 3.0));
    } else {
      missing.add({point.name, point.reason});
    }
  }
  if (!u.empty()) {
    std::nth_element(u.begin(), u.begin() + static_cast<std::ptrdiff_t>(u.size() / 2), u.end());
    const bool is_mm = report.unit == measure::LengthUnit::kMillimetre;
    say(count_of(u.size(), "point") + " placed" +
        (is_mm ? ", median u of a coordinate " + fixed(u[u.size() / 2], 4) + " mm" : "") + ".");
  }
  if (!missing.empty()) {
    say(missing.text());
  }
}

void print_shapes(const SurveyReport& report) {
  const auto placed = std::count_if(report.shapes.begin(), report.shapes.end(),
                                    [](const auto& shape) { return shape.placed; });
  if (report.shapes.empty()) {
    return;
  }
  say(count_of(static_cast<std::size_t>(placed), "shape") + " measured by " +
      count_of(report.shape_marks.size(), "mark") + " on them.");
  Table missing({"shape not placed", "reason"});
  for (const measure::SeenShapeReport& shape : report.shapes) {
    if (!shape.placed) {
      missing.add({shape.name, shape.reason});
    }
  }
  if (!missing.empty()) {
    say(missing.text());
  }
}

std::vector<measure::DoubtedMarkName> doubted_in(const SurveyReport& report) {
  std::vector<measure::DoubtedMarkName> marks;
  for (const measure::MarkReport& mark : report.marks) {
    if (mark.doubted) {
      marks.push_back({mark.photo, mark.point, "", mark.w});
    }
  }
  for (const measure::ShapeMarkReport& mark : report.shape_marks) {
    if (mark.doubted) {
      marks.push_back({mark.photo, "", mark.shape, mark.w, mark.position_px});
    }
  }
  return marks;
}

/// Marks that a survey doubted, and what was done about them.
void print_doubted(const SurveyReport& report, const std::string& done) {
  Table table({"doubted mark of", "in", "w", "critical", "off by px"},
              {Align::kLeft, Align::kLeft, Align::kRight, Align::kRight, Align::kRight});
  for (const measure::MarkReport& mark : report.marks) {
    if (mark.doubted) {
      table.add({mark.point, mark.photo, fixed(mark.w, 1), fixed(mark.critical_w, 2),
                 fixed(mark.residual_px.norm(), 2)});
    }
  }
  for (const measure::ShapeMarkReport& mark : report.shape_marks) {
    if (mark.doubted) {
      table.add({mark.shape + " at " + fixed(mark.position_px.x(), 1) + ", " +
                     fixed(mark.position_px.y(), 1),
                 mark.photo, fixed(mark.w, 1), fixed(mark.critical_w, 2),
                 fixed(mark.residual_px, 2)});
    }
  }
  if (table.empty()) {
    return;
  }
  say(table.text());
  for (const auto& [photo, points] : report.swaps) {
    say("In " + photo + " the names \"" + points.first + "\" and \"" + points.second +
        "\" look swapped.");
  }
  say("About " + fixed(report.expected_false_doubts, 1) +
      " good marks would be doubted by chance. " + done);
}

void print_bars(const SurveyReport& report) {
  Table table(
      {"scale bar", "used", "certified mm", "found mm", "error mm", "u mm", ""},
      {Align::kLeft, Align::kLeft, Align::kRight, Align::kRight, Align::kRight, Align::kRight});
  for (const measure::BarReport& bar : report.bars) {
    const bool compared = bar.reason.empty();
    const bool judged = compared && bar.checked;
    table.add({bar.name, bar.used ? "yes" : "no", fixed(bar.certified_mm, 4),
               compared ? fixed(bar.found_mm, 4) : "",
               judged ? fixed(bar.error_mm, 4) : (compared ? "unchecked" : ""),
               judged ? fixed(bar.u_error_mm, 4) : "",
               bar.contradicts ? "contradicts the others" : bar.reason});
  }
  if (!table.empty()) {
    say(table.text());
  }
}

void print_cameras(const SurveyReport& report) {
  for (const measure::CameraReport& camera : report.cameras) {
    if (!camera.as_calibrated) {
      say("Camera \"" + camera.name + "\" is not as calibrated: " + camera.changed_parameter +
          " moved most.");
    }
  }
}

void print(const SurveyReport& report) {
  print_photos(report);
  print_points(report);
  print_shapes(report);
  print_doubted(report,
                "All are still in use: look at them, then correct them or run with "
                "--set-aside-doubted.");
  print_bars(report);
  print_cameras(report);
  say("rms " + fixed(report.rms_px, 3) + " px, sigma0 " + fixed(report.fit.sigma0, 3) +
      " (95 % within " + fixed(report.fit.sigma0_low, 3) + " to " +
      fixed(report.fit.sigma0_high, 3) + " if the sigmas are right), redundancy " +
      std::to_string(report.fit.redundancy));
  if (!report.temperature_sentence.empty()) {
    say(report.temperature_sentence);
  }
}

}  // namespace

Outcome run(const AdjustCommand& command) {
  // Only what changes the dossier must have it alone; the numbers are told for what it is now.
  std::optional<measure::OpenDossier> open;
  if (!command.camera_use.empty() || command.set_aside_doubted) {
    auto opened = open_for_change(command.folder);
    if (!opened) {
      return calib::Unexpected(opened.error());
    }
    open.emplace(std::move(*opened));
  }
  auto dossier = open ? open->dossier() : measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  measure::EditGroup changes;
  if (!command.camera_use.empty()) {
    changes.edits.push_back(edit_for_use(*dossier, command.camera_use));
    if (const auto applied = measure::apply(changes.edits.back(), *dossier); !applied) {
      return calib::Unexpected(applied.error());
    }
  }
  // A mark that was set aside no longer bends its neighbours, and the others' scatter gets smaller:
  // now and then a later round doubts one that was hidden. The last survey is of the dossier as it
  // is saved.
  std::vector<std::vector<measure::DoubtedMarkName>> set_aside;
  auto survey = solve(command.folder, *dossier);
  while (survey && command.set_aside_doubted && set_aside.size() < kMostRounds) {
    const auto doubted = doubted_in(survey->report());
    if (doubted.empty()) {
      break;
    }
    changes.edits.push_back(edit_for_doubted(survey->report()));
    if (const auto applied = measure::apply(changes.edits.back(), *dossier); !applied) {
      return calib::Unexpected(applied.error());
    }
    set_aside.push_back(doubted);
    if (!command.json) {
      print_doubted(survey->report(), "Round " + std::to_string(set_aside.size()) + ": " +
                                          count_of(doubted.size(), "mark") +
                                          " set aside in the dossier; adjusting again.");
    }
    survey = solve(command.folder, *dossier);
  }
  if (!survey) {
    return calib::Unexpected(survey.error());
  }
  const SurveyReport& report = survey->report();
  const auto dimensions = measure::evaluate_dimensions(*survey, *dossier);
  // The dossier first: results that a kill leaves behind are then stale, not wrong.
  if (open && !(*dossier == open->dossier())) {
    if (auto changed = open->change_and_save(changes); !changed) {
      return changed;
    }
  }
  if (auto written = measure::write_results(command.folder, *dossier, report, dimensions);
      !written) {
    return written;
  }
  if (command.json) {
    say(measure::adjust_json(report, *dossier, set_aside));
    return calib::Done{};
  }
  print(report);
  if (!set_aside.empty()) {
    std::size_t marks = 0;
    for (const auto& round : set_aside) {
      marks += round.size();
    }
    const std::size_t left = doubted_in(report).size();
    say("Set aside in " + count_of(set_aside.size(), "round") + ": " + count_of(marks, "mark") +
        (left == 0 ? "; no more are doubted."
                   : "; " + std::to_string(left) +
                         " more are doubted and still in use: look at them before setting more "
                         "aside."));
  }
  warn_of(report);
  say("Wrote " + (std::filesystem::path(command.folder) / measure::kResultsFileName).string() +
      ".");
  return calib::Done{};
}

}  // namespace cli
