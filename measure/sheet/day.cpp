#include "measure/sheet/day.h"

#include <chrono>

namespace measure {

bool is_day(std::string_view text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return false;
  const auto number = [&](std::size_t begin, std::size_t size) {
    int value = 0;
    for (const char c : text.substr(begin, size)) {
      if (c < '0' || c > '9') return -1;
      value = 10 * value + (c - '0');
    }
    return value;
  };
  const int year = number(0, 4), month = number(5, 2), day = number(8, 2);
  return year >= 0 && month >= 0 && day >= 0 &&
         std::chrono::year_month_day(std::chrono::year(year),
                                     std::chrono::month(static_cast<unsigned>(month)),
                                     std::chrono::day(static_cast<unsigned>(day)))
             .ok();
}

}  // namespace measure
