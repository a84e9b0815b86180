#include "measure/dossier/dossier.h"

#include <algorithm>
#include <functional>

namespace measure {
namespace {

template <typename Item>
const Item* find_named(const std::vector<Item>& items, const std::string& name) {
  const auto at =
      std::find_if(items.begin(), items.end(), [&](const Item& item) { return item.name == name; });
  return at == items.end() ? nullptr : &*at;
}

/// Calls `found` with every name that the given ones rest on, made ones before what is made of them
/// where they are met first.
void walk(const Dossier& dossier, const std::vector<std::string>& names,
          const std::function<void(const std::string&, const Shape*)>& found, int depth = 0) {
  // A shape names only earlier ones: this ends. The bound is for a list that nobody has checked.
  if (depth > static_cast<int>(dossier.shapes.size())) return;
  for (const std::string& name : names) {
    const Shape* shape = dossier.find_shape(name);
    found(name, shape);
    if (shape) walk(dossier, names_of(shape->origin), found, depth + 1);
  }
}

void add_once(std::vector<std::string>& names, const std::string& name) {
  if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
}

struct FormOfOrigin {
  const Dossier& dossier;
  using Form = std::optional<FormKind>;

  Form operator()(const SeenEdge&) const { return FormKind::kLine; }
  Form operator()(const SeenCircle&) const { return FormKind::kCircle; }
  Form operator()(const SeenCylinder&) const { return FormKind::kCylinder; }
  Form operator()(const LineThrough&) const { return FormKind::kLine; }
  Form operator()(const PlaneThrough&) const { return FormKind::kPlane; }
  Form operator()(const CircleThrough&) const { return FormKind::kCircle; }
  Form operator()(const SphereThrough&) const { return FormKind::kSphere; }
  Form operator()(const CylinderThrough&) const { return FormKind::kCylinder; }
  Form operator()(const ConeThrough&) const { return FormKind::kCone; }
  Form operator()(const Crossing& crossing) const {
    const Form first = form_of(dossier, crossing.first), second = form_of(dossier, crossing.second);
    const auto is_line = [](Form f) { return f == FormKind::kLine || f == FormKind::kCylinder; };
    const auto is_plane = [](Form f) { return f == FormKind::kPlane || f == FormKind::kCircle; };
    if (is_plane(first) && is_plane(second)) return FormKind::kLine;
    if ((is_line(first) || is_plane(first)) && (is_line(second) || is_plane(second)))
      return FormKind::kPoint;
    return std::nullopt;
  }
  Form operator()(const MidPlane&) const { return FormKind::kPlane; }
  Form operator()(const ParallelPlane&) const { return FormKind::kPlane; }
  Form operator()(const MirrorPlane&) const { return FormKind::kPlane; }
};

}  // namespace

const Photo* Dossier::find_photo(const std::string& photo_name) const {
  return find_named(photos, photo_name);
}
const Point* Dossier::find_point(const std::string& point_name) const {
  return find_named(points, point_name);
}
const Shape* Dossier::find_shape(const std::string& shape_name) const {
  return find_named(shapes, shape_name);
}
const CameraEntry* Dossier::find_camera(const std::string& camera_name) const {
  return find_named(cameras, camera_name);
}

std::optional<FormKind> form_of(const Dossier& dossier, const std::string& name) {
  if (dossier.find_point(name)) return FormKind::kPoint;
  const Shape* shape = dossier.find_shape(name);
  return shape ? std::visit(FormOfOrigin{dossier}, shape->origin) : std::nullopt;
}

std::string form_word(FormKind form) {
  switch (form) {
    case FormKind::kPoint:
      return "point";
    case FormKind::kLine:
      return "line";
    case FormKind::kPlane:
      return "plane";
    case FormKind::kCircle:
      return "circle";
    case FormKind::kSphere:
      return "sphere";
    case FormKind::kCylinder:
      return "cylinder";
    case FormKind::kCone:
      return "cone";
  }
  return "shape";
}

std::vector<std::string> points_behind(const Dossier& dossier,
                                       const std::vector<std::string>& names) {
  std::vector<std::string> points;
  walk(dossier, names, [&](const std::string& name, const Shape* shape) {
    if (!shape) add_once(points, name);
  });
  return points;
}

std::vector<std::string> seen_shapes_behind(const Dossier& dossier,
                                            const std::vector<std::string>& names) {
  std::vector<std::string> shapes;
  walk(dossier, names, [&](const std::string& name, const Shape* shape) {
    if (shape && is_seen(shape->origin)) add_once(shapes, name);
  });
  return shapes;
}

}  // namespace measure
