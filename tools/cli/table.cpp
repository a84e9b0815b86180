#include "tools/cli/table.h"

#include <algorithm>
#include <array>
#include <cstdint>
#include <cstdio>
#include <utility>

namespace cli {
namespace {

using Range = std::pair<std::uint32_t, std::uint32_t>;
// The blocks that matter in names; Unicode 15, EastAsianWidth.txt and general category Mn (from
// memory).
constexpr std::array<Range, 10> kWide = {{{0x1100, 0x115F},
                                          {0x2E80, 0xA4CF},
                                          {0xAC00, 0xD7A3},
                                          {0xF900, 0xFAFF},
                                          {0xFE30, 0xFE6F},
                                          {0xFF00, 0xFF60},
                                          {0xFFE0, 0xFFE6},
                                          {0x1F300, 0x1F64F},
                                          {0x1F900, 0x1F9FF},
                                          {0x20000, 0x3FFFD}}};
constexpr std::array<Range, 5> kCombining = {
    {{0x0300, 0x036F}, {0x1AB0, 0x1AFF}, {0x1DC0, 0x1DFF}, {0x200B, 0x200F}, {0xFE00, 0xFE0F}}};

template <std::size_t count>
bool lies_in(const std::array<Range, count>& ranges, std::uint32_t value) {
  return std::any_of(ranges.begin(), ranges.end(), [&](const Range& range) {
    return value >= range.first && value <= range.second;
  });
}

std::size_t width_of(std::uint32_t value) {
  if (lies_in(kCombining, value)) {
    return 0;
  }
  return lies_in(kWide, value) ? 2 : 1;
}

}  // namespace

std::size_t terminal_width(const std::string& text) {
  std::size_t width = 0;
  std::uint32_t value = 0;
  bool pending = false;
  for (const char byte : text) {
    const auto bits = static_cast<unsigned char>(byte);
    if ((bits & 0xC0u) == 0x80u) {
      value = (value << 6) | (bits & 0x3Fu);
      continue;
    }
    width += pending ? width_of(value) : 0;
    value = bits < 0x80u   ? bits
            : bits < 0xE0u ? bits & 0x1Fu
            : bits < 0xF0u ? bits & 0x0Fu
                           : bits & 0x07u;
    pending = true;
  }
  return width + (pending ? width_of(value) : 0);
}

Table::Table(std::vector<std::string> heads, std::vector<Align> alignment)
    : heads_(std::move(heads)), alignment_(std::move(alignment)) {
  alignment_.resize(heads_.size(), Align::kLeft);
}

void Table::add(std::vector<std::string> cells) {
  cells.resize(heads_.size());
  rows_.push_back(std::move(cells));
}

std::string Table::text() const {
  std::vector<std::size_t> widths;
  for (std::size_t column = 0; column < heads_.size(); ++column) {
    std::size_t width = terminal_width(heads_[column]);
    for (const auto& row : rows_) {
      width = std::max(width, terminal_width(row[column]));
    }
    widths.push_back(width);
  }
  std::string text;
  const auto append = [&](const std::vector<std::string>& row) {
    std::string line;
    for (std::size_t column = 0; column < row.size(); ++column) {
      const std::string blanks(widths[column] - terminal_width(row[column]), ' ');
      line += column > 0 ? "  " : "";
      line += alignment_[column] == Align::kRight ? blanks + row[column] : row[column] + blanks;
    }
    line.erase(line.find_last_not_of(' ') + 1);
    text += line + "\n";
  };
  append(heads_);
  for (const auto& row : rows_) {
    append(row);
  }
  return text;
}

std::string fixed(double value, int decimals) {
  char text[64];
  std::snprintf(text, sizeof text, "%.*f", decimals, value);
  std::string shown(text);
  // What rounds to nothing has no sign.
  if (shown.starts_with('-') && shown.find_first_of("123456789") == std::string::npos) {
    shown.erase(0, 1);
  }
  return shown;
}

}  // namespace cli
