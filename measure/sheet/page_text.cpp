#include "measure/sheet/page_text.h"

#include <cmath>
#include <cstdint>
#include <cstdio>

namespace measure::internal {

std::string html(std::string_view text) {
  std::string written;
  written.reserve(text.size());
  for (const char c : text) {
    switch (c) {
      case '&':
        written += "&amp;";
        break;
      case '<':
        written += "&lt;";
        break;
      case '>':
        written += "&gt;";
        break;
      case '"':
        written += "&quot;";
        break;
      default:
        written += c;
    }
  }
  return written;
}

std::string json_string(std::string_view text) {
  std::string written = "\"";
  for (const char c : text) {
    const auto code = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\') {
      written += '\\';
      written += c;
    } else if (code < 0x20 || c == '<') {
      char escaped[8];
      std::snprintf(escaped, sizeof escaped, "\\u%04x", code);
      written += escaped;
    } else {
      written += c;
    }
  }
  return written + "\"";
}

std::string json_number(double value) {
  if (!std::isfinite(value)) return "null";
  char text[40];
  std::snprintf(text, sizeof text, "%.9g", value);
  return text;
}

std::string base64(std::string_view bytes) {
  static constexpr char kSigns[] =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string written;
  written.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t at = 0; at < bytes.size(); at += 3) {
    std::uint32_t three = 0;
    for (std::size_t i = 0; i < 3; ++i) {
      three = three << 8 | (at + i < bytes.size() ? static_cast<unsigned char>(bytes[at + i]) : 0u);
    }
    for (std::size_t i = 0; i < 4; ++i) {
      written += at + i <= bytes.size() ? kSigns[three >> (18 - 6 * i) & 63u] : '=';
    }
  }
  return written;
}

}  // namespace measure::internal
