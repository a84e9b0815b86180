// JSON files that carry a version: parsed without trust, read item by item, with foreign keys kept.
//
// Included by the .cpp files of calib/file and measure/store alone: nobody else sees the JSON
// library.
#pragma once

#include <filesystem>
#include <functional>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <nlohmann/json.hpp>

#include "calib/base/problem.h"
#include "calib/base/result.h"

namespace calib {

using Json = nlohmann::json;

/// A kind of file and the newest version of it that this program knows.
///
/// A newer minor version is read, its unknown keys are kept; a newer major version is refused.
struct FileSchema {
  std::string_view kind;  ///< value of the key "file_kind", for example "scantling camera"
  std::string_view noun;  ///< for sentences: "camera file"
  int major = 1;
  int minor = 0;
};

/// What is wrong with one item. Thrown by JsonItem and caught in read_json: it never leaves a
/// public function of the rooms that read files.
struct JsonRefusal {
  std::string item;   ///< "marks[3].sigma_px"
  std::string fault;  ///< "is not a number"
};

/// One item of a parsed file with its place in it. Every reading function throws JsonRefusal.
class JsonItem {
 public:
  JsonItem(const Json& json, std::string place) : json_(&json), place_(std::move(place)) {}

  [[nodiscard]] JsonItem at(std::string_view key) const;
  /// Nothing where the key is missing or null.
  [[nodiscard]] std::optional<JsonItem> find(std::string_view key) const;
  [[nodiscard]] std::vector<JsonItem> list() const;
  /// The list under a key; empty where it is missing.
  [[nodiscard]] std::vector<JsonItem> list(std::string_view key) const;

  [[nodiscard]] double number() const;  ///< finite
  [[nodiscard]] double positive() const;
  [[nodiscard]] double not_negative() const;
  [[nodiscard]] int integer(int lowest, int highest) const;
  [[nodiscard]] bool truth() const;
  [[nodiscard]] std::string text() const;
  /// Index of the word in `words`.
  [[nodiscard]] std::size_t word(std::span<const std::string_view> words) const;

  /// Shorthands for optional scalars.
  [[nodiscard]] std::optional<double> find_number(std::string_view key) const;
  [[nodiscard]] std::string text_or(std::string_view key, std::string otherwise) const;
  [[nodiscard]] double number_or(std::string_view key, double otherwise) const;
  [[nodiscard]] bool truth_or(std::string_view key, bool otherwise) const;

  [[noreturn]] void refuse(std::string fault) const { throw JsonRefusal{place_, std::move(fault)}; }
  [[nodiscard]] const Json& json() const { return *json_; }
  [[nodiscard]] const std::string& place() const { return place_; }

 private:
  const Json* json_;
  std::string place_;
};

/// Parses text that may be hostile: at most 64 levels deep, no key twice in one object, all numbers
/// finite.
///
/// @param source  names the text in sentences.
[[nodiscard]] Result<Json, Problem> parse_json(std::string_view text, const std::string& source);

/// Runs `from` on the parsed text; a refusal of an item becomes a sentence.
template <typename T>
[[nodiscard]] Result<T, Problem> read_json(const Json& json, const std::string& source,
                                           const std::function<T(const JsonItem&)>& from);

/// The parsed file, once kind and version are found to be ours.
[[nodiscard]] Result<Json, Problem> load_versioned(const std::filesystem::path& file,
                                                   const FileSchema& schema);

/// The same of text that has been read already.
/// @param source  names the text in sentences.
[[nodiscard]] Result<Json, Problem> parse_versioned(std::string_view text,
                                                    const std::string& source,
                                                    const FileSchema& schema);

/// What `original` holds beyond `known` (what this program would write after reading it), as JSON
/// text for the `unknown_keys` of the data; empty where there is nothing. Elements of lists are
/// told apart by their "name", by "photo" and "point", or by "file".
[[nodiscard]] std::string unknown_part(const Json& original, const Json& known);

/// Puts the unknown part back into what this program writes; known keys win, and what belonged to
/// list elements that are gone goes with them. A newer minor version number is kept.
void restore_unknown(Json& written, const std::string& unknown_keys);

/// Starts a file: its kind and version.
[[nodiscard]] Json new_file(const FileSchema& schema);

/// For people and for diffs: keys sorted, two spaces a level, short lists and objects in one line,
/// a final newline. Numbers have as many digits as it takes to read the same number back, 17 at
/// most.
[[nodiscard]] std::string pretty_text(const Json& json);

/// The number, or null where it is not finite: JSON has no NaN.
[[nodiscard]] Json finite_or_null(double value);
/// Adds the key only where there is something to say.
void put_if(Json& object, std::string_view key, const std::optional<double>& value);
void put_if(Json& object, std::string_view key, const std::string& value);

[[nodiscard]] std::string sentence_of(const JsonRefusal& refusal, const std::string& source);

template <typename T>
Result<T, Problem> read_json(const Json& json, const std::string& source,
                             const std::function<T(const JsonItem&)>& from) {
  try {
    return from(JsonItem(json, ""));
  } catch (const JsonRefusal& refusal) {
    return Unexpected(Problem{sentence_of(refusal, source)});
  } catch (const nlohmann::json::exception& cause) {
    return Unexpected(
        Problem{source + " cannot be read (" + cause.what() + "): restore it from a copy."});
  }
}

}  // namespace calib
