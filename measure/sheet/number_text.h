// Numbers in files that programs read. Private to this room.
#pragma once

#include <charconv>
#include <string>

namespace measure {

/// The shortest text that reads back as the same number, whatever the locale; never "-0".
[[nodiscard]] inline std::string number_text(double value) {
  char text[40];
  const auto end = std::to_chars(text, text + sizeof text, value == 0.0 ? 0.0 : value).ptr;
  return {text, end};
}

}  // namespace measure
