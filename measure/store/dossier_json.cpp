#include "measure/store/dossier_json.h"

#include <array>

namespace measure {
namespace {

using calib::Json;
using calib::JsonItem;
using calib::put_if;

constexpr std::array<std::string_view, 3> kUseWords = {"fixed", "prior", "self"};
constexpr std::array<std::string_view, 3> kSourceWords = {"by_hand", "refined", "imported"};
constexpr int kLargestSide_px = 200'000;

/// Writes the fields of a kind of dimension or of a shape's origin; what is empty is left out.
struct FieldWriter {
  Json& json;
  void name(std::string_view key, const std::string& name, Field) const {
    put_if(json, std::string(key), name);
  }
  void names(std::string_view key, const std::vector<std::string>& names) const {
    json[std::string(key)] = names;
  }
  void word(std::string_view key, const std::string& word) const { json[std::string(key)] = word; }
  void number(std::string_view key, const std::optional<double>& number) const {
    put_if(json, std::string(key), number);
  }
  void pairs(std::string_view key,
             const std::vector<std::pair<std::string, std::string>>& pairs) const {
    Json& list = json[std::string(key)] = Json::array();
    for (const auto& [first, second] : pairs) {
      list.push_back(Json::array({first, second}));
    }
  }
};

/// Reads them.
struct FieldReader {
  const JsonItem& item;
  void name(std::string_view key, std::string& name, Field field) const {
    name = field == Field::kOptional ? item.text_or(std::string(key), "") : item.at(key).text();
  }
  void names(std::string_view key, std::vector<std::string>& names) const {
    for (const JsonItem& name : item.at(key).list()) {
      names.push_back(name.text());
    }
  }
  void word(std::string_view key, std::string& word) const { word = item.at(key).text(); }
  void number(std::string_view key, std::optional<double>& number) const {
    number = item.find_number(std::string(key));
  }
  void pairs(std::string_view key, std::vector<std::pair<std::string, std::string>>& pairs) const {
    for (const JsonItem& pair : item.at(key).list()) {
      const auto both = pair.list();
      if (both.size() != 2) {
        pair.refuse("is no pair of two names");
      }
      pairs.emplace_back(both[0].text(), both[1].text());
    }
  }
};

/// The variant's alternative whose word stands at `key`, with its fields.
template <typename Variant>
Variant alternative_from(const JsonItem& item, std::string_view key) {
  return [&]<std::size_t... index>(std::index_sequence<index...>) {
    constexpr std::array<std::string_view, sizeof...(index)> kWords = {
        std::variant_alternative_t<index, Variant>::kWord...};
    const std::size_t wanted = item.at(key).word(kWords);
    Variant result;
    const auto read = [&]<std::size_t i>() {
      if (i != wanted) return;
      std::variant_alternative_t<i, Variant> kind;
      kind.names(kind, FieldReader{item});
      result = std::move(kind);
    };
    (read.template operator()<index>(), ...);
    return result;
  }(std::make_index_sequence<std::variant_size_v<Variant>>());
}

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
  std::visit([&](const auto& kind) { kind.names(kind, FieldWriter{json}); }, dimension.kind);
  put_if(json, "tolerance_mm", dimension.tolerance_mm);
  return json;
}

Json json_of(const Shape& shape) {
  Json json = {{"name", shape.name}, {"origin", origin_word(shape.origin)}};
  std::visit([&](const auto& origin) { origin.names(origin, FieldWriter{json}); }, shape.origin);
  put_if(json, "kind", shape.kind);
  return json;
}

Json json_of(const ShapeMark& mark) {
  Json json = {{"photo", mark.photo},
               {"shape", mark.shape},
               {"x_px", mark.position_px.x()},
               {"y_px", mark.position_px.y()},
               {"sigma_px", mark.sigma_px},
               {"source", kSourceWords[static_cast<std::size_t>(mark.source)]}};
  if (mark.side != 0) {
    json["side"] = mark.side;
  }
  if (mark.set_aside) {
    json["set_aside"] = true;
  }
  return json;
}

Json json_of(const AxesNames& axes) {
  return {{"plane", axes.plane}, {"line", axes.line}, {"origin", axes.origin}};
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
  // Files that need nothing of version 1.2 stay readable as they were.
  if (!dossier.shapes.empty()) {
    json["shapes"] = json_list(dossier.shapes);
    json["shape_marks"] = json_list(dossier.shape_marks);
  }
  if (dossier.axes) {
    json["axes"] = json_of(*dossier.axes);
  }
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
  return {item.at("name").text(), alternative_from<DimensionKind>(item, "kind"),
          item.find_number("tolerance_mm")};
}

Shape shape_from(const JsonItem& item) {
  return {item.at("name").text(), alternative_from<ShapeOrigin>(item, "origin"),
          item.text_or("kind", "")};
}

ShapeMark shape_mark_from(const JsonItem& item) {
  ShapeMark mark;
  mark.photo = item.at("photo").text();
  mark.shape = item.at("shape").text();
  mark.position_px = {item.at("x_px").number(), item.at("y_px").number()};
  if (const auto side = item.find("side")) {
    mark.side = side->integer(0, 2);
  }
  mark.sigma_px = item.at("sigma_px").positive();
  mark.source = static_cast<MarkSource>(item.at("source").word(kSourceWords));
  mark.set_aside = item.truth_or("set_aside", false);
  return mark;
}

AxesNames axes_from(const JsonItem& item) {
  return {item.at("plane").text(), item.at("line").text(), item.at("origin").text()};
}

}  // namespace measure
