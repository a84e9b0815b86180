// Memory for matrices of many megabytes. For the .cpp files of this room only.
#pragma once

#include <cstddef>
#include <cstdlib>
#include <memory>

namespace calib::adjust::internal {

/// Numbers without a value yet, on large pages where the system has them. From small pages the
/// system's own work for each new one takes longer than filling it, and reading at random spends
/// most of its time on finding the page.
class LargeArray {
 public:
  LargeArray() = default;
  explicit LargeArray(std::size_t count);

  [[nodiscard]] double* data() { return values_.get(); }
  [[nodiscard]] const double* data() const { return values_.get(); }
  [[nodiscard]] std::size_t size() const { return count_; }

 private:
  struct Free {
    void operator()(double* values) const { std::free(values); }
  };
  std::unique_ptr<double[], Free> values_;
  std::size_t count_ = 0;
};

}  // namespace calib::adjust::internal
