#include "measure/dossier/shape.h"

namespace measure {
namespace {

struct NameList {
  std::vector<std::string>& list;
  void name(std::string_view, const std::string& name, Field) const {
    if (!name.empty()) list.push_back(name);
  }
  void names(std::string_view, const std::vector<std::string>& names) const {
    list.insert(list.end(), names.begin(), names.end());
  }
  void number(std::string_view, const std::optional<double>&) const {}
  void pairs(std::string_view,
             const std::vector<std::pair<std::string, std::string>>& pairs) const {
    for (const auto& [first, second] : pairs) {
      list.push_back(first);
      list.push_back(second);
    }
  }
};

}  // namespace

bool is_seen(const ShapeOrigin& origin) {
  return std::holds_alternative<SeenEdge>(origin) || std::holds_alternative<SeenCircle>(origin) ||
         std::holds_alternative<SeenCylinder>(origin);
}

std::vector<std::string> names_of(const ShapeOrigin& origin) {
  std::vector<std::string> list;
  std::visit([&](const auto& o) { o.names(o, NameList{list}); }, origin);
  return list;
}

std::string origin_word(const ShapeOrigin& origin) {
  return std::visit([](const auto& o) { return std::string(o.kWord); }, origin);
}

}  // namespace measure
