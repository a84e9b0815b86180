#include "measure/dossier/dimension_kind.h"

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
  void word(std::string_view, const std::string&) const {}
};

}  // namespace

std::vector<std::string> names_of(const DimensionKind& kind) {
  std::vector<std::string> list;
  std::visit([&](const auto& k) { k.names(k, NameList{list}); }, kind);
  return list;
}

std::string kind_word(const DimensionKind& kind) {
  return std::visit([](const auto& k) { return std::string(k.kWord); }, kind);
}

int length_exponent(const DimensionKind& kind) {
  if (std::holds_alternative<Angle>(kind) || std::holds_alternative<AngleBetween>(kind) ||
      std::holds_alternative<ConeAngle>(kind)) {
    return 0;
  }
  return std::holds_alternative<OutlineArea>(kind) ? 2 : 1;
}

}  // namespace measure
