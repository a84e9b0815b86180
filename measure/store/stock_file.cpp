#include "measure/store/stock_file.h"

#include <array>
#include <charconv>
#include <cmath>
#include <map>
#include <optional>

#include "calib/base/units.h"
#include "calib/file/atomic_write.h"
#include "calib/file/versioned_json.h"

namespace measure {
namespace {

using calib::JsonItem;
using calib::Problem;

constexpr calib::FileSchema kSchema{"scantling stock table", "stock table", 1, 0};

struct StockUnit {
  const char* word;
  double mm;
};
constexpr std::array kUnits = {StockUnit{"mm", 1.0}, StockUnit{"in", calib::kMillimetresPerInch}};

StockUnit unit_of(const JsonItem& group) {
  const auto item = group.find("unit");
  if (!item) {
    group.refuse("has no unit: write \"unit\": \"mm\" or \"unit\": \"in\" into it");
  }
  const std::string word = item->text();
  for (const StockUnit& unit : kUnits) {
    if (word == unit.word) {
      return unit;
    }
  }
  item->refuse("is \"" + word + "\": units of stock are \"mm\" and \"in\"");
}

StockKind kind_of(const JsonItem& group) {
  const JsonItem item = group.at("kind");
  if (const auto kind = parse_stock_kind(item.text())) {
    return *kind;
  }
  item.refuse("is \"" + item.text() + "\": kinds of stock are sheet, strip, rod and tube");
}

/// "3", "0.5", "1/32", "1 1/4"; nothing where it is none of these.
std::optional<double> typed_size(std::string_view text) {
  const auto number = [&text](auto& value) {
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc()) {
      return false;
    }
    text.remove_prefix(static_cast<std::size_t>(end - text.data()));
    return true;
  };
  double whole = 0.0;
  if (!number(whole)) {
    return std::nullopt;
  }
  if (text.empty()) {
    return whole;
  }
  double numerator = whole, rest = 0.0, denominator = 0.0;
  if (text.front() == ' ') {
    text.remove_prefix(1);
    rest = whole;
    if (!number(numerator)) {
      return std::nullopt;
    }
  }
  if (text.empty() || text.front() != '/') {
    return std::nullopt;
  }
  text.remove_prefix(1);
  if (!number(denominator) || !text.empty() || !(denominator > 0.0)) {
    return std::nullopt;
  }
  return rest + numerator / denominator;
}

std::string shortest(double value) {
  char text[40];
  const auto end = std::to_chars(text, text + sizeof text, value).ptr;
  return {text, end};
}

/// A size as it stands in the table, and its text without unit.
std::pair<double, std::string> size_of(const JsonItem& item) {
  std::optional<double> size;
  std::string text;
  if (item.json().is_string()) {
    text = item.text();
    size = typed_size(text);
    if (!size) {
      item.refuse("is \"" + text + "\": write a number, or a fraction such as \"1/32\"");
    }
  } else {
    size = item.number();
    text = shortest(*size);
  }
  if (!(*size > 0.0) || !std::isfinite(*size)) {
    item.refuse("is " + text + ": a size must be above 0");
  }
  return {*size, text};
}

double u_of(const JsonItem& item) {
  const double u = item.number();
  if (u < 0.0) {
    item.refuse("is below 0: give the standard uncertainty of the material's size, or 0");
  }
  return u;
}

StockTable table_from(const JsonItem& root) {
  StockTable table;
  table.name = root.at("name").text();
  // Where a size of one kind and material was met.
  std::map<std::tuple<StockKind, std::string, long long>, std::string> seen;
  for (const JsonItem& group : root.at("groups").list()) {
    const StockKind kind = kind_of(group);
    const std::string material = group.at("material").text();
    if (material.empty()) {
      group.at("material").refuse("is empty: name the material");
    }
    const StockUnit unit = unit_of(group);
    const double group_u = u_of(group.at("u"));
    for (const JsonItem& item : group.at("sizes").list()) {
      StockSize size;
      size.kind = kind;
      size.material = material;
      const bool has_own = item.json().is_object();
      const auto [value, text] = size_of(has_own ? item.at("size") : item);
      double u = group_u;
      if (has_own) {
        if (const auto own = item.find("u")) {
          u = u_of(*own);
        }
      }
      size.text = text + " " + unit.word;
      size.size_mm = value * unit.mm;
      size.u_mm = u * unit.mm;
      // To a millionth of a millimetre: 1/8 in and 0.125 in are the same size.
      const auto [other, is_new] =
          seen.emplace(std::tuple(kind, material, std::llround(1e6 * size.size_mm)), item.place());
      if (!is_new) {
        item.refuse("is the size " + size.text + " of " + material + " " + stock_word(kind) +
                    " a second time, after " + other->second + ": remove one of them");
      }
      table.sizes.push_back(std::move(size));
    }
  }
  if (table.sizes.empty()) {
    root.refuse("holds no size: add a group with its sizes");
  }
  return table;
}

}  // namespace

calib::Result<StockTable, Problem> stock_table_from_text(std::string_view text,
                                                         const std::string& source) {
  const auto json = calib::parse_versioned(text, source, kSchema);
  if (!json) {
    return calib::Unexpected(json.error());
  }
  // Written by hand: the remedy is a correction, not a copy.
  try {
    return table_from(JsonItem(*json, ""));
  } catch (const calib::JsonRefusal& refusal) {
    const std::string item = refusal.item.empty() ? " " : ", item " + refusal.item + " ";
    const std::string remedy =
        refusal.fault.find(':') == std::string::npos ? ": correct the table." : ".";
    return calib::Unexpected(Problem{source + item + refusal.fault + remedy});
  } catch (const nlohmann::json::exception& cause) {
    return calib::Unexpected(
        Problem{source + " cannot be read (" + cause.what() + "): correct the table."});
  }
}

calib::Result<StockTable, Problem> read_stock_table(const std::filesystem::path& file) {
  const auto text = calib::read_whole_file(file);
  if (!text) {
    return calib::Unexpected(text.error());
  }
  return stock_table_from_text(*text, file.string());
}

}  // namespace measure
