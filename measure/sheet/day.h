// A day as a title block takes it.
#pragma once

#include <string_view>

namespace measure {

/// "2025-05-17": a day of the calendar, as ISO 8601-1:2019 writes it.
[[nodiscard]] bool is_day(std::string_view text);

}  // namespace measure
