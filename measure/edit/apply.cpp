#include "measure/edit/apply.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "measure/edit/dimension_rules.h"
#include "measure/edit/name_rules.h"
#include "measure/edit/shape_rules.h"

namespace measure {
namespace {

using calib::Problem;
using calib::Unexpected;
using Applied = calib::Result<Edit, Problem>;
using Sentence = std::optional<std::string>;

constexpr int kDeepestGroup = 16;

Unexpected<Problem> refused(std::string sentence) {
  return Unexpected(Problem{std::move(sentence)});
}

MarkKey key_of(const Mark& mark) { return {mark.photo, mark.point}; }

template <typename Items>
auto place_of(Items& items, const std::string& name) {
  return std::lower_bound(
      items.begin(), items.end(), name,
      [](const auto& item, const std::string& wanted) { return item.name < wanted; });
}

/// Nothing where no item has the name. The items are sorted by name.
template <typename Item>
Item* find_named(std::vector<Item>& items, const std::string& name) {
  const auto at = place_of(items, name);
  return at != items.end() && at->name == name ? &*at : nullptr;
}

template <typename Items>
auto place_of_mark(Items& marks, const MarkKey& key) {
  return std::lower_bound(
      marks.begin(), marks.end(), key, [](const Mark& mark, const MarkKey& wanted) {
        return std::tie(mark.photo, mark.point) < std::tie(wanted.photo, wanted.point);
      });
}

Mark* find_mark(std::vector<Mark>& marks, const MarkKey& key) {
  const auto at = place_of_mark(marks, key);
  return at != marks.end() && key_of(*at) == key ? &*at : nullptr;
}

auto place_of_hidden(std::vector<Hidden>& hidden, const Hidden& place) {
  return std::lower_bound(hidden.begin(), hidden.end(), place);
}

bool is_hidden(std::vector<Hidden>& hidden, const Hidden& place) {
  const auto at = place_of_hidden(hidden, place);
  return at != hidden.end() && *at == place;
}

std::string missing(const std::string& what, const std::string& name, const std::string& remedy) {
  return "There is no " + what + " " + in_quotes(name) + " in the dossier: " + remedy;
}
std::string missing_photo(const std::string& name) {
  return missing("photo", name, "add it, or check the name (\"scantling photo list\").");
}
std::string missing_point(const std::string& name) {
  return missing("point", name, "mark it first, or check the name (\"scantling mark list\").");
}
std::string missing_mark(const MarkKey& key) {
  return "There is no mark of point " + in_quotes(key.point) + " in photo " + in_quotes(key.photo) +
         ": check both names (\"scantling mark list\").";
}

Sentence uncertain_problem(const std::optional<Uncertain>& value, const std::string& subject) {
  if (!value) {
    return std::nullopt;
  }
  if (!std::isfinite(value->value) || !std::isfinite(value->u)) {
    return subject + " is not a finite number.";
  }
  if (value->u < 0.0) {
    return subject + " has an uncertainty below 0.";
  }
  return std::nullopt;
}

Sentence temperature_problem(const std::optional<Uncertain>& value, const std::string& subject) {
  if (const auto problem = uncertain_problem(value, subject)) {
    return problem;
  }
  constexpr double kAbsoluteZero_C = -273.15;
  if (value && value->value <= kAbsoluteZero_C) {
    return subject + " lies below absolute zero: give it in degrees Celsius.";
  }
  return std::nullopt;
}

Sentence ratio_problem(const ScaleRatio& ratio, const std::string& subject) {
  if (!std::isfinite(ratio.denominator) || !(ratio.denominator > 0.0)) {
    return subject + " must be a ratio like 1:48.";
  }
  if (!std::isfinite(ratio.u) || ratio.u < 0.0 || ratio.u >= ratio.denominator) {
    return subject + " needs an uncertainty of 0 or more that is smaller than the ratio itself.";
  }
  return std::nullopt;
}

Sentence hash_problem(const std::string& sha256, const std::string& subject) {
  if (sha256.size() != 64 || sha256.find_first_not_of("0123456789abcdef") != std::string::npos) {
    return subject + " has no SHA-256 of 64 lower-case hexadecimal digits.";
  }
  return std::nullopt;
}

Sentence path_problem(const std::string& path, const std::string& subject) {
  if (path.empty()) {
    return subject + " names no file.";
  }
  if (!is_utf8(path) || path.find('\0') != std::string::npos) {
    return "The path " + in_quotes(path) + " of " + subject +
           " is not UTF-8: rename the file or its folder.";
  }
  return std::nullopt;
}

Sentence mark_problem(const Mark& mark, Dossier& dossier) {
  const Photo* photo = find_named(dossier.photos, mark.photo);
  if (photo == nullptr) {
    return missing_photo(mark.photo);
  }
  if (find_named(dossier.points, mark.point) == nullptr) {
    return missing_point(mark.point);
  }
  const std::string subject =
      "The mark of point " + in_quotes(mark.point) + " in photo " + in_quotes(mark.photo);
  if (!mark.position_px.allFinite()) {
    return subject + " is not at a finite position.";
  }
  if (!lies_in_photo(mark.position_px, photo->size)) {
    return subject + " lies outside the photo of " + std::to_string(photo->size.width) + " x " +
           std::to_string(photo->size.height) + " pixels: check x and y.";
  }
  if (!std::isfinite(mark.sigma_px) || !(mark.sigma_px > 0.0)) {
    return subject + " needs a sigma above 0 pixels.";
  }
  return std::nullopt;
}

Sentence bar_problem(const ScaleBar& bar, Dossier& dossier) {
  if (const auto problem = name_problem(bar.name, "scale bar")) {
    return problem;
  }
  const std::string subject = "Scale bar " + in_quotes(bar.name);
  for (const std::string* end : {&bar.from, &bar.to}) {
    if (find_named(dossier.points, *end) == nullptr) {
      return subject + ": " + missing_point(*end);
    }
  }
  if (bar.from == bar.to) {
    return subject + " needs two different points, not " + in_quotes(bar.from) + " twice.";
  }
  if (!std::isfinite(bar.length_mm) || !(bar.length_mm > 0.0) ||
      bar.length_mm > kLargestLength_mm) {
    return subject + " needs a length above 0 and at most 1 km.";
  }
  if (!std::isfinite(bar.u_own_mm) || !std::isfinite(bar.u_common_mm) || bar.u_own_mm < 0.0 ||
      bar.u_common_mm < 0.0) {
    return subject + " needs uncertainties of 0 or more.";
  }
  if (!(bar.u_own_mm > 0.0)) {
    return subject + " needs a standard uncertainty above 0: no length is known exactly.";
  }
  if (bar.u_common_mm > 0.0 && bar.certificate.empty()) {
    return subject +
           " has a common uncertainty but no certificate: name the certificate that it comes from.";
  }
  if (!bar.certificate.empty()) {
    if (const auto problem = name_problem(bar.certificate, "certificate")) {
      return problem;
    }
  }
  if (const auto problem = uncertain_problem(bar.expansion_per_K, "The expansion of " + subject)) {
    return problem;
  }
  if (const auto problem =
          temperature_problem(bar.temperature_C, "The temperature of " + subject)) {
    return problem;
  }
  if (bar.expansion_per_K && !bar.temperature_C) {
    return subject + " has an expansion but no temperature: give the temperature of the day too.";
  }
  return std::nullopt;
}

/// Adds an item where it belongs. The caller has checked that its name is free.
template <typename Item>
void insert_named(std::vector<Item>& items, const Item& item) {
  items.insert(place_of(items, item.name), item);
}

template <typename Item>
void erase_named(std::vector<Item>& items, const std::string& name) {
  items.erase(place_of(items, name));
}

/// Merges marks into the sorted list in one pass, so that thousands imported at once take no longer
/// than a sort.
void merge_marks(std::vector<Mark>& marks, std::vector<Mark> added) {
  const auto before = [](const Mark& a, const Mark& b) {
    return std::tie(a.photo, a.point) < std::tie(b.photo, b.point);
  };
  std::sort(added.begin(), added.end(), before);
  std::vector<Mark> merged;
  merged.reserve(marks.size() + added.size());
  // Of two equal keys set_union takes the first range's: the new marks replace the old.
  std::set_union(std::make_move_iterator(added.begin()), std::make_move_iterator(added.end()),
                 std::make_move_iterator(marks.begin()), std::make_move_iterator(marks.end()),
                 std::back_inserter(merged), before);
  marks = std::move(merged);
}

bool stands_before(const ShapeMark& a, const ShapeMark& b) { return key_of(a) < key_of(b); }

auto place_of_shape_mark(std::vector<ShapeMark>& marks, const ShapeMarkKey& key) {
  return std::lower_bound(
      marks.begin(), marks.end(), key,
      [](const ShapeMark& mark, const ShapeMarkKey& wanted) { return key_of(mark) < wanted; });
}

ShapeMark* find_shape_mark(std::vector<ShapeMark>& marks, const ShapeMarkKey& key) {
  const auto at = place_of_shape_mark(marks, key);
  return at != marks.end() && key_of(*at) == key ? &*at : nullptr;
}

void merge_shape_marks(std::vector<ShapeMark>& marks, std::vector<ShapeMark> added) {
  std::sort(added.begin(), added.end(), stands_before);
  std::vector<ShapeMark> merged;
  merged.reserve(marks.size() + added.size());
  std::set_union(added.begin(), added.end(), marks.begin(), marks.end(), std::back_inserter(merged),
                 stands_before);
  marks = std::move(merged);
}

std::string missing_shape(const std::string& name) {
  return missing("shape", name, "add it, or check the name (\"scantling shape list\").");
}

std::string missing_shape_mark(const ShapeMarkKey& key) {
  return "There is no mark on shape " + in_quotes(key.shape) + " in photo " + in_quotes(key.photo) +
         " at that place: look at \"scantling shape marks\".";
}

Edit one_or_group(std::vector<Edit> edits) {
  return edits.size() == 1 ? std::move(edits.front()) : Edit(EditGroup{std::move(edits)});
}

template <typename Item>
std::vector<Item> take(std::vector<Item>& items, const auto& is_taken) {
  std::vector<Item> taken;
  std::copy_if(items.begin(), items.end(), std::back_inserter(taken), is_taken);
  std::erase_if(items, is_taken);
  return taken;
}

/// Takes the marks and the hidden places out; what puts them back is added to the inverse.
void take_places(Dossier& dossier, const auto& is_taken, std::vector<Edit>& inverse) {
  if (auto marks = take(dossier.marks, is_taken); !marks.empty()) {
    inverse.push_back(SetMarks{std::move(marks)});
  }
  if (auto hidden = take(dossier.hidden, is_taken); !hidden.empty()) {
    inverse.push_back(SetHidden{std::move(hidden), true});
  }
}

/// Checks first, changes then: a refused edit has touched nothing.
class Applying {
 public:
  Applying(Dossier& dossier, int depth) : dossier_(dossier), depth_(depth) {}

