#include "measure/sheet/sheet_content.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numeric>

#include "calib/adjust/distributions.h"
#include "calib/base/units.h"
#include "measure/dimension/explain.h"
#include "measure/live/weak_spots.h"
#include "measure/sheet/sheet_pictures.h"

namespace measure {
namespace {

constexpr double kSmallShare = 0.0005;      // of the variance; less is not named
constexpr std::size_t kStrongestMarks = 6;  // named one by one

std::string quoted(const std::string& name) { return "“" + name + "”"; }

std::string printed(const char* format, double value) {
  char text[64];
  std::snprintf(text, sizeof text, format, value);
  return text;
}

std::string counted(std::size_t count, const std::string& one, const std::string& many) {
  return std::to_string(count) + " " + (count == 1 ? one : many);
}

std::string ratio_text(const ScaleRatio& scale) {
  const std::string text = "1:" + printed("%g", scale.denominator);
  if (!(scale.u > 0)) return text;
  const ValueText with_u = plain_text(scale.denominator, 2 * scale.u);
  return "1:(" + with_u.value + " ± " + with_u.uncertainty + ")";
}

/// What a dimension measures, in words.
struct KindWords {
  std::string operator()(const Distance& d) const {
    return "from " + quoted(d.from) + " to " + quoted(d.to);
  }
  std::string operator()(const DistanceAlong& d) const {
    return "from " + quoted(d.from) + " to " + quoted(d.to) + ", along " +
           (d.axis_to.empty()
                ? quoted(d.axis_from)
                : "the direction from " + quoted(d.axis_from) + " to " + quoted(d.axis_to));
  }
  std::string operator()(const Angle& d) const {
    return "at " + quoted(d.vertex) + ", between " + quoted(d.first) + " and " + quoted(d.second);
  }
  std::string operator()(const AngleBetween& d) const {
    return "between " + quoted(d.first) + " and " + quoted(d.second);
  }
  std::string operator()(const OffsetFromLine& d) const {
    return "of " + quoted(d.point) + " from " +
           (d.line_to.empty()
                ? quoted(d.line_from)
                : "the line through " + quoted(d.line_from) + " and " + quoted(d.line_to));
  }
  std::string operator()(const OffsetFromPlane& d) const {
    return "of " + quoted(d.point) + " from " +
           (d.plane.size() == 1 ? quoted(d.plane[0]) : "the plane through " + listed(d.plane));
  }
  std::string operator()(const Gap& d) const {
    return "between " + quoted(d.first) + " and " + quoted(d.second);
  }
  std::string operator()(const Radius& d) const { return "of " + quoted(d.shape); }
  std::string operator()(const Diameter& d) const { return "of " + quoted(d.shape); }
  std::string operator()(const ConeAngle& d) const { return "at the apex of " + quoted(d.shape); }
  std::string operator()(const ChainLength& d) const { return "through " + listed(d.points); }
  std::string operator()(const ArcLength& d) const {
    return "along " + quoted(d.circle) + " from " + quoted(d.from) + " to " + quoted(d.to) +
           (d.via.empty() ? ", the shorter way" : " through " + quoted(d.via));
  }
  std::string operator()(const RowPitch& d) const { return "of the row " + listed(d.points); }
  std::string operator()(const RowDeparture& d) const {
    return "of the row " + listed(d.points) + " from an even spacing, the largest";
  }
  std::string operator()(const OutlineArea& d) const { return "inside " + listed(d.points); }
  std::string operator()(const Coordinate& d) const {
    return d.axis + " of " + quoted(d.item) + " in the model axes";
  }
  std::string operator()(const MirrorDeparture& d) const {
    return "of " + quoted(d.second) + " from where " + quoted(d.first) + " is mirrored to by " +
           quoted(d.mirror);
  }

