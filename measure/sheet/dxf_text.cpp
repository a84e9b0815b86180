#include "measure/sheet/dxf_text.h"

#include <cstdint>
#include <cstdio>

namespace measure {
namespace {

void append_unit(std::string& to, unsigned unit) {
  char text[16];
  std::snprintf(text, sizeof text, "\\U+%04X", unit);
  to += text;
}

void append_code_point(std::string& to, std::uint32_t code) {
  if (code < 0x10000) {
    append_unit(to, code);
    return;
  }
  append_unit(to, 0xD800 + ((code - 0x10000) >> 10));
  append_unit(to, 0xDC00 + ((code - 0x10000) & 0x3FF));
}

/// The code point at the head of UTF-8 text, which is taken off; bad bytes give U+FFFD.
std::uint32_t take_code_point(std::string_view& text) {
  const auto first = static_cast<unsigned char>(text.front());
  const int more = first >= 0xF0 ? 3 : first >= 0xE0 ? 2 : first >= 0xC0 ? 1 : 0;
  std::uint32_t code = more == 0 ? first : first & (0x3Fu >> more);
  text.remove_prefix(1);
  if (more == 0) {
    return first < 0x80 ? code : 0xFFFD;
  }
  for (int i = 0; i < more; ++i) {
    if (text.empty() || (static_cast<unsigned char>(text.front()) & 0xC0) != 0x80) {
      return 0xFFFD;
    }
    code = (code << 6) | (static_cast<unsigned char>(text.front()) & 0x3F);
    text.remove_prefix(1);
  }
  return code;
}

}  // namespace

std::string dxf_text(std::string_view text) {
  std::string made;
  while (!text.empty()) {
    const std::uint32_t code = take_code_point(text);
    if (code < 0x20 || code == 0x7F) {
      made += ' ';
    } else if (code == '\\' && text.starts_with("U+")) {
      append_code_point(made, code);  // a name that looks like a code of ours
    } else if (code < 0x80) {
      made += static_cast<char>(code);
    } else {
      append_code_point(made, code);
    }
  }
  return made;
}

std::string dxf_drawn_text(std::string_view text) {
  std::string made;
  for (const char c : dxf_text(text)) {
    if (c == '%' && made.ends_with('%')) {
      append_unit(made, 0x200B);
    }
    made += c;
  }
  return made;
}

}  // namespace measure
