// Days are those of ISO 8601-1:2019, 5.2.2.1 (calendar date, extended format), from memory; leap
// years by the rule of the Gregorian calendar.
#include "measure/sheet/day.h"

#include <gtest/gtest.h>

namespace measure {
namespace {

TEST(Day, IsOneOfTheCalendarWrittenAsTheStandardWritesIt) {
  for (const char* day : {"2025-05-17", "2024-02-29", "2000-02-29", "1999-12-31"}) {
    EXPECT_TRUE(is_day(day)) << day;
  }
  for (const char* other :
       {"", "2025-5-17", "17.05.2025", "2025-02-29", "1900-02-29", "2025-13-01", "2025-00-10",
        "2025-04-31", "2025-04-00", "2025/04/01", "2025-04-1x", "2025-04-011"}) {
    EXPECT_FALSE(is_day(other)) << other;
  }
}

}  // namespace
}  // namespace measure