  static std::string listed(const std::vector<std::string>& names) {
    std::string text;
    for (std::size_t i = 0; i < names.size(); ++i) {
      if (i > 0) text += i + 1 == names.size() ? " and " : ", ";
      text += quoted(names[i]);
    }
    return text;
  }
};

/// Words for people of the words in files.
std::string kind_for_people(const std::string& word) {
  static const std::map<std::string, std::string> kWords = {
      {"along", "distance along"},
      {"angle_between", "angle between"},
      {"arc", "length of an arc"},
      {"area", "area of an outline"},
      {"chain", "length of a chain"},
      {"cone_angle", "angle of a cone"},
      {"mirror_departure", "departure from symmetry"},
      {"ordinate", "coordinate"},
      {"pitch", "pitch of a row"},
      {"row_departure", "departure of a row"},
      {"offset_line", "offset from a line"},
      {"offset_plane", "offset from a plane"}};
  const auto found = kWords.find(word);
  return found == kWords.end() ? word : found->second;
}

std::string group_for_people(const std::string& group) {
  return group == "scale_ratio" ? "scale ratio" : group;
}

std::string scale_for_people(const std::string& key) {
  return key == "model" ? "original" : key == "full" ? "full size" : key;
}

std::vector<SheetUnit> all_units(int denominator) {
  return {{TextUnit::kMm, "mm", "mm"},
          {TextUnit::kCm, "cm", "cm"},
          {TextUnit::kM, "m", "m"},
          {TextUnit::kInch, "in", "inches, decimal"},
          {TextUnit::kInchFraction, "in-fraction",
           "inches, fractions to 1/" + std::to_string(denominator)},
          {TextUnit::kFootInch, "ft-in", "feet and inches"}};
}

SheetShare share_of(std::string name, double share, std::string detail = {}) {
  return {std::move(name), std::move(detail), share};
}

void by_share(std::vector<SheetShare>& shares) {
  std::stable_sort(shares.begin(), shares.end(),
                   [](const SheetShare& a, const SheetShare& b) { return a.share > b.share; });
}

void add_traceability(const Survey& survey, const Dossier& dossier, const std::string& name,
                      SheetDimension& dimension) {
  const auto explanation = explain(survey, dossier, name);
  if (!explanation) return;  // no value, and the dimension says why
  for (const auto& [photo, share] : explanation->by_photo) {
    if (share >= kSmallShare) dimension.photos.push_back(share_of(photo, share));
  }
  by_share(dimension.photos);
  for (const Contribution& c : explanation->contributions) {
    if (c.share < kSmallShare) continue;
    switch (c.what) {
      case Contribution::What::kMark:
      case Contribution::What::kShapeMark:
        if (dimension.marks.size() < kStrongestMarks) {
          dimension.marks.push_back(
              share_of((c.what == Contribution::What::kShapeMark ? "marks on " : "") + c.item,
                       c.share, c.photo));
        }
        break;
      case Contribution::What::kCamera: {
        const CameraEntry* entry = dossier.find_camera(c.item);
        dimension.others.push_back(
            share_of("camera " + quoted(c.item), c.share, entry ? entry->sha256 : ""));
        break;
      }
      case Contribution::What::kBar:
        dimension.others.push_back(share_of("bar " + quoted(c.item), c.share));
        break;
      case Contribution::What::kShared:
        dimension.others.push_back(share_of(c.item, c.share));
        break;
      case Contribution::What::kDefinition:
        dimension.others.push_back(share_of("definition of its points", c.share));
        break;
    }
  }
}

std::string degrees_of_freedom_text(double dof) {
  return std::isfinite(dof) && dof < 1e5 ? printed("%.0f", dof) : "∞";
}

SheetDimension dimension_of(const AskedDimension& asked, const std::vector<DimensionResult>& all,
                            const SheetContent& content, int denominator) {
  SheetDimension dimension;
  dimension.name = asked.name;
  dimension.kind = kind_for_people(kind_word(asked.kind));
  dimension.sentence = std::visit(KindWords{}, asked.kind);
  // Property indicators of ISO 129-1 (from memory).
  if (std::holds_alternative<Diameter>(asked.kind)) dimension.symbol = "Ø ";
  if (std::holds_alternative<Radius>(asked.kind)) dimension.symbol = "R ";
  const DimensionResult* model = nullptr;
  for (const SheetScale& scale : content.scales) {
    const auto found = std::find_if(all.begin(), all.end(), [&](const DimensionResult& result) {
      return result.name == asked.name && result.scale == scale.key;
    });
    std::vector<std::string> texts;
    if (found == all.end()) {
      texts.emplace_back("—");
    } else {
      if (scale.key == "model") model = &*found;
      const bool by_unit = (found->unit == DimensionUnit::kMillimetre ||
                            found->unit == DimensionUnit::kSquareMillimetre) &&
                           found->problem.empty();
      for (std::size_t u = 0; u < (by_unit ? content.units.size() : 1); ++u) {
        texts.push_back(result_text(*found, content.units[u].unit, denominator));
      }
    }
    dimension.texts.push_back(std::move(texts));
  }
  if (!model) {
    dimension.problem = "has not been computed";
    dimension.weak = true;
    return dimension;
  }
  dimension.unit = model->unit;
  dimension.problem = model->problem;
  dimension.own_tolerance =
      asked.tolerance_mm.has_value() && model->unit == DimensionUnit::kMillimetre;
  switch (model->unit) {
    case DimensionUnit::kMillimetre:
      dimension.tolerance = asked.tolerance_mm.value_or(content.tolerance_mm);
      break;
    case DimensionUnit::kRadian:
      dimension.tolerance = content.tolerance_deg;
      break;
    case DimensionUnit::kSquareMillimetre:
    case DimensionUnit::kRatio:
      break;  // no tolerance can be given
  }
  dimension.note = model->note;
  if (!model->problem.empty()) {
    dimension.weak = true;
    return dimension;
  }
  const double factor = model->unit == DimensionUnit::kRadian ? calib::kDegreesPerRadian : 1.0;
  dimension.value = factor * model->value;
  dimension.U = factor * model->U;
  dimension.is_interval = model->interval.has_value();
  dimension.weak = dimension.tolerance && dimension.U > *dimension.tolerance;
  dimension.k = model->interval ? "interval" : printed("%.2f", model->k);
  dimension.effective_dof = degrees_of_freedom_text(model->effective_dof);
  for (const auto& [group, share] : model->budget) {
    if (share >= kSmallShare) dimension.budget.push_back(share_of(group_for_people(group), share));
  }
  by_share(dimension.budget);
  if (model->external_reliability && std::isfinite(*model->external_reliability)) {
    const double change = *model->external_reliability;
    switch (model->unit) {
      case DimensionUnit::kMillimetre:
        for (const SheetUnit& unit : content.units) {
          const ValueText text = length_text(0, change, unit.unit, denominator);
          dimension.reliability.push_back(text.uncertainty + " " + text.unit);
        }
        break;
      case DimensionUnit::kSquareMillimetre:
        for (const SheetUnit& unit : content.units) {
          const ValueText text = area_text(0, change, unit.unit);
          dimension.reliability.push_back(text.uncertainty + " " + text.unit);
        }
        break;
      case DimensionUnit::kRadian: {
        const ValueText text = angle_text(0, change);
        dimension.reliability.push_back(text.uncertainty + " " + text.unit);
        break;
      }
      case DimensionUnit::kRatio:
        dimension.reliability.push_back(plain_text(0, change).uncertainty);
        break;
    }
  }
  return dimension;
}

SheetKnownLength known_length(const BarReport& bar, bool check_only, const SheetUnit& unit,
                              int denominator) {
  SheetKnownLength known;
  known.name = bar.name;
  known.check_only = check_only;
  // Differences are small: a fraction of an inch cannot show them.
  const TextUnit fine = unit.unit == TextUnit::kInchFraction || unit.unit == TextUnit::kFootInch
                            ? TextUnit::kInch
                            : unit.unit;
  known.certified = length_text(bar.certified_mm, 2 * bar.u_mm, fine, denominator).joined();
  known.remark = bar.reason;
  if (!bar.reason.empty()) return known;
  const double U_mm = 2 * bar.u_error_mm;
  known.found = length_text(bar.found_mm, U_mm, fine, denominator).value + " " +
                length_text(bar.found_mm, U_mm, fine, denominator).unit;
  if (!bar.checked && !check_only) {
    known.found.clear();
    known.remark = "not checked: nothing else says how long it is";
    return known;
  }
  known.error = length_text(bar.error_mm, U_mm, fine, denominator).joined();
  if (U_mm > 0) {
    const double ratio = bar.error_mm / U_mm;
    known.error_over_U = printed("%.2f", ratio);
    known.within = std::abs(ratio) <= 1.0;
  }
  if (bar.contradicts) {
    known.remark = "contradicts the other bars";
  } else if (!known.within) {
    known.remark = "outside its error bar";
  }
  return known;
}

void add_known_lengths(const SurveyReport& report, const Dossier& dossier, int denominator,
                       SheetContent& content) {
  std::vector<SheetKnownLength> used;
  std::size_t outside = 0, compared = 0;
  for (const BarReport& bar : report.bars) {
    const auto entry = std::find_if(dossier.bars.begin(), dossier.bars.end(),
                                    [&](const ScaleBar& b) { return b.name == bar.name; });
    const bool check = entry != dossier.bars.end() && entry->check_only;
    const auto known = known_length(bar, check, content.units[content.first_unit], denominator);
    if (check) {
      compared += known.error_over_U.empty() ? 0 : 1;
      outside += known.within ? 0 : 1;
      content.known_lengths.push_back(known);
    } else {
      used.push_back(known);
    }
  }
  const std::size_t checks = content.known_lengths.size();
  content.known_lengths.insert(content.known_lengths.end(), used.begin(), used.end());
  content.checks_agree = compared > 0 && outside == 0;
  if (checks == 0) {
    content.check_sentence =
        "No check length: nothing outside the survey says that these dimensions are right. Give "
        "one "
        "with “scantling bar add … --check”.";
  } else if (compared == 0) {
    content.check_sentence = "No check length could be compared.";
  } else if (outside == 0) {
    content.check_sentence =
        counted(compared, "check length agrees", "check lengths agree") + " within the error bars.";
  } else {
    content.check_sentence =
        std::to_string(outside) + " of " +
        counted(compared, "check length lies", "check lengths lie") +
        " outside the error bars: find out why before anything is built from this sheet.";
  }
}

std::string use_for_people(CameraUse use) {
  switch (use) {
    case CameraUse::kFixed:
      return "taken as it was calibrated, without its uncertainty";
    case CameraUse::kPrior:
      return "calibrated before, with its uncertainty";
    case CameraUse::kSelfCalibrated:
      return "calibrated by this survey alone";
  }
  return "";
}

void add_cameras(const SurveyReport& report, const Dossier& dossier,
                 const std::map<std::string, calib::Camera>& cameras, SheetContent& content) {
  for (const CameraReport& camera : report.cameras) {
    SheetCamera line;
    line.name = camera.name;
    line.use = use_for_people(camera.use);
    if (!camera.as_calibrated) {
      line.use +=
          "; it is not as calibrated any more: " + camera.changed_parameter + " has changed";
    }
    if (const CameraEntry* entry = dossier.find_camera(camera.name)) {
      line.file = entry->file;
      line.sha256 = entry->sha256;
    }
    if (const auto found = cameras.find(camera.name); found != cameras.end()) {
      const calib::Camera& file = found->second;
      for (const std::string& part :
           {file.lens_and_body.make, file.lens_and_body.model, file.lens_and_body.lens}) {
        if (!part.empty()) line.what += (line.what.empty() ? "" : " ") + part;
      }
      line.what += (line.what.empty() ? "" : ", ") + std::to_string(file.image_size.width) + " × " +
                   std::to_string(file.image_size.height) + " px";
      if (!file.date.empty()) line.what += ", calibrated " + file.date.substr(0, 10);
      if (file.rms_px > 0) line.what += ", rms " + printed("%.3f", file.rms_px) + " px";
    }
    content.cameras.push_back(line);
  }
}

void add_photos_and_doubts(const SurveyReport& report, const Dossier& dossier,
                           SheetContent& content) {
  for (const PhotoReport& photo : report.photos) {
    SheetPhoto line;
    line.name = photo.name;
    if (const Photo* known = dossier.find_photo(photo.name)) {
      line.sha256 = known->sha256;
      line.camera = known->camera;
      if (!known->epoch.empty()) line.state = "epoch " + known->epoch + "; ";
    }
    line.state += photo.placed
                      ? counted(static_cast<std::size_t>(photo.marks), "mark", "marks") +
                            (photo.rms_px ? ", " + printed("%.2f", *photo.rms_px) + " px rms" : "")
                      : "not oriented: it " + photo.reason;
    content.photos.push_back(line);
  }
  for (const MarkReport& mark : report.marks) {
    if (!mark.doubted) continue;
    content.doubted.push_back({mark.point, mark.photo,
                               printed("%.1f", mark.residual_without_doubted_px.norm()) +
                                   " px off where the other photos put it; " +
                                   (mark.in_use ? "still in use" : "left out")});
  }
  for (const ShapeMarkReport& mark : report.shape_marks) {
    if (!mark.doubted) continue;
    content.doubted.push_back({mark.shape, mark.photo,
                               printed("%.1f", mark.residual_px) + " px beside the shape; " +
                                   (mark.in_use ? "still in use" : "left out")});
  }
  for (const auto& [photo, points] : report.swaps) {
    content.doubted.push_back({points.first, photo, "swapped with " + quoted(points.second)});
  }
  for (const auto& group : report.one_of_these) {
    std::string text = "one of these is wrong, and no other mark tells which:";
    for (std::size_t i = 1; i < group.size(); ++i) {
      text += (i > 1 ? ", " : " ") + quoted(group[i].second) + " in " + group[i].first;
    }
    if (!group.empty()) content.doubted.push_back({group[0].second, group[0].first, text});
  }
}

void add_facts(const Survey& survey, const Dossier& dossier,
               const std::vector<DimensionResult>& results, const SheetOptions& options,
               SheetContent& content) {
  const SurveyReport& report = survey.report();
  const auto add = [&](std::string head, std::string text) {
    content.facts.push_back({std::move(head), std::move(text)});
  };
  add("original", content.original);
  std::string dossier_text = options.dossier;
  if (!options.fingerprint.empty()) {
    dossier_text +=
        (dossier_text.empty() ? "" : ", ") + ("state " + options.fingerprint.substr(0, 16));
  }
  if (!dossier_text.empty()) add("dossier", dossier_text);
  add("date", options.date.empty() ? "not told" : options.date);
  add("measured by", options.measured_by.empty() ? "not told" : options.measured_by);
  if (dossier.model_scale) {
    add("model scale", ratio_text(*dossier.model_scale) + " of full size");
    std::string replicas;
    for (const ScaleRatio& replica : dossier.replica_scales) {
      replicas += (replicas.empty() ? "" : ", ") + ratio_text(replica);
    }
    if (!replicas.empty()) add("replica", replicas + " of full size");
  } else {
    add("model scale", "not told: the original's own size only");
  }
  add("units",
      report.unit == LengthUnit::kFree
          ? "ratios: there is no scale bar"
          : "lengths in " + content.units[content.first_unit].head + ", angles in degrees");
  std::string cameras;
  for (const SheetCamera& camera : content.cameras) {
    cameras += (cameras.empty() ? "" : "; ") + camera.name +
               (camera.what.empty() ? "" : " (" + camera.what + ")") +
               (camera.sha256.empty() ? "" : ", file SHA-256 " + camera.sha256.substr(0, 16) + "…");
  }
  add(content.cameras.size() == 1 ? "camera" : "cameras", cameras);
  const auto placed = static_cast<std::size_t>(
      std::count_if(report.photos.begin(), report.photos.end(),
                    [](const PhotoReport& photo) { return photo.placed; }));
  const auto in_use =
      static_cast<std::size_t>(std::count_if(report.marks.begin(), report.marks.end(),
                                             [](const MarkReport& mark) { return mark.in_use; }));
  add("survey", counted(placed, "photo", "photos") + " oriented of " +
                    std::to_string(report.photos.size()) + ", " + counted(in_use, "mark", "marks") +
                    ", rms " + printed("%.3f", report.rms_px) + " px");
  double low = 1e9, high = 0;
  for (const DimensionResult& result : results) {
    if (!result.problem.empty() || result.interval) continue;
    low = std::min(low, result.k);
    high = std::max(high, result.k);
  }
  const std::string p = printed("%.2f", 100 * calib::adjust::kCoverageProbability) + " %";
  if (high > 0) {
    const std::string first = printed("%.2f", low), last = printed("%.2f", high);
    add("coverage",
        "U = k·u with k = " + first + (first == last ? "" : " to " + last) + ", p = " + p);
  }
  if (!report.temperature_sentence.empty()) add("temperature", report.temperature_sentence);

  content.reading = {
      "Every value stands as value ± U. U = k·u is the expanded uncertainty: the true dimension "
      "lies "
      "within value ± U with a probability of " +
          p +
          " (JCGM 100). Where two limits are given in its "
          "place, they hold it with the same probability.",
      "The budget tells which share of the variance u² comes from marks, cameras, scale bars, "
      "temperature, and from how well the points are defined on the original.",
      "Lines in the photographs are true lines of space, seen through the lens; numbers are those "
      "of "
      "the table."};
  content.cautions = {
      "Confirm a dimension by a second method where a wrong one could hurt somebody.",
      "Load-bearing armatures, hanging displays and electrics are for qualified people, under "
      "local "
      "codes.",
      "Do not touch or light an original beyond what its keeper allows."};
}

}  // namespace

const std::string& SheetDimension::text(std::size_t scale, std::size_t unit_index) const {
  const std::vector<std::string>& by_unit = texts[scale];
  return by_unit[std::min(unit_index, by_unit.size() - 1)];
}

std::string label_number(const SheetDimension& dimension) {
  return std::to_string(dimension.number);
}

std::string label_value(const SheetDimension& dimension, std::size_t scale,
                        std::size_t unit_index) {
  return dimension.symbol + dimension.text(scale, unit_index);
}

std::string share_text(double share) {
  return share < 0.001 ? "below 0.1 %" : printed("%.1f", 100 * share) + " %";
}

calib::Result<SheetContent, calib::Problem> gather_sheet(
    const Survey& survey, const Dossier& dossier,
    const std::map<std::string, calib::Camera>& cameras,
    const std::vector<DimensionResult>& results, const SheetOptions& options) {
  const auto cancelled = [&] { return options.cancelled && options.cancelled(); };
  const auto tell = [&](double share, const std::string& what) {
    if (options.progress) options.progress(share, what);
  };
  const calib::Unexpected stopped(
      calib::Problem{"The sheet was stopped: nothing was written.", calib::Blame::kOurs});
  for (const std::string& name : options.only) {
    if (std::none_of(dossier.dimensions.begin(), dossier.dimensions.end(),
                     [&](const AskedDimension& asked) { return asked.name == name; })) {
      return calib::Unexpected(
          calib::Problem{"The dossier has no dimension \"" + name +
                         "\": \"scantling dimension list\" shows their names."});
    }
  }
  SheetContent content;
  content.original = dossier.name.empty() ? "original without a name" : dossier.name;
  content.date = options.date;
  content.measured_by = options.measured_by;
  content.units = all_units(options.denominator);
  for (std::size_t u = 0; u < content.units.size(); ++u) {
    if (content.units[u].unit == options.unit) content.first_unit = u;
  }
  content.tolerance_mm = options.tolerance_mm;
  content.tolerance_deg = options.tolerance_rad * calib::kDegreesPerRadian;
  for (const DimensionResult& result : results) {
    if (std::none_of(content.scales.begin(), content.scales.end(),
                     [&](const SheetScale& scale) { return scale.key == result.scale; })) {
      content.scales.push_back({result.scale, scale_for_people(result.scale)});
    }
  }
  if (content.scales.empty()) content.scales.push_back({"model", "original"});
  add_known_lengths(survey.report(), dossier, options.denominator, content);
  add_cameras(survey.report(), dossier, cameras, content);
  add_photos_and_doubts(survey.report(), dossier, content);
  content.warnings = survey.report().warnings;
  add_facts(survey, dossier, results, options, content);

  // Which of the dossier's dimensions are shown, by index.
  std::vector<std::size_t> asked;
  for (std::size_t d = 0; d < dossier.dimensions.size(); ++d) {
    const std::string& name = dossier.dimensions[d].name;
    if (options.only.empty() ||
        std::find(options.only.begin(), options.only.end(), name) != options.only.end()) {
      asked.push_back(d);
    }
  }
  std::map<std::string, std::size_t> index_of_name;
  for (const std::size_t d : asked) {
    if (cancelled()) return stopped;
    tell(0.4 * static_cast<double>(index_of_name.size()) / static_cast<double>(asked.size()),
         "where each dimension comes from");
    const AskedDimension& one = dossier.dimensions[d];
    SheetDimension dimension = dimension_of(one, results, content, options.denominator);
    dimension.number = static_cast<int>(content.dimensions.size()) + 1;
    add_traceability(survey, dossier, one.name, dimension);
    index_of_name[one.name] = content.dimensions.size();
    content.dimensions.push_back(std::move(dimension));
  }
  tell(0.4, "weak spots");
  WeakSpotOptions weak;
  weak.tolerance_mm = options.tolerance_mm;
  weak.tolerance_rad = options.tolerance_rad;
  weak.cancelled = options.cancelled;
  for (const WeakSpot& spot : find_weak_spots(survey, dossier, results, weak)) {
    if (!spot.dimension.empty()) {
      const auto found = index_of_name.find(spot.dimension);
      if (found == index_of_name.end()) continue;
      auto& sentences = content.dimensions[found->second].weak_sentences;
      sentences.push_back(spot.sentence);
      for (const Help& help : spot.helps) sentences.push_back(help.sentence);
    } else if (spot.kind != WeakSpot::Kind::kMarkDoubted) {
      std::string sentence = spot.sentence;
      for (const Help& help : spot.helps) {
        if (help.sentence != spot.sentence && help.kind != Help::Kind::kOrient) {
          sentence += "; " + help.sentence;
        }
      }
      content.weak_spots.push_back(sentence);
    }
  }
  if (cancelled()) return stopped;
  tell(0.5, "drawing into photographs");
  if (auto drawn = internal::add_pictures(survey, dossier, asked, options, content); !drawn) {
    return calib::Unexpected(drawn.error());
  }
  if (cancelled()) return stopped;
  return content;
}

}  // namespace measure
