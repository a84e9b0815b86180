// The dimension sheet as one page for any browser.
#pragma once

#include <string>

#include "measure/sheet/sheet_content.h"

namespace measure {

/// One HTML file with everything in it: photographs, drawings, numbers, style and script. It asks
/// for nothing from any network, and its own policy forbids it to. The same content gives the same
/// bytes.
///
/// Every text of a value is made by quantity_text.h for each unit and scale: the script chooses
/// among them and rounds nothing.
[[nodiscard]] std::string dimension_page(const SheetContent& content);

}  // namespace measure
