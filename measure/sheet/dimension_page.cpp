#include "measure/sheet/dimension_page.h"
namespace measure {
std::string dimension_page(const SheetContent& c) { return c.original; }
}  // namespace measure
