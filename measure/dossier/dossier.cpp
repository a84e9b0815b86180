#include "measure/dossier/dossier.h"

#include <algorithm>

namespace measure {
namespace {

template <typename Item>
const Item* find_named(const std::vector<Item>& items, const std::string& name) {
  const auto at =
      std::find_if(items.begin(), items.end(), [&](const Item& item) { return item.name == name; });
  return at == items.end() ? nullptr : &*at;
}

struct PointNames {
  std::vector<std::string> operator()(const Distance& d) const { return {d.from, d.to}; }
  std::vector<std::string> operator()(const DistanceAlong& d) const {
    return {d.from, d.to, d.axis_from, d.axis_to};
  }
  std::vector<std::string> operator()(const Angle& d) const {
    return {d.first, d.vertex, d.second};
  }
  std::vector<std::string> operator()(const OffsetFromLine& d) const {
    return {d.point, d.line_from, d.line_to};
  }
  std::vector<std::string> operator()(const OffsetFromPlane& d) const {
    std::vector<std::string> names{d.point};
    names.insert(names.end(), d.plane.begin(), d.plane.end());
    return names;
  }
};

struct KindWord {
  const char* operator()(const Distance&) const { return "distance"; }
  const char* operator()(const DistanceAlong&) const { return "along"; }
  const char* operator()(const Angle&) const { return "angle"; }
  const char* operator()(const OffsetFromLine&) const { return "offset_line"; }
  const char* operator()(const OffsetFromPlane&) const { return "offset_plane"; }
};

}  // namespace

const Photo* Dossier::find_photo(const std::string& photo_name) const {
  return find_named(photos, photo_name);
}
const Point* Dossier::find_point(const std::string& point_name) const {
  return find_named(points, point_name);
}
const CameraEntry* Dossier::find_camera(const std::string& camera_name) const {
  return find_named(cameras, camera_name);
}

std::vector<std::string> points_of(const DimensionKind& kind) {
  return std::visit(PointNames{}, kind);
}
std::string kind_word(const DimensionKind& kind) { return std::visit(KindWord{}, kind); }

}  // namespace measure