  Applied operator()(const SetDossierName& edit) const {
    if (const auto problem = name_problem(edit.name, "dossier")) {
      return refused(*problem);
    }
    return Edit(SetDossierName{std::exchange(dossier_.name, edit.name)});
  }

  Applied operator()(const SetScales& edit) const {
    if (edit.model_scale) {
      if (const auto problem = ratio_problem(*edit.model_scale, "The model scale")) {
        return refused(*problem);
      }
    }
    std::set<double> seen;
    for (const ScaleRatio& replica : edit.replica_scales) {
      if (const auto problem = ratio_problem(replica, "A replica scale")) {
        return refused(*problem);
      }
      if (!seen.insert(replica.denominator).second) {
        return refused("A replica scale is given twice: give each one once.");
      }
    }
    if (!edit.replica_scales.empty() && !edit.model_scale) {
      return refused(
          "A replica scale needs the model scale: give it too, for example --model-scale 1:48.");
    }
    return Edit(SetScales{std::exchange(dossier_.model_scale, edit.model_scale),
                          std::exchange(dossier_.replica_scales, edit.replica_scales)});
  }

  Applied operator()(const SetTemperature& edit) const {
    if (const auto problem =
            temperature_problem(edit.temperature_C, "The temperature of the original")) {
      return refused(*problem);
    }
    return Edit(SetTemperature{std::exchange(dossier_.temperature_C, edit.temperature_C)});
  }

