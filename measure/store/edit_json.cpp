#include "measure/store/edit_json.h"

#include <array>

#include "calib/file/versioned_json.h"
#include "measure/store/dossier_json.h"

namespace measure {
namespace {

using calib::Json;
using calib::JsonItem;

// In the order of EditKind, so that a word's place is the variant's index.
constexpr std::array<std::string_view, 37> kWords = {"set_dossier_name",
                                                     "set_scales",
                                                     "set_temperature",
                                                     "set_expansion",
                                                     "add_camera",
                                                     "remove_camera",
                                                     "set_camera_use",
                                                     "set_camera_file",
                                                     "add_photo",
                                                     "remove_photo",
                                                     "set_photo_camera",
                                                     "set_photo_epoch",
                                                     "set_kind",
                                                     "remove_kind",
                                                     "add_point",
                                                     "rename_point",
                                                     "remove_point",
                                                     "set_point_kind",
                                                     "set_marks",
                                                     "remove_marks",
                                                     "set_aside",
                                                     "set_hidden",
                                                     "add_bar",
                                                     "remove_bar",
                                                     "add_dimension",
                                                     "remove_dimension",
                                                     "rename_dimension",
                                                     "set_tolerance",
                                                     "group",
                                                     "add_shape",
                                                     "rename_shape",
                                                     "remove_shape",
                                                     "set_shape_kind",
                                                     "set_shape_marks",
                                                     "remove_shape_marks",
                                                     "set_shape_mark_aside",
                                                     "set_axes"};
static_assert(kWords.size() == std::variant_size_v<EditKind>);

Json json_of(const MarkKey& key) { return {{"photo", key.photo}, {"point", key.point}}; }
MarkKey key_from(const JsonItem& item) {
  return {item.at("photo").text(), item.at("point").text()};
}

Json json_of(const ShapeMarkKey& key) {
  return {{"photo", key.photo}, {"shape", key.shape}, {"x_px", key.x_px}, {"y_px", key.y_px}};
}
ShapeMarkKey shape_key_from(const JsonItem& item) {
  return {item.at("photo").text(), item.at("shape").text(), item.at("x_px").number(),
          item.at("y_px").number()};
}

template <typename Item>
Json list_of(const std::vector<Item>& items) {
  Json list = Json::array();
  for (const Item& item : items) {
    list.push_back(json_of(item));
  }
  return list;
}

struct Content {
  Json operator()(const SetDossierName& e) const { return {{"name", e.name}}; }
  Json operator()(const SetScales& e) const {
    Json json = {{"replica_scales", Json::array()}};
    if (e.model_scale) {
      json["model_scale"] = json_of(*e.model_scale);
    }
    for (const ScaleRatio& ratio : e.replica_scales) {
      json["replica_scales"].push_back(json_of(ratio));
    }
    return json;
  }
  Json operator()(const SetTemperature& e) const {
    Json json = Json::object();
    put_uncertain(json, "temperature", "_C", e.temperature_C);
    return json;
  }
  Json operator()(const SetExpansion& e) const {
    Json json = Json::object();
    put_uncertain(json, "expansion", "_per_K", e.expansion_per_K);
    return json;
  }
  Json operator()(const AddCamera& e) const { return {{"camera", json_of(e.camera)}}; }
  Json operator()(const RemoveCamera& e) const { return {{"name", e.camera}}; }
  Json operator()(const SetCameraUse& e) const {
    return {{"name", e.camera}, {"use", word_of(e.use)}};
  }
  Json operator()(const SetCameraFile& e) const {
    return {{"name", e.camera}, {"file", e.file}, {"sha256", e.sha256}};
  }
  Json operator()(const AddPhoto& e) const { return {{"photo", json_of(e.photo)}}; }
  Json operator()(const RemovePhoto& e) const { return {{"name", e.photo}}; }
  Json operator()(const SetPhotoCamera& e) const {
    return {{"name", e.photo}, {"camera", e.camera}};
  }
  Json operator()(const SetPhotoEpoch& e) const { return {{"name", e.photo}, {"epoch", e.epoch}}; }
  Json operator()(const SetKind& e) const { return {{"kind", json_of(e.kind)}}; }
  Json operator()(const RemoveKind& e) const { return {{"name", e.kind}}; }
  Json operator()(const AddPoint& e) const { return {{"point", json_of(e.point)}}; }
  Json operator()(const RenamePoint& e) const { return {{"name", e.point}, {"new_name", e.name}}; }
  Json operator()(const RemovePoint& e) const { return {{"name", e.point}}; }
  Json operator()(const SetPointKind& e) const { return {{"name", e.point}, {"kind", e.kind}}; }
  Json operator()(const SetMarks& e) const {
    Json marks = Json::array();
    for (const Mark& mark : e.marks) {
      marks.push_back(json_of(mark));
    }
    return {{"marks", marks}};
  }
  Json operator()(const RemoveMarks& e) const {
    Json marks = Json::array();
    for (const MarkKey& key : e.marks) {
      marks.push_back(json_of(key));
    }
    return {{"marks", marks}};
  }
  Json operator()(const SetAside& e) const {
    return {{"mark", json_of(e.mark)}, {"set_aside", e.set_aside}};
  }
  Json operator()(const SetHidden& e) const {
    Json places = Json::array();
    for (const Hidden& place : e.places) {
      places.push_back(json_of(place));
    }
    return {{"places", places}, {"hidden", e.hidden}};
  }
  Json operator()(const AddBar& e) const { return {{"bar", json_of(e.bar)}}; }
  Json operator()(const RemoveBar& e) const { return {{"name", e.bar}}; }
  Json operator()(const AddDimension& e) const {
    Json json = {{"dimension", json_of(e.dimension)}};
    if (e.position) {
      json["position"] = *e.position;
    }
    return json;
  }
  Json operator()(const RemoveDimension& e) const { return {{"name", e.dimension}}; }
  Json operator()(const RenameDimension& e) const {
    return {{"name", e.dimension}, {"new_name", e.name}};
  }
  Json operator()(const SetTolerance& e) const {
    Json json = {{"name", e.dimension}};
    calib::put_if(json, "tolerance_mm", e.tolerance_mm);
    return json;
  }
  Json operator()(const AddShape& e) const {
    Json json = {{"shape", json_of(e.shape)}};
    if (e.position) {
      json["position"] = *e.position;
    }
    return json;
  }
  Json operator()(const RenameShape& e) const { return {{"name", e.shape}, {"new_name", e.name}}; }
  Json operator()(const RemoveShape& e) const { return {{"name", e.shape}}; }
  Json operator()(const SetShapeKind& e) const { return {{"name", e.shape}, {"kind", e.kind}}; }
  Json operator()(const SetShapeMarks& e) const { return {{"marks", list_of(e.marks)}}; }
  Json operator()(const RemoveShapeMarks& e) const { return {{"marks", list_of(e.marks)}}; }
  Json operator()(const SetShapeMarkAside& e) const {
    return {{"mark", json_of(e.mark)}, {"set_aside", e.set_aside}};
  }
  Json operator()(const SetAxes& e) const {
    Json json = Json::object();
    if (e.axes) {
      json["axes"] = json_of(*e.axes);
    }
    return json;
  }
  Json operator()(const EditGroup& e) const {
    Json edits = Json::array();
    for (const Edit& edit : e.edits) {
      edits.push_back(json_of(edit));
    }
    return {{"edits", edits}};
  }
};

Edit scales_from(const JsonItem& item) {
  SetScales edit;
  if (const auto model_scale = item.find("model_scale")) {
    edit.model_scale = ratio_from(*model_scale);
  }
  for (const JsonItem& ratio : item.list("replica_scales")) {
    edit.replica_scales.push_back(ratio_from(ratio));
  }
  return edit;
}

template <typename List, typename From>
auto list_from(const JsonItem& item, From from) {
  List list;
  for (const JsonItem& element : item.list()) {
    list.push_back(from(element));
  }
  return list;
}

std::optional<std::size_t> position_from(const JsonItem& item) {
  const auto position = item.find("position");
  return position ? std::optional(static_cast<std::size_t>(position->integer(0, 1'000'000)))
                  : std::nullopt;
}

Edit dimension_edit_from(const JsonItem& item) {
  return AddDimension{dimension_from(item.at("dimension")), position_from(item)};
}

/// Reads the edit of one word; in the order of kWords.
using Reader = Edit (*)(const JsonItem&);
constexpr std::array<Reader, kWords.size()> kReaders = {
    [](const JsonItem& i) -> Edit { return SetDossierName{i.at("name").text()}; },
    scales_from,
    [](const JsonItem& i) -> Edit {
      return SetTemperature{find_uncertain(i, "temperature", "_C")};
    },
    [](const JsonItem& i) -> Edit {
      return SetExpansion{find_uncertain(i, "expansion", "_per_K")};
    },
    [](const JsonItem& i) -> Edit { return AddCamera{camera_from(i.at("camera"))}; },
    [](const JsonItem& i) -> Edit { return RemoveCamera{i.at("name").text()}; },
    [](const JsonItem& i) -> Edit {
      return SetCameraUse{i.at("name").text(), camera_use_from(i.at("use"))};
    },
    [](const JsonItem& i) -> Edit {
      return SetCameraFile{i.at("name").text(), i.at("file").text(), i.at("sha256").text()};
    },
    [](const JsonItem& i) -> Edit { return AddPhoto{photo_from(i.at("photo"))}; },
    [](const JsonItem& i) -> Edit { return RemovePhoto{i.at("name").text()}; },
    [](const JsonItem& i) -> Edit {
      return SetPhotoCamera{i.at("name").text(), i.at("camera").text()};
    },
    [](const JsonItem& i) -> Edit {
      return SetPhotoEpoch{i.at("name").text(), i.text_or("epoch", "")};
    },
    [](const JsonItem& i) -> Edit { return SetKind{kind_from(i.at("kind"))}; },
    [](const JsonItem& i) -> Edit { return RemoveKind{i.at("name").text()}; },
    [](const JsonItem& i) -> Edit { return AddPoint{point_from(i.at("point"))}; },
    [](const JsonItem& i) -> Edit {
      return RenamePoint{i.at("name").text(), i.at("new_name").text()};
    },
    [](const JsonItem& i) -> Edit { return RemovePoint{i.at("name").text()}; },
    [](const JsonItem& i) -> Edit {
      return SetPointKind{i.at("name").text(), i.text_or("kind", "")};
    },
    [](const JsonItem& i) -> Edit {
      return SetMarks{list_from<std::vector<Mark>>(i.at("marks"), mark_from)};
    },
    [](const JsonItem& i) -> Edit {
      return RemoveMarks{list_from<std::vector<MarkKey>>(i.at("marks"), key_from)};
    },
    [](const JsonItem& i) -> Edit {
      return SetAside{key_from(i.at("mark")), i.at("set_aside").truth()};
    },
    [](const JsonItem& i) -> Edit {
      return SetHidden{list_from<std::vector<Hidden>>(i.at("places"), hidden_from),
                       i.at("hidden").truth()};
    },
    [](const JsonItem& i) -> Edit { return AddBar{bar_from(i.at("bar"))}; },
    [](const JsonItem& i) -> Edit { return RemoveBar{i.at("name").text()}; },
    dimension_edit_from,
    [](const JsonItem& i) -> Edit { return RemoveDimension{i.at("name").text()}; },
    [](const JsonItem& i) -> Edit {
      return RenameDimension{i.at("name").text(), i.at("new_name").text()};
    },
    [](const JsonItem& i) -> Edit {
      return SetTolerance{i.at("name").text(), i.find_number("tolerance_mm")};
    },
    [](const JsonItem& i) -> Edit {
      return EditGroup{list_from<std::vector<Edit>>(i.at("edits"), edit_from)};
    },
    [](const JsonItem& i) -> Edit {
      return AddShape{shape_from(i.at("shape")), position_from(i)};
    },
    [](const JsonItem& i) -> Edit {
      return RenameShape{i.at("name").text(), i.at("new_name").text()};
    },
    [](const JsonItem& i) -> Edit { return RemoveShape{i.at("name").text()}; },
    [](const JsonItem& i) -> Edit {
      return SetShapeKind{i.at("name").text(), i.text_or("kind", "")};
    },
    [](const JsonItem& i) -> Edit {
      return SetShapeMarks{list_from<std::vector<ShapeMark>>(i.at("marks"), shape_mark_from)};
    },
    [](const JsonItem& i) -> Edit {
      return RemoveShapeMarks{list_from<std::vector<ShapeMarkKey>>(i.at("marks"), shape_key_from)};
    },
    [](const JsonItem& i) -> Edit {
      return SetShapeMarkAside{shape_key_from(i.at("mark")), i.at("set_aside").truth()};
    },
    [](const JsonItem& i) -> Edit {
      const auto axes = i.find("axes");
      return SetAxes{axes ? std::optional(axes_from(*axes)) : std::nullopt};
    }};

}  // namespace

Json json_of(const Edit& edit) {
  Json json = std::visit(Content{}, edit.what);
  json["edit"] = kWords[edit.what.index()];
  return json;
}

Edit edit_from(const JsonItem& item) { return kReaders[item.at("edit").word(kWords)](item); }

std::string edit_line(const Edit& edit) {
  return json_of(edit).dump(-1, ' ', false, Json::error_handler_t::replace);
}

calib::Result<Edit, calib::Problem> edit_from_line(std::string_view line,
                                                   const std::string& source) {
  const auto json = calib::parse_json(line, source);
  if (!json) {
    return calib::Unexpected(json.error());
  }
  return calib::read_json<Edit>(*json, source, edit_from);
}

}  // namespace measure
