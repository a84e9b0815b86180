#include "tools/desk/tables/tolerance.h"

namespace desk {

void Tolerance::set_mm(std::optional<double> tolerance_mm) {
  if (tolerance_mm == mm_) return;
  mm_ = tolerance_mm;
  Q_EMIT changed();
}

std::optional<double> Tolerance::of(const measure::AskedDimension& dimension) const {
  if (std::holds_alternative<measure::Angle>(dimension.kind)) return std::nullopt;
  return dimension.tolerance_mm ? dimension.tolerance_mm : mm_;
}

}  // namespace desk