  Applied operator()(const SetExpansion& edit) const {
    if (const auto problem =
            uncertain_problem(edit.expansion_per_K, "The expansion of the original")) {
      return refused(*problem);
    }
    return Edit(SetExpansion{std::exchange(dossier_.expansion_per_K, edit.expansion_per_K)});
  }

  Applied operator()(const AddCamera& edit) const {
    const CameraEntry& camera = edit.camera;
    const std::string subject = "Camera " + in_quotes(camera.name);
    if (const auto problem = name_problem(camera.name, "camera")) {
      return refused(*problem);
    }
    if (find_named(dossier_.cameras, camera.name) != nullptr) {
      return refused(subject +
                     " is in the dossier already: replace its file, or choose another name.");
    }
    if (const auto problem = path_problem(camera.file, subject)) {
      return refused(*problem);
    }
    if (const auto problem = hash_problem(camera.sha256, subject)) {
      return refused(*problem);
    }
    insert_named(dossier_.cameras, camera);
    return Edit(RemoveCamera{camera.name});
  }

  Applied operator()(const RemoveCamera& edit) const {
    const CameraEntry* camera = find_named(dossier_.cameras, edit.camera);
    if (camera == nullptr) {
      return refused(missing_camera(edit.camera));
    }
    for (const Photo& photo : dossier_.photos) {
      if (photo.camera == edit.camera) {
        return refused("Camera " + in_quotes(edit.camera) + " is needed by photo " +
                       in_quotes(photo.name) + ": remove the photo first.");
      }
    }
    Edit inverse = AddCamera{*camera};
    erase_named(dossier_.cameras, edit.camera);
    return inverse;
  }

