#include "measure/store/dossier_json.h"

#include <array>

namespace measure {
namespace {

using calib::Json;
using calib::JsonItem;
using calib::put_if;

constexpr std::array<std::string_view, 3> kUseWords = {"fixed", "prior", "self"};
constexpr std::array<std::string_view, 3> kSourceWords = {"by_hand", "refined", "imported"};
constexpr std::array<std::string_view, 5> kKindWords = {"distance", "along", "angle", "offset_line",
                                                        "offset_plane"};
constexpr int kLargestSide_px = 200'000;

struct KindKeys {
  Json& json;
  void operator()(const Distance& d) const {
    json["from"] = d.from;
    json["to"] = d.to;
  }
  void operator()(const DistanceAlong& d) const {
    json["from"] = d.from;
    json["to"] = d.to;
    json["axis_from"] = d.axis_from;
    json["axis_to"] = d.axis_to;
  }
  void operator()(const Angle& d) const {
    json["first"] = d.first;
    json["vertex"] = d.vertex;
    json["second"] = d.second;
  }
  void operator()(const OffsetFromLine& d) const {
    json["point"] = d.point;
    json["line_from"] = d.line_from;
    json["line_to"] = d.line_to;
  }
  void operator()(const OffsetFromPlane& d) const {
    json["point"] = d.point;
    json["plane"] = d.plane;
  }
};

template <typename Item>
Json json_list(const std::vector<Item>& items) {
  Json list = Json::array();
  for (const Item& item : items) {
    list.push_back(json_of(item));
  }
  return list;
}

}  // namespace

std::string_view word_of(CameraUse use) { return kUseWords[static_cast<std::size_t>(use)]; }

void put_uncertain(Json& object, const std::string& key, const std::string& unit,
                   const std::optional<Uncertain>& value) {
  if (value) {
    object[key + unit] = value->value;
    object[key + "_u" + unit] = value->u;
  }
}

std::optional<Uncertain> find_uncertain(const JsonItem& item, const std::string& key,
                                        const std::string& unit) {
  const auto value = item.find_number(key + unit);
  if (!value) {
    return std::nullopt;
  }
  return Uncertain{*value, item.at(key + "_u" + unit).not_negative()};
}

Json json_of(const CameraEntry& camera) {
  return {{"name", camera.name},
          {"file", camera.file},
          {"sha256", camera.sha256},
          {"use", kUseWords[static_cast<std::size_t>(camera.use)]}};
}

Json json_of(const Photo& photo) {
  Json json = {{"name", photo.name},
               {"file", photo.file},
               {"sha256", photo.sha256},
               {"width_px", photo.size.width},
               {"height_px", photo.size.height},
               {"camera", photo.camera},
               {"exif_orientation", photo.exif_orientation}};
  put_if(json, "epoch", photo.epoch);
  return json;
}

Json json_of(const PointKind& kind) {
  return {{"name", kind.name}, {"definition_u_mm", kind.definition_u_mm}};
}

Json json_of(const Point& point) {
  Json json = {{"name", point.name}};
  put_if(json, "kind", point.kind);
  return json;
}

Json json_of(const Mark& mark) {
  Json json = {{"photo", mark.photo},
               {"point", mark.point},
               {"x_px", mark.position_px.x()},
               {"y_px", mark.position_px.y()},
               {"sigma_px", mark.sigma_px},
               {"source", kSourceWords[static_cast<std::size_t>(mark.source)]}};
  if (mark.set_aside) {
    json["set_aside"] = true;
  }
  return json;
}

Json json_of(const Hidden& place) { return {{"photo", place.photo}, {"point", place.point}}; }

Json json_of(const ScaleBar& bar) {
  Json json = {{"name", bar.name},
               {"from", bar.from},
               {"to", bar.to},
               {"length_mm", bar.length_mm},
               {"u_own_mm", bar.u_own_mm}};
  if (bar.u_common_mm > 0.0) {
    json["u_common_mm"] = bar.u_common_mm;
  }
  put_if(json, "certificate", bar.certificate);
  put_uncertain(json, "expansion", "_per_K", bar.expansion_per_K);
  put_uncertain(json, "temperature", "_C", bar.temperature_C);
  if (bar.check_only) {
    json["check_only"] = true;
  }
  return json;
}

Json json_of(const ScaleRatio& ratio) {
  return {{"denominator", ratio.denominator}, {"u", ratio.u}};
}

Json json_of(const AskedDimension& dimension) {
  Json json = {{"name", dimension.name}, {"kind", kind_word(dimension.kind)}};
  std::visit(KindKeys{json}, dimension.kind);
  put_if(json, "tolerance_mm", dimension.tolerance_mm);
  return json;
}

Json json_of(const Dossier& dossier) {
  Json json = calib::new_file(kDossierSchema);
  json["name"] = dossier.name;
  if (dossier.model_scale) {
    json["model_scale"] = json_of(*dossier.model_scale);
  }
  json["replica_scales"] = json_list(dossier.replica_scales);
  Json original = Json::object();
  put_uncertain(original, "temperature", "_C", dossier.temperature_C);
  put_uncertain(original, "expansion", "_per_K", dossier.expansion_per_K);
  if (!original.empty()) {
    json["original"] = std::move(original);
  }
  json["cameras"] = json_list(dossier.cameras);
  json["photos"] = json_list(dossier.photos);
  json["point_kinds"] = json_list(dossier.point_kinds);
  json["points"] = json_list(dossier.points);
  json["marks"] = json_list(dossier.marks);
  json["hidden"] = json_list(dossier.hidden);
  json["bars"] = json_list(dossier.bars);
  json["dimensions"] = json_list(dossier.dimensions);
  return json;
}

CameraUse camera_use_from(const JsonItem& item) {
  return static_cast<CameraUse>(item.word(kUseWords));
}

CameraEntry camera_from(const JsonItem& item) {
  return {item.at("name").text(), item.at("file").text(), item.at("sha256").text(),
          camera_use_from(item.at("use"))};
}

Photo photo_from(const JsonItem& item) {
  Photo photo;
  photo.name = item.at("name").text();
  photo.file = item.at("file").text();
  photo.sha256 = item.at("sha256").text();
  photo.size = {item.at("width_px").integer(1, kLargestSide_px),
                item.at("height_px").integer(1, kLargestSide_px)};
  photo.camera = item.at("camera").text();
  photo.exif_orientation = item.at("exif_orientation").integer(1, 8);
  photo.epoch = item.text_or("epoch", "");
  return photo;
}

PointKind kind_from(const JsonItem& item) {
  return {item.at("name").text(), item.at("definition_u_mm").not_negative()};
}

Point point_from(const JsonItem& item) {
  return {item.at("name").text(), item.text_or("kind", "")};
}

Mark mark_from(const JsonItem& item) {
  Mark mark;
  mark.photo = item.at("photo").text();
  mark.point = item.at("point").text();
  mark.position_px = {item.at("x_px").number(), item.at("y_px").number()};
  mark.sigma_px = item.at("sigma_px").positive();
  mark.source = static_cast<MarkSource>(item.at("source").word(kSourceWords));
  mark.set_aside = item.truth_or("set_aside", false);
  return mark;
}

Hidden hidden_from(const JsonItem& item) {
  return {item.at("photo").text(), item.at("point").text()};
}

ScaleBar bar_from(const JsonItem& item) {
  ScaleBar bar;
  bar.name = item.at("name").text();
  bar.from = item.at("from").text();
  bar.to = item.at("to").text();
  bar.length_mm = item.at("length_mm").positive();
  bar.u_own_mm = item.at("u_own_mm").positive();
  bar.u_common_mm = item.number_or("u_common_mm", 0.0);
  bar.certificate = item.text_or("certificate", "");
  bar.expansion_per_K = find_uncertain(item, "expansion", "_per_K");
  bar.temperature_C = find_uncertain(item, "temperature", "_C");
  bar.check_only = item.truth_or("check_only", false);
  return bar;
}

ScaleRatio ratio_from(const JsonItem& item) {
  return {item.at("denominator").positive(), item.number_or("u", 0.0)};
}

AskedDimension dimension_from(const JsonItem& item) {
  const auto name = [&](std::string_view key) { return item.at(key).text(); };
  AskedDimension dimension{name("name"), Distance{}, item.find_number("tolerance_mm")};
  switch (item.at("kind").word(kKindWords)) {
    case 0:
      dimension.kind = Distance{name("from"), name("to")};
      break;
    case 1:
      dimension.kind = DistanceAlong{name("from"), name("to"), name("axis_from"), name("axis_to")};
      break;
    case 2:
      dimension.kind = Angle{name("first"), name("vertex"), name("second")};
      break;
    case 3:
      dimension.kind = OffsetFromLine{name("point"), name("line_from"), name("line_to")};
      break;
    default: {
      OffsetFromPlane offset{name("point"), {}};
      for (const JsonItem& point : item.at("plane").list()) {
        offset.plane.push_back(point.text());
      }
      dimension.kind = std::move(offset);
    }
  }
  return dimension;
}

}  // namespace measure
