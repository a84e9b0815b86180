// Texts as HTML and JSON want them written. For the .cpp files of this room only.
#pragma once

#include <string>
#include <string_view>

namespace measure::internal {

/// For the contents of elements and for attributes in double quotes.
[[nodiscard]] std::string html(std::string_view text);
/// With its quotation marks; may stand in a script element: no '<' in it.
[[nodiscard]] std::string json_string(std::string_view text);
/// Nine digits: to sort by, not to show. The last digits of two solutions of one survey may differ,
/// and a sheet must not. Null where it is no number.
[[nodiscard]] std::string json_number(double value);
/// Source: RFC 4648, section 4.
[[nodiscard]] std::string base64(std::string_view bytes);

}  // namespace measure::internal