  Applied operator()(const SetCameraUse& edit) const {
    CameraEntry* camera = find_named(dossier_.cameras, edit.camera);
    if (camera == nullptr) {
      return refused(missing_camera(edit.camera));
    }
    return Edit(SetCameraUse{edit.camera, std::exchange(camera->use, edit.use)});
  }

  Applied operator()(const SetCameraFile& edit) const {
    CameraEntry* camera = find_named(dossier_.cameras, edit.camera);
    if (camera == nullptr) {
      return refused(missing_camera(edit.camera));
    }
    const std::string subject = "Camera " + in_quotes(edit.camera);
    if (const auto problem = path_problem(edit.file, subject)) {
      return refused(*problem);
    }
    if (const auto problem = hash_problem(edit.sha256, subject)) {
      return refused(*problem);
    }
    return Edit(SetCameraFile{edit.camera, std::exchange(camera->file, edit.file),
                              std::exchange(camera->sha256, edit.sha256)});
  }

  Applied operator()(const AddPhoto& edit) const {
    const Photo& photo = edit.photo;
    const std::string subject = "Photo " + in_quotes(photo.name);
    if (const auto problem = name_problem(photo.name, "photo")) {
      return refused(*problem);
    }
    if (find_named(dossier_.photos, photo.name) != nullptr) {
      return refused(subject +
                     " is in the dossier already: rename the file, or remove the other one first.");
    }
    if (const auto problem = path_problem(photo.file, subject)) {
      return refused(*problem);
    }
    if (const auto problem = hash_problem(photo.sha256, subject)) {
      return refused(*problem);
    }
    for (const Photo& other : dossier_.photos) {
      if (other.sha256 == photo.sha256) {
        return refused(subject + " is the same picture as photo " + in_quotes(other.name) +
                       ": it would count the same evidence twice. Add it once only.");
      }
    }
    if (photo.size.width < 1 || photo.size.height < 1) {
      return refused(subject + " has no pixels.");
    }
    if (photo.exif_orientation < 1 || photo.exif_orientation > 8) {
      return refused(subject + " has an EXIF orientation that is none of 1 to 8.");
    }
    if (find_named(dossier_.cameras, photo.camera) == nullptr) {
      return refused(subject + ": " + missing_camera(photo.camera));
    }
    if (!photo.epoch.empty()) {
      if (const auto problem = name_problem(photo.epoch, "epoch")) {
        return refused(*problem);
      }
    }
    insert_named(dossier_.photos, photo);
    return Edit(RemovePhoto{photo.name});
  }

  Applied operator()(const RemovePhoto& edit) const {
    const Photo* photo = find_named(dossier_.photos, edit.photo);
    if (photo == nullptr) {
      return refused(missing_photo(edit.photo));
    }
    std::vector<Edit> inverse{AddPhoto{*photo}};
    const auto is_in_photo = [&](const auto& place) { return place.photo == edit.photo; };
    take_places(dossier_, is_in_photo, inverse);
    if (auto marks = take(dossier_.shape_marks, is_in_photo); !marks.empty()) {
      inverse.push_back(SetShapeMarks{std::move(marks)});
    }
    erase_named(dossier_.photos, edit.photo);
    return one_or_group(std::move(inverse));
  }

  Applied operator()(const SetPhotoCamera& edit) const {
    Photo* photo = find_named(dossier_.photos, edit.photo);
    if (photo == nullptr) {
      return refused(missing_photo(edit.photo));
    }
    if (find_named(dossier_.cameras, edit.camera) == nullptr) {
      return refused("Photo " + in_quotes(edit.photo) + ": " + missing_camera(edit.camera));
    }
    return Edit(SetPhotoCamera{edit.photo, std::exchange(photo->camera, edit.camera)});
  }

  Applied operator()(const SetPhotoEpoch& edit) const {
    Photo* photo = find_named(dossier_.photos, edit.photo);
    if (photo == nullptr) {
      return refused(missing_photo(edit.photo));
    }
    if (!edit.epoch.empty()) {
      if (const auto problem = name_problem(edit.epoch, "epoch")) {
        return refused(*problem);
      }
    }
    return Edit(SetPhotoEpoch{edit.photo, std::exchange(photo->epoch, edit.epoch)});
  }

  Applied operator()(const SetKind& edit) const {
    if (const auto problem = name_problem(edit.kind.name, "point kind")) {
      return refused(*problem);
    }
    if (!std::isfinite(edit.kind.definition_u_mm) || edit.kind.definition_u_mm < 0.0 ||
        edit.kind.definition_u_mm > kLargestLength_mm) {
      return refused("Point kind " + in_quotes(edit.kind.name) +
                     " needs an uncertainty of 0 or more.");
    }
    if (PointKind* kind = find_named(dossier_.point_kinds, edit.kind.name)) {
      return Edit(SetKind{std::exchange(*kind, edit.kind)});
    }
    insert_named(dossier_.point_kinds, edit.kind);
    return Edit(RemoveKind{edit.kind.name});
  }

