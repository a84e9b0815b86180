#include "measure/edit/name_rules.h"

#include <cstdint>
#include <cstdio>

namespace measure {
namespace {

constexpr std::size_t kLongestName = 200;
constexpr std::uint32_t kBad = 0xFFFFFFFF;

/// The code point at the front and its length in bytes; kBad and 1 where the bytes are no UTF-8.
struct CodePoint {
  std::uint32_t value = kBad;
  std::size_t length = 1;
};

CodePoint first_code_point(std::string_view text) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  const std::uint32_t lead = byte(0);
  if (lead < 0x80) {
    return {lead, 1};
  }
  const std::size_t length = lead >= 0xF0 && lead <= 0xF4  ? 4
                             : lead >= 0xE0 && lead < 0xF0 ? 3
                             : lead >= 0xC2 && lead < 0xE0 ? 2
                                                           : 0;
  if (length == 0 || text.size() < length) {
    return {};
  }
  std::uint32_t value = lead & (0xFFu >> (length + 1));
  for (std::size_t i = 1; i < length; ++i) {
    if ((byte(i) & 0xC0u) != 0x80u) {
      return {};
    }
    value = (value << 6) | (byte(i) & 0x3Fu);
  }
  const bool overlong = (length == 3 && value < 0x800) || (length == 4 && value < 0x10000);
  const bool surrogate = value >= 0xD800 && value < 0xE000;
  return overlong || surrogate || value > 0x10FFFF ? CodePoint{} : CodePoint{value, length};
}

/// Controls of ASCII and Latin-1, and the line and paragraph separators.
bool is_control(std::uint32_t value) {
  return value < 0x20 || (value >= 0x7F && value < 0xA0) || value == 0x2028 || value == 0x2029;
}

}  // namespace

bool is_utf8(std::string_view text) {
  while (!text.empty()) {
    const CodePoint next = first_code_point(text);
    if (next.value == kBad) {
      return false;
    }
    text.remove_prefix(next.length);
  }
  return true;
}

std::string in_quotes(std::string_view name) {
  std::string text = "\"";
  while (!name.empty()) {
    const CodePoint next = first_code_point(name);
    if (next.value == kBad || is_control(next.value)) {
      for (const char byte : name.substr(0, next.length)) {
        char shown[8];
        std::snprintf(shown, sizeof shown, "\\x%02X",
                      static_cast<unsigned>(static_cast<unsigned char>(byte)));
        text += shown;
      }
    } else {
      text += name.substr(0, next.length);
    }
    name.remove_prefix(next.length);
  }
  return text + "\"";
}

std::optional<std::string> name_problem(std::string_view name, std::string_view what) {
  const std::string subject = "The " + std::string(what) + " name " + in_quotes(name);
  if (name.empty()) {
    return "A " + std::string(what) + " name is empty: give it a name.";
  }
  if (name.size() > kLongestName) {
    return subject.substr(0, 60) + "… is longer than " + std::to_string(kLongestName) +
           " bytes: choose a shorter one.";
  }
  for (std::string_view rest = name; !rest.empty();) {
    const CodePoint next = first_code_point(rest);
    if (next.value == kBad) {
      return subject + " is not UTF-8: rename it.";
    }
    if (is_control(next.value)) {
      return subject + " holds a control character: take it out.";
    }
    rest.remove_prefix(next.length);
  }
  if (name.front() == ' ' || name.back() == ' ') {
    return subject + " begins or ends with a space: take the space away.";
  }
  return std::nullopt;
}

}  // namespace measure
