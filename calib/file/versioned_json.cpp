#include "calib/file/versioned_json.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "calib/file/atomic_write.h"

namespace calib {
namespace {

constexpr int kDeepest = 64;
constexpr std::size_t kLongestLine = 110;

constexpr const char* kRestore = "correct it, or restore the file from a copy.";

/// Where a byte lies in a text, as a person counts.
std::string place_of_byte(std::string_view text, std::size_t byte) {
  const std::string_view before = text.substr(0, std::min(byte, text.size()));
  const auto line = 1 + std::count(before.begin(), before.end(), '\n');
  return "line " + std::to_string(line);
}

/// Refuses what the library would accept in silence: a key given twice, and nesting without end.
class Guard {
 public:
  bool operator()(int depth, Json::parse_event_t event, const Json& parsed) {
    switch (event) {
      case Json::parse_event_t::object_start:
        check_depth(depth);
        keys_.emplace_back();
        break;
      case Json::parse_event_t::object_end:
        if (!keys_.empty()) {
          keys_.pop_back();
        }
        break;
      case Json::parse_event_t::array_start:
        check_depth(depth);
        break;
      case Json::parse_event_t::key:
        if (!keys_.empty() && !keys_.back().insert(parsed.get_ref<const std::string&>()).second) {
          throw JsonRefusal{parsed.get<std::string>(), "stands twice in one object"};
        }
        break;
      case Json::parse_event_t::array_end:
      case Json::parse_event_t::value:
        break;
    }
    return true;
  }