  Applied operator()(const RemoveKind& edit) const {
    const PointKind* kind = find_named(dossier_.point_kinds, edit.kind);
    if (kind == nullptr) {
      return refused(missing_kind(edit.kind));
    }
    for (const Point& point : dossier_.points) {
      if (point.kind == edit.kind) {
        return refused("Point kind " + in_quotes(edit.kind) + " is needed by point " +
                       in_quotes(point.name) + ": give the point another kind first.");
      }
    }
    for (const Shape& shape : dossier_.shapes) {
      if (shape.kind == edit.kind) {
        return refused("Point kind " + in_quotes(edit.kind) + " is needed by shape " +
                       in_quotes(shape.name) + ": give the shape another kind first.");
      }
    }
    Edit inverse = SetKind{*kind};
    erase_named(dossier_.point_kinds, edit.kind);
    return inverse;
  }

  Applied operator()(const AddPoint& edit) const {
    if (const auto problem = name_problem(edit.point.name, "point")) {
      return refused(*problem);
    }
    if (const auto taken = name_taken(edit.point.name)) {
      return refused(*taken);
    }
    if (!edit.point.kind.empty() && find_named(dossier_.point_kinds, edit.point.kind) == nullptr) {
      return refused("Point " + in_quotes(edit.point.name) + ": " + missing_kind(edit.point.kind));
    }
    insert_named(dossier_.points, edit.point);
    return Edit(RemovePoint{edit.point.name});
  }

  Applied operator()(const RenamePoint& edit) const {
    const Point* point = find_named(dossier_.points, edit.point);
    if (point == nullptr) {
      return refused(missing_point(edit.point));
    }
    if (const auto problem = name_problem(edit.name, "point")) {
      return refused(*problem);
    }
    if (const auto taken = name_taken(edit.name)) {
      return refused(*taken);
    }
    Point renamed = *point;
    renamed.name = edit.name;
    erase_named(dossier_.points, edit.point);
    insert_named(dossier_.points, renamed);
    const auto is_of_point = [&](const auto& place) { return place.point == edit.point; };
    std::vector<Mark> marks = take(dossier_.marks, is_of_point);
    for (Mark& mark : marks) {
      mark.point = edit.name;
    }
    merge_marks(dossier_.marks, std::move(marks));
    for (Hidden& place : dossier_.hidden) {
      if (place.point == edit.point) {
        place.point = edit.name;
      }
    }
    std::sort(dossier_.hidden.begin(), dossier_.hidden.end());
    rename_item(edit.point, edit.name, dossier_);
    return Edit(RenamePoint{edit.name, edit.point});
  }

  Applied operator()(const RemovePoint& edit) const {
    const Point* point = find_named(dossier_.points, edit.point);
    if (point == nullptr) {
      return refused(missing_point(edit.point));
    }
    if (const auto need = first_need_of(edit.point, dossier_)) {
      return refused("Point " + in_quotes(edit.point) + " is needed by " + *need);
    }
    std::vector<Edit> inverse{AddPoint{*point}};
    take_places(
        dossier_, [&](const auto& place) { return place.point == edit.point; }, inverse);
    erase_named(dossier_.points, edit.point);
    return one_or_group(std::move(inverse));
  }

  Applied operator()(const SetPointKind& edit) const {
    Point* point = find_named(dossier_.points, edit.point);
    if (point == nullptr) {
      return refused(missing_point(edit.point));
    }
    if (!edit.kind.empty() && find_named(dossier_.point_kinds, edit.kind) == nullptr) {
      return refused(missing_kind(edit.kind));
    }
    return Edit(SetPointKind{edit.point, std::exchange(point->kind, edit.kind)});
  }

  Applied operator()(const SetMarks& edit) const {
    std::set<MarkKey> seen;
    RemoveMarks added;
    SetMarks replaced;
    for (const Mark& mark : edit.marks) {
      if (const auto problem = mark_problem(mark, dossier_)) {
        return refused(*problem);
      }
      if (!seen.insert(key_of(mark)).second) {
        return refused("Point " + in_quotes(mark.point) + " is marked twice in photo " +
                       in_quotes(mark.photo) + ": keep one mark.");
      }
      if (const Mark* old = find_mark(dossier_.marks, key_of(mark))) {
        replaced.marks.push_back(*old);
      } else {
        added.marks.push_back(key_of(mark));
      }
    }
    merge_marks(dossier_.marks, edit.marks);
    SetHidden seen_after_all;
    if (!dossier_.hidden.empty()) {
      seen_after_all.places = take(dossier_.hidden, [&](const Hidden& place) {
        return seen.contains({place.photo, place.point});
      });
    }
    std::vector<Edit> inverse;
    if (!added.marks.empty()) {
      inverse.push_back(std::move(added));
    }
    if (!replaced.marks.empty() || inverse.empty()) {
      inverse.push_back(std::move(replaced));
    }
    if (!seen_after_all.places.empty()) {
      inverse.push_back(std::move(seen_after_all));
    }
    return one_or_group(std::move(inverse));
  }

