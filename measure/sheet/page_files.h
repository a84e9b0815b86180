// Style and script of the page, from page/sheet.css and page/sheet.js. For the .cpp files of this
// room only.
#pragma once

#include <string_view>

namespace measure::internal {

extern const std::string_view kPageStyle;
extern const std::string_view kPageScript;

}  // namespace measure::internal