 private:
  static void check_depth(int depth) {
    if (depth >= kDeepest) {
      throw JsonRefusal{"", "is nested deeper than any file of ours"};
    }
  }
  std::vector<std::set<std::string>> keys_;
};

std::string joined(const std::string& place, std::string_view key) {
  return place.empty() ? std::string(key) : place + "." + std::string(key);
}

/// What tells an element of a list from its neighbours; empty where nothing does.
std::string identity_of(const Json& element) {
  if (!element.is_object()) {
    return {};
  }
  const auto text = [&](const char* key) -> std::optional<std::string> {
    const auto at = element.find(key);
    return at != element.end() && at->is_string() ? std::optional(at->get<std::string>())
                                                  : std::nullopt;
  };
  if (const auto name = text("name")) {
    return *name;
  }
  const auto photo = text("photo"), point = text("point");
  if (photo && point) {
    return Json::array({*photo, *point}).dump();
  }
  // A shape has many marks in a photo: where they stand tells them apart.
  if (const auto shape = text("shape");
      photo && shape && element.contains("x_px") && element.contains("y_px")) {
    return Json::array({*photo, *shape, element.at("x_px"), element.at("y_px")}).dump();
  }
  return text("file").value_or("");
}

/// A tree with three kinds of branches: "keys" (unknown, with their values), "within" (known
/// objects that hold unknown keys) and "items" (elements of known lists that do).
Json unknown_tree(const Json& original, const Json& known) {
  Json tree = Json::object();
  if (original.is_object() && known.is_object()) {
    for (const auto& [key, value] : original.items()) {
      const auto at = known.find(key);
      if (at == known.end()) {
        tree["keys"][key] = value;
      } else if (Json inner = unknown_tree(value, *at); !inner.empty()) {
        tree["within"][key] = std::move(inner);
      }
    }
  } else if (original.is_array() && known.is_array()) {
    std::map<std::string, const Json*> by_identity;
    for (const Json& element : known) {
      if (const std::string identity = identity_of(element); !identity.empty()) {
        by_identity.emplace(identity, &element);
      }
    }
    for (const Json& element : original) {
      const auto at = by_identity.find(identity_of(element));
      if (at == by_identity.end()) {
        continue;
      }
      if (Json inner = unknown_tree(element, *at->second); !inner.empty()) {
        tree["items"][at->first] = std::move(inner);
      }
    }
  }
  return tree;
}

void restore_tree(Json& written, const Json& tree) {
  if (written.is_object()) {
    if (const auto keys = tree.find("keys"); keys != tree.end()) {
      for (const auto& [key, value] : keys->items()) {
        if (!written.contains(key)) {
          written[key] = value;
        }
      }
    }
    if (const auto within = tree.find("within"); within != tree.end()) {
      for (const auto& [key, inner] : within->items()) {
        if (const auto at = written.find(key); at != written.end()) {
          restore_tree(*at, inner);
        }
      }
    }
  } else if (written.is_array()) {
    const auto items = tree.find("items");
    if (items == tree.end()) {
      return;
    }
    for (Json& element : written) {
      if (const auto at = items->find(identity_of(element)); at != items->end()) {
        restore_tree(element, *at);
      }
    }
  }
}

std::string in_one_line(const Json& json) {
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

void append_pretty(const Json& json, int level, std::string& text) {
  const std::string line = in_one_line(json);
  const bool is_branch = (json.is_object() || json.is_array()) && !json.empty();
  if (!is_branch || (level > 0 && line.size() <= kLongestLine)) {
    text += line;
    return;
  }
  const std::string inner_margin(static_cast<std::size_t>(2 * (level + 1)), ' ');
  text += json.is_object() ? "{\n" : "[\n";
  bool first = true;
  for (const auto& [key, value] : json.items()) {
    if (!first) {
      text += ",\n";
    }
    first = false;
    text += inner_margin;
    if (json.is_object()) {
      text += in_one_line(Json(key)) + ": ";
    }
    append_pretty(value, level + 1, text);
  }
  text += '\n';
  text.append(static_cast<std::size_t>(2 * level), ' ');
  text += json.is_object() ? '}' : ']';
}

}  // namespace

JsonItem JsonItem::at(std::string_view key) const {
  auto item = find(key);
  if (!item) {
    throw JsonRefusal{joined(place_, key), "is missing"};
  }
  return *item;
}

std::optional<JsonItem> JsonItem::find(std::string_view key) const {
  if (!json_->is_object()) {
    refuse("is not an object {…}");
  }
  const auto item = json_->find(std::string(key));
  if (item == json_->end() || item->is_null()) {
    return std::nullopt;
  }
  return JsonItem(*item, joined(place_, key));
}

std::vector<JsonItem> JsonItem::list() const {
  if (!json_->is_array()) {
    refuse("is not a list […]");
  }
  std::vector<JsonItem> items;
  items.reserve(json_->size());
  for (std::size_t i = 0; i < json_->size(); ++i) {
    items.emplace_back((*json_)[i], place_ + "[" + std::to_string(i) + "]");
  }
  return items;
}

std::vector<JsonItem> JsonItem::list(std::string_view key) const {
  const auto item = find(key);
  return item ? item->list() : std::vector<JsonItem>{};
}

double JsonItem::number() const {
  if (!json_->is_number()) {
    refuse("is not a number");
  }
  const double value = json_->get<double>();
  if (!std::isfinite(value)) {
    refuse("is not a finite number");
  }
  return value;
}

double JsonItem::positive() const {
  const double value = number();
  if (!(value > 0.0)) {
    refuse("must be above 0");
  }
  return value;
}

double JsonItem::not_negative() const {
  const double value = number();
  if (value < 0.0) {
    refuse("must not be below 0");
  }
  return value;
}

int JsonItem::integer(int lowest, int highest) const {
  const double value = number();
  if (value != std::floor(value) || value < lowest || value > highest) {
    refuse("must be a whole number from " + std::to_string(lowest) + " to " +
           std::to_string(highest));
  }
  return static_cast<int>(value);
}

bool JsonItem::truth() const {
  if (!json_->is_boolean()) {
    refuse("is neither true nor false");
  }
  return json_->get<bool>();
}

std::string JsonItem::text() const {
  if (!json_->is_string()) {
    refuse("is not a text in quotes");
  }
  return json_->get<std::string>();
}

std::size_t JsonItem::word(std::span<const std::string_view> words) const {
  const std::string given = text();
  const auto at = std::find(words.begin(), words.end(), given);
  if (at == words.end()) {
    std::string choice;
    for (const std::string_view word : words) {
      choice += (choice.empty() ? "\"" : ", \"") + std::string(word) + "\"";
    }
    refuse("is \"" + given + "\", which is none of " + choice);
  }
  return static_cast<std::size_t>(at - words.begin());
}

std::optional<double> JsonItem::find_number(std::string_view key) const {
  const auto item = find(key);
  return item ? std::optional(item->number()) : std::nullopt;
}

std::string JsonItem::text_or(std::string_view key, std::string otherwise) const {
  const auto item = find(key);
  return item ? item->text() : std::move(otherwise);
}

double JsonItem::number_or(std::string_view key, double otherwise) const {
  return find_number(key).value_or(otherwise);
}

bool JsonItem::truth_or(std::string_view key, bool otherwise) const {
  const auto item = find(key);
  return item ? item->truth() : otherwise;
}

std::string sentence_of(const JsonRefusal& refusal, const std::string& source) {
  const std::string item =
      refusal.item.empty() ? std::string(" ") : ", item " + refusal.item + ": ";
  return source + item + refusal.fault + "; " + kRestore;
}

Result<Json, Problem> parse_json(std::string_view text, const std::string& source) {
  const auto broken = [&](const std::string& fault) {
    return Unexpected(Problem{source + " " + fault + ": " + kRestore});
  };
  try {
    return Json::parse(text.begin(), text.end(), Guard());
  } catch (const JsonRefusal& refusal) {
    return Unexpected(Problem{sentence_of(refusal, source)});
  } catch (const Json::parse_error& cause) {
    return broken("is cut short or no JSON (" + place_of_byte(text, cause.byte) + ")");
  } catch (const Json::out_of_range&) {
    return broken("holds a number too large to be true");
  } catch (const Json::exception& cause) {
    return broken(std::string("cannot be read (") + cause.what() + ")");
  }
}

Result<Json, Problem> load_versioned(const std::filesystem::path& file, const FileSchema& schema) {
  auto text = read_whole_file(file);
  if (!text) {
    return Unexpected(text.error());
  }
  return parse_versioned(*text, file.string(), schema);
}

Result<Json, Problem> parse_versioned(std::string_view text, const std::string& source,
                                      const FileSchema& schema) {
  auto json = parse_json(text, source);
  if (!json) {
    return json;
  }
  const std::string noun(schema.noun);
  if (!json->is_object() || !json->contains("file_kind") || (*json)["file_kind"] != schema.kind) {
    return Unexpected(Problem{source + " is no " + noun +
                              " of Scantling (its \"file_kind\" is not \"" +
                              std::string(schema.kind) + "\"): give the right file."});
  }
  const auto version = read_json<std::pair<int, int>>(
      *json, source, [](const JsonItem& root) -> std::pair<int, int> {
        const JsonItem item = root.at("schema_version");
        constexpr int kAny = std::numeric_limits<int>::max();
        return {item.at("major").integer(1, kAny), item.at("minor").integer(0, kAny)};
      });
  if (!version) {
    return Unexpected(version.error());
  }
  if (version->first > schema.major) {
    return Unexpected(Problem{source + " was written by a newer Scantling (" + noun + " version " +
                              std::to_string(version->first) + ", this program knows " +
                              std::to_string(schema.major) +
                              "): update this program; the file is untouched."});
  }
  return json;
}

std::string unknown_part(const Json& original, const Json& known) {
  Json kept = Json::object();
  if (Json tree = unknown_tree(original, known); !tree.empty()) {
    kept["unknown"] = std::move(tree);
  }
  const Json& version = original.value("schema_version", Json::object());
  const Json& ours = known.value("schema_version", Json::object());
  if (version.value("major", 0) == ours.value("major", 0) &&
      version.value("minor", 0) > ours.value("minor", 0)) {
    kept["minor"] = version["minor"];
  }
  return kept.empty() ? std::string() : kept.dump();
}

void restore_unknown(Json& written, const std::string& unknown_keys) {
  const Json kept = Json::parse(unknown_keys, nullptr, false);
  if (!kept.is_object()) {
    return;
  }
  if (const auto tree = kept.find("unknown"); tree != kept.end()) {
    restore_tree(written, *tree);
  }
  if (const auto minor = kept.find("minor"); minor != kept.end()) {
    written["schema_version"]["minor"] = *minor;
  }
}

Json new_file(const FileSchema& schema) {
  return {{"file_kind", schema.kind},
          {"schema_version", {{"major", schema.major}, {"minor", schema.minor}}}};
}

std::string pretty_text(const Json& json) {
  std::string text;
  append_pretty(json, 0, text);
  text += '\n';
  return text;
}

Json finite_or_null(double value) { return std::isfinite(value) ? Json(value) : Json(nullptr); }

void put_if(Json& object, std::string_view key, const std::optional<double>& value) {
  if (value && std::isfinite(*value)) {
    object[std::string(key)] = *value;
  }
}

void put_if(Json& object, std::string_view key, const std::string& value) {
  if (!value.empty()) {
    object[std::string(key)] = value;
  }
}

}  // namespace calib