  Applied operator()(const RemoveMarks& edit) const {
    const std::set<MarkKey> removed(edit.marks.begin(), edit.marks.end());
    for (const MarkKey& key : removed) {
      if (find_mark(dossier_.marks, key) == nullptr) {
        return refused(missing_mark(key));
      }
    }
    return Edit(SetMarks{
        take(dossier_.marks, [&](const Mark& mark) { return removed.contains(key_of(mark)); })});
  }

  Applied operator()(const SetAside& edit) const {
    Mark* mark = find_mark(dossier_.marks, edit.mark);
    if (mark == nullptr) {
      return refused(missing_mark(edit.mark));
    }
    return Edit(SetAside{edit.mark, std::exchange(mark->set_aside, edit.set_aside)});
  }

  Applied operator()(const SetHidden& edit) const {
    SetHidden inverse{{}, !edit.hidden};
    const std::set<Hidden> places(edit.places.begin(), edit.places.end());
    for (const Hidden& place : places) {
      if (find_named(dossier_.photos, place.photo) == nullptr) {
        return refused(missing_photo(place.photo));
      }
      if (find_named(dossier_.points, place.point) == nullptr) {
        return refused(missing_point(place.point));
      }
      const std::string subject =
          "Point " + in_quotes(place.point) + " in photo " + in_quotes(place.photo);
      if (edit.hidden && find_mark(dossier_.marks, {place.photo, place.point}) != nullptr) {
        return refused(subject + " has a mark, so it is visible there: remove the mark first.");
      }
      const bool is_so = is_hidden(dossier_.hidden, place) == edit.hidden;
      if (is_so && !edit.hidden) {
        return refused(subject + " is not said to be out of sight: nothing is to be taken back.");
      }
      if (!is_so) {
        inverse.places.push_back(place);
      }
    }
    for (const Hidden& place : inverse.places) {
      const auto at = place_of_hidden(dossier_.hidden, place);
      edit.hidden ? dossier_.hidden.insert(at, place) : dossier_.hidden.erase(at);
    }
    return Edit(std::move(inverse));
  }

  Applied operator()(const AddBar& edit) const {
    if (const auto problem = bar_problem(edit.bar, dossier_)) {
      return refused(*problem);
    }
    if (find_named(dossier_.bars, edit.bar.name) != nullptr) {
      return refused(
          "Scale bar " + in_quotes(edit.bar.name) +
          " is in the dossier already: choose another name, or remove the other one first.");
    }
    insert_named(dossier_.bars, edit.bar);
    return Edit(RemoveBar{edit.bar.name});
  }

  Applied operator()(const RemoveBar& edit) const {
    const ScaleBar* bar = find_named(dossier_.bars, edit.bar);
    if (bar == nullptr) {
      return refused(missing("scale bar", edit.bar, "check the name (\"scantling bar list\")."));
    }
    Edit inverse = AddBar{*bar};
    erase_named(dossier_.bars, edit.bar);
    return inverse;
  }

  Applied operator()(const AddDimension& edit) const {
    if (const auto problem = dimension_problem(edit.dimension, dossier_)) {
      return refused(*problem);
    }
    if (dimension_place(edit.dimension.name) != dossier_.dimensions.end()) {
      return refused("Dimension " + in_quotes(edit.dimension.name) +
                     " is asked already: choose another name, or remove the other one first.");
    }
    const std::size_t size = dossier_.dimensions.size();
    const std::size_t position = std::min(edit.position.value_or(size), size);
    dossier_.dimensions.insert(dossier_.dimensions.begin() + static_cast<std::ptrdiff_t>(position),
                               edit.dimension);
    return Edit(RemoveDimension{edit.dimension.name});
  }

  Applied operator()(const RemoveDimension& edit) const {
    const auto at = dimension_place(edit.dimension);
    if (at == dossier_.dimensions.end()) {
      return refused(missing_dimension(edit.dimension));
    }
    Edit inverse = AddDimension{*at, static_cast<std::size_t>(at - dossier_.dimensions.begin())};
    dossier_.dimensions.erase(at);
    return inverse;
  }

