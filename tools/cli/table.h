// Columns of text for people.
#pragma once

#include <string>
#include <vector>

namespace cli {

enum class Align { kLeft, kRight };

/// Rows under heads, every column as wide as its widest cell on the terminal.
class Table {
 public:
  explicit Table(std::vector<std::string> heads, std::vector<Align> alignment = {});
  void add(std::vector<std::string> cells);
  [[nodiscard]] bool empty() const { return rows_.empty(); }
  /// Lines with line ends; no blanks at their ends.
  [[nodiscard]] std::string text() const;

 private:
  std::vector<std::string> heads_;
  std::vector<Align> alignment_;
  std::vector<std::vector<std::string>> rows_;
};

/// Columns that a UTF-8 text takes on a terminal: combining signs none, East Asian letters two.
[[nodiscard]] std::size_t terminal_width(const std::string& text);

/// A number with so many decimals.
[[nodiscard]] std::string fixed(double value, int decimals);

}  // namespace cli
