#include "measure/dimension/shortest_interval.h"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace measure {

std::pair<double, double> shortest_interval(const std::vector<double>& sorted, double p) {
  const auto count = sorted.size();
  const auto inside = std::clamp(
      static_cast<std::size_t>(std::ceil(p * static_cast<double>(count))), std::size_t{2}, count);
  std::size_t best = 0;
  for (std::size_t i = 0; i + inside <= count; ++i) {
    if (sorted[i + inside - 1] - sorted[i] < sorted[best + inside - 1] - sorted[best]) best = i;
  }
  return {sorted[best], sorted[best + inside - 1]};
}

}  // namespace measure