  Applied operator()(const RenameDimension& edit) const {
    const auto at = dimension_place(edit.dimension);
    if (at == dossier_.dimensions.end()) {
      return refused(missing_dimension(edit.dimension));
    }
    if (const auto problem = name_problem(edit.name, "dimension")) {
      return refused(*problem);
    }
    if (dimension_place(edit.name) != dossier_.dimensions.end()) {
      return refused("Dimension " + in_quotes(edit.name) +
                     " is asked already: choose another name.");
    }
    return Edit(RenameDimension{edit.name, std::exchange(at->name, edit.name)});
  }

  Applied operator()(const SetTolerance& edit) const {
    const auto at = dimension_place(edit.dimension);
    if (at == dossier_.dimensions.end()) {
      return refused(missing_dimension(edit.dimension));
    }
    if (const auto problem = tolerance_problem(edit.tolerance_mm, at->kind,
                                               "Dimension " + in_quotes(edit.dimension))) {
      return refused(*problem);
    }
    return Edit(SetTolerance{edit.dimension, std::exchange(at->tolerance_mm, edit.tolerance_mm)});
  }

  Applied operator()(const AddShape& edit) const {
    if (const auto problem = shape_problem(edit.shape, dossier_)) {
      return refused(*problem);
    }
    if (const auto taken = name_taken(edit.shape.name)) {
      return refused(*taken);
    }
    if (!edit.shape.kind.empty() && find_named(dossier_.point_kinds, edit.shape.kind) == nullptr) {
      return refused("Shape " + in_quotes(edit.shape.name) + ": " + missing_kind(edit.shape.kind));
    }
    const std::size_t size = dossier_.shapes.size();
    const std::size_t position = std::min(edit.position.value_or(size), size);
    for (const std::string& name : names_of(edit.shape.origin)) {
      const auto at = shape_place(name);
      if (at != dossier_.shapes.end() &&
          static_cast<std::size_t>(at - dossier_.shapes.begin()) >= position) {
        return refused("Shape " + in_quotes(edit.shape.name) + " must come after " +
                       in_quotes(name) + ", which it is made from.");
      }
    }
    dossier_.shapes.insert(dossier_.shapes.begin() + static_cast<std::ptrdiff_t>(position),
                           edit.shape);
    return Edit(RemoveShape{edit.shape.name});
  }

  Applied operator()(const RenameShape& edit) const {
    const auto at = shape_place(edit.shape);
    if (at == dossier_.shapes.end()) {
      return refused(missing_shape(edit.shape));
    }
    if (const auto problem = name_problem(edit.name, "shape")) {
      return refused(*problem);
    }
    if (const auto taken = name_taken(edit.name)) {
      return refused(*taken);
    }
    at->name = edit.name;
    std::vector<ShapeMark> marks =
        take(dossier_.shape_marks, [&](const ShapeMark& mark) { return mark.shape == edit.shape; });
    for (ShapeMark& mark : marks) {
      mark.shape = edit.name;
    }
    merge_shape_marks(dossier_.shape_marks, std::move(marks));
    rename_item(edit.shape, edit.name, dossier_);
    return Edit(RenameShape{edit.name, edit.shape});
  }

  Applied operator()(const RemoveShape& edit) const {
    const auto at = shape_place(edit.shape);
    if (at == dossier_.shapes.end()) {
      return refused(missing_shape(edit.shape));
    }
    if (const auto need = first_need_of(edit.shape, dossier_)) {
      return refused("Shape " + in_quotes(edit.shape) + " is needed by " + *need);
    }
    std::vector<Edit> inverse{
        AddShape{*at, static_cast<std::size_t>(at - dossier_.shapes.begin())}};
    auto marks =
        take(dossier_.shape_marks, [&](const ShapeMark& mark) { return mark.shape == edit.shape; });
    if (!marks.empty()) {
      inverse.push_back(SetShapeMarks{std::move(marks)});
    }
    dossier_.shapes.erase(at);
    return one_or_group(std::move(inverse));
  }

  Applied operator()(const SetShapeKind& edit) const {
    const auto at = shape_place(edit.shape);
    if (at == dossier_.shapes.end()) {
      return refused(missing_shape(edit.shape));
    }
    if (!edit.kind.empty() && find_named(dossier_.point_kinds, edit.kind) == nullptr) {
      return refused(missing_kind(edit.kind));
    }
    Shape changed = *at;
    changed.kind = edit.kind;
    if (const auto problem = shape_problem(changed, dossier_)) {
      return refused(*problem);
    }
    return Edit(SetShapeKind{edit.shape, std::exchange(at->kind, edit.kind)});
  }

