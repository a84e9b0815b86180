#include "calib/adjust/large_array.h"

#include <algorithm>
#include <new>

#include <sys/mman.h>

namespace calib::adjust::internal {

LargeArray::LargeArray(std::size_t count) : count_(count) {
  constexpr std::size_t kLargePage = std::size_t{2} << 20;
  constexpr std::size_t kLine = 64;
  const std::size_t wanted = std::max(count, std::size_t{1}) * sizeof(double);
  const std::size_t unit = wanted < kLargePage ? kLine : kLargePage;
  const std::size_t bytes = (wanted + unit - 1) / unit * unit;
  values_.reset(static_cast<double*>(std::aligned_alloc(unit, bytes)));
  if (!values_) throw std::bad_alloc();
  // A wish: where it is not granted all works, only slower.
  if (unit == kLargePage) madvise(values_.get(), bytes, MADV_HUGEPAGE);
}

}  // namespace calib::adjust::internal
