#include "measure/edit/edit.h"

#include <algorithm>

#include "measure/edit/name_rules.h"

namespace measure {
namespace {

std::string count_of(std::size_t count, const std::string& noun) {
  return std::to_string(count) + " " + noun + (count == 1 ? "" : "s");
}

/// "mark "A" in "a.jpg"", "3 marks".
template <typename Places>
std::string marks_text(const Places& places) {
  return places.size() == 1
             ? "mark " + in_quotes(places.front().point) + " in " + in_quotes(places.front().photo)
             : count_of(places.size(), "mark");
}

template <typename Places>
std::string shape_marks_text(const Places& places) {
  return places.size() == 1 ? "mark on " + in_quotes(places.front().shape) + " in " +
                                  in_quotes(places.front().photo)
                            : count_of(places.size(), "mark") + " on shapes";
}

/// The mark that the group takes from one place of a shape and sets at another; mostly null.
const ShapeMark* moved_mark(const EditGroup& group) {
  if (group.edits.size() != 2) return nullptr;
  const auto* removed = std::get_if<RemoveShapeMarks>(&group.edits[0].what);
  const auto* set = std::get_if<SetShapeMarks>(&group.edits[1].what);
  if (!removed || !set || removed->marks.size() != 1 || set->marks.size() != 1) return nullptr;
  const ShapeMarkKey& from = removed->marks.front();
  const ShapeMark& to = set->marks.front();
  return from.photo == to.photo && from.shape == to.shape ? &to : nullptr;
}

struct Description {
  std::string operator()(const SetDossierName& e) const {
    return "name the dossier " + in_quotes(e.name);
  }
  std::string operator()(const SetScales&) const { return "set the scales"; }
  std::string operator()(const SetTemperature&) const {
    return "set the temperature of the original";
  }
  std::string operator()(const SetExpansion&) const { return "set the expansion of the original"; }
  std::string operator()(const AddCamera& e) const {
    return "add camera " + in_quotes(e.camera.name);
  }
  std::string operator()(const RemoveCamera& e) const {
    return "remove camera " + in_quotes(e.camera);
  }
  std::string operator()(const SetCameraUse& e) const {
    return "set the use of camera " + in_quotes(e.camera);
  }
  std::string operator()(const SetCameraFile& e) const {
    return "replace the file of camera " + in_quotes(e.camera);
  }
  std::string operator()(const AddPhoto& e) const { return "add photo " + in_quotes(e.photo.name); }
  std::string operator()(const RemovePhoto& e) const {
    return "remove photo " + in_quotes(e.photo);
  }
  std::string operator()(const SetPhotoCamera& e) const {
    return "set the camera of photo " + in_quotes(e.photo);
  }
  std::string operator()(const SetPhotoEpoch& e) const {
    return "set the epoch of photo " + in_quotes(e.photo);
  }
  std::string operator()(const SetKind& e) const {
    return "set point kind " + in_quotes(e.kind.name);
  }
  std::string operator()(const RemoveKind& e) const {
    return "remove point kind " + in_quotes(e.kind);
  }
  std::string operator()(const AddPoint& e) const { return "add point " + in_quotes(e.point.name); }
  std::string operator()(const RenamePoint& e) const {
    return "rename point " + in_quotes(e.point) + " to " + in_quotes(e.name);
  }
  std::string operator()(const RemovePoint& e) const {
    return "remove point " + in_quotes(e.point);
  }
  std::string operator()(const SetPointKind& e) const {
    return "set the kind of point " + in_quotes(e.point);
  }
  std::string operator()(const SetMarks& e) const { return "set " + marks_text(e.marks); }
  std::string operator()(const RemoveMarks& e) const { return "remove " + marks_text(e.marks); }
  std::string operator()(const SetAside& e) const {
    return (e.set_aside ? "set aside mark " : "take up mark ") + in_quotes(e.mark.point) + " in " +
           in_quotes(e.mark.photo);
  }
  std::string operator()(const SetHidden& e) const {
    const std::string what = e.places.size() == 1 ? "point " + in_quotes(e.places.front().point) +
                                                        " in " + in_quotes(e.places.front().photo)
                                                  : count_of(e.places.size(), "place");
    return (e.hidden ? "say not visible: " : "take back not visible: ") + what;
  }
  std::string operator()(const AddBar& e) const { return "add scale bar " + in_quotes(e.bar.name); }
  std::string operator()(const RemoveBar& e) const {
    return "remove scale bar " + in_quotes(e.bar);
  }
  std::string operator()(const AddDimension& e) const {
    return "add dimension " + in_quotes(e.dimension.name);
  }
  std::string operator()(const RemoveDimension& e) const {
    return "remove dimension " + in_quotes(e.dimension);
  }
  std::string operator()(const RenameDimension& e) const {
    return "rename dimension " + in_quotes(e.dimension) + " to " + in_quotes(e.name);
  }
  std::string operator()(const SetTolerance& e) const {
    return "set the tolerance of dimension " + in_quotes(e.dimension);
  }
  std::string operator()(const AddShape& e) const { return "add shape " + in_quotes(e.shape.name); }
  std::string operator()(const RenameShape& e) const {
    return "rename shape " + in_quotes(e.shape) + " to " + in_quotes(e.name);
  }
  std::string operator()(const RemoveShape& e) const {
    return "remove shape " + in_quotes(e.shape);
  }
  std::string operator()(const SetShapeKind& e) const {
    return "set the kind of shape " + in_quotes(e.shape);
  }
  std::string operator()(const SetShapeMarks& e) const {
    return "set " + shape_marks_text(e.marks);
  }
  std::string operator()(const RemoveShapeMarks& e) const {
    return "remove " + shape_marks_text(e.marks);
  }
  std::string operator()(const SetShapeMarkAside& e) const {
    return (e.set_aside ? "set aside mark on " : "take up mark on ") + in_quotes(e.mark.shape) +
           " in " + in_quotes(e.mark.photo);
  }
  std::string operator()(const SetAxes& e) const {
    return e.axes ? "set the model axes" : "take back the model axes";
  }
  std::string operator()(const EditGroup& e) const {
    if (e.edits.empty()) {
      return "no edit";
    }
    if (const ShapeMark* mark = moved_mark(e)) {
      return "move mark on " + in_quotes(mark->shape) + " in " + in_quotes(mark->photo);
    }
    const std::string first = describe(e.edits.front());
    return e.edits.size() == 1 ? first
                               : first + " and " + count_of(e.edits.size() - 1, "more edit");
  }
};

}  // namespace

ShapeMarkKey key_of(const ShapeMark& mark) {
  return {mark.photo, mark.shape, mark.position_px.x(), mark.position_px.y()};
}

bool concerns(const Edit& edit, const MarkKey& mark) {
  const auto is_it = [&](const auto& place) {
    return place.photo == mark.photo && place.point == mark.point;
  };
  if (const auto* set = std::get_if<SetMarks>(&edit.what)) {
    return std::any_of(set->marks.begin(), set->marks.end(), is_it);
  }
  if (const auto* removed = std::get_if<RemoveMarks>(&edit.what)) {
    return std::any_of(removed->marks.begin(), removed->marks.end(), is_it);
  }
  if (const auto* aside = std::get_if<SetAside>(&edit.what)) {
    return is_it(aside->mark);
  }
  const auto* group = std::get_if<EditGroup>(&edit.what);
  return group != nullptr && std::any_of(group->edits.begin(), group->edits.end(),
                                         [&](const Edit& one) { return concerns(one, mark); });
}

std::string describe(const Edit& edit) { return std::visit(Description{}, edit.what); }

}  // namespace measure