  Applied operator()(const SetShapeMarks& edit) const {
    if (const auto problem = shape_marks_problem(edit.marks, dossier_)) {
      return refused(*problem);
    }
    RemoveShapeMarks added;
    SetShapeMarks replaced;
    for (const ShapeMark& mark : edit.marks) {
      if (const ShapeMark* old = find_shape_mark(dossier_.shape_marks, key_of(mark))) {
        replaced.marks.push_back(*old);
      } else {
        added.marks.push_back(key_of(mark));
      }
    }
    merge_shape_marks(dossier_.shape_marks, edit.marks);
    std::vector<Edit> inverse;
    if (!added.marks.empty()) {
      inverse.push_back(std::move(added));
    }
    if (!replaced.marks.empty() || inverse.empty()) {
      inverse.push_back(std::move(replaced));
    }
    return one_or_group(std::move(inverse));
  }

  Applied operator()(const RemoveShapeMarks& edit) const {
    const std::set<ShapeMarkKey> removed(edit.marks.begin(), edit.marks.end());
    for (const ShapeMarkKey& key : removed) {
      if (find_shape_mark(dossier_.shape_marks, key) == nullptr) {
        return refused(missing_shape_mark(key));
      }
    }
    return Edit(SetShapeMarks{take(dossier_.shape_marks, [&](const ShapeMark& mark) {
      return removed.contains(key_of(mark));
    })});
  }

  Applied operator()(const SetShapeMarkAside& edit) const {
    ShapeMark* mark = find_shape_mark(dossier_.shape_marks, edit.mark);
    if (mark == nullptr) {
      return refused(missing_shape_mark(edit.mark));
    }
    return Edit(SetShapeMarkAside{edit.mark, std::exchange(mark->set_aside, edit.set_aside)});
  }

  Applied operator()(const SetAxes& edit) const {
    if (edit.axes) {
      if (const auto problem = axes_problem(*edit.axes, dossier_)) {
        return refused(*problem);
      }
    } else {
      for (const AskedDimension& dimension : dossier_.dimensions) {
        if (std::holds_alternative<Coordinate>(dimension.kind)) {
          return refused("The model axes are needed by dimension " + in_quotes(dimension.name) +
                         ": remove the dimension first.");
        }
      }
    }
    return Edit(SetAxes{std::exchange(dossier_.axes, edit.axes)});
  }

  Applied operator()(const EditGroup& group) const {
    if (depth_ >= kDeepestGroup) {
      return refused("The edits are nested too deeply.");
    }
    std::vector<Edit> inverse;
    for (const Edit& edit : group.edits) {
      auto applied = std::visit(Applying(dossier_, depth_ + 1), edit.what);
      if (!applied) {
        undo(std::move(inverse));
        return applied;
      }
      inverse.push_back(std::move(*applied));
    }
    std::reverse(inverse.begin(), inverse.end());
    return Edit(EditGroup{std::move(inverse)});
  }

 private:
  static std::string missing_camera(const std::string& name) {
    return missing("camera", name,
                   "add a photo of that camera, or check the name (\"scantling camera list\").");
  }
  static std::string missing_dimension(const std::string& name) {
    return missing("dimension", name, "check the name (\"scantling dimension list\").");
  }
  static std::string missing_kind(const std::string& name) {
    return missing("point kind", name, "set it with \"scantling point kind\", or check the name.");
  }

  std::vector<Shape>::iterator shape_place(const std::string& name) const {
    return std::find_if(dossier_.shapes.begin(), dossier_.shapes.end(),
                        [&](const Shape& shape) { return shape.name == name; });
  }
  /// Points and shapes share one set of names, so that a dimension can name either.
  Sentence name_taken(const std::string& name) const {
    const bool is_point = find_named(dossier_.points, name) != nullptr;
    if (!is_point && dossier_.find_shape(name) == nullptr) {
      return std::nullopt;
    }
    return (is_point ? "Point " : "Shape ") + in_quotes(name) +
           " is in the dossier already: choose another name.";
  }

  std::vector<AskedDimension>::iterator dimension_place(const std::string& name) const {
    return std::find_if(dossier_.dimensions.begin(), dossier_.dimensions.end(),
                        [&](const AskedDimension& dimension) { return dimension.name == name; });
  }

  void undo(std::vector<Edit> inverse) const {
    for (auto edit = inverse.rbegin(); edit != inverse.rend(); ++edit) {
      // An inverse was valid a moment ago and nothing has happened since.
      [[maybe_unused]] const auto undone = std::visit(Applying(dossier_, 0), edit->what);
      assert(undone);
    }
  }

  Dossier& dossier_;
  int depth_;
};

}  // namespace

calib::Result<Edit, Problem> apply(const Edit& edit, Dossier& dossier) {
  return std::visit(Applying(dossier, 0), edit.what);
}

bool lies_in_photo(const Eigen::Vector2d& position_px, const calib::ImageSize& size) {
  // Pixel centres are whole numbers, so the photo begins half a pixel before the first of them.
  const Eigen::Array2d limit(size.width - 0.5, size.height - 0.5);
  return (position_px.array() >= -0.5).all() && (position_px.array() <= limit).all();
}

}  // namespace measure
