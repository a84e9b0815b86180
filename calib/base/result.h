// Failures as values: std::expected's names for a compiler that does not have it yet.
#pragma once

#include <cassert>
#include <utility>
#include <variant>

namespace calib {

/// Wraps an error so that it converts to any Result with that error type.
template <typename E>
class Unexpected {
 public:
  explicit Unexpected(E error) : error_(std::move(error)) {}
  [[nodiscard]] E& error() { return error_; }

 private:
  E error_;
};

/// Holds a value, or the error of the one operation that was to give it.
///
/// Reading the value of a failed result is a broken promise between our own functions, hence an
/// assert.
template <typename T, typename E>
class [[nodiscard]] Result {
 public:
  using value_type = T;
  using error_type = E;

  Result(T value) : state_(std::in_place_index<0>, std::move(value)) {}  // NOLINT: meant to convert
  Result(Unexpected<E> failure)                                          // NOLINT: meant to convert
      : state_(std::in_place_index<1>, std::move(failure.error())) {}

  [[nodiscard]] bool has_value() const { return state_.index() == 0; }
  explicit operator bool() const { return has_value(); }

  [[nodiscard]] T& value() & { return assert(has_value()), *std::get_if<0>(&state_); }
  [[nodiscard]] const T& value() const& { return assert(has_value()), *std::get_if<0>(&state_); }
  [[nodiscard]] T&& value() && { return assert(has_value()), std::move(*std::get_if<0>(&state_)); }
  [[nodiscard]] E& error() { return assert(!has_value()), *std::get_if<1>(&state_); }
  [[nodiscard]] const E& error() const { return assert(!has_value()), *std::get_if<1>(&state_); }

  T& operator*() & { return value(); }
  const T& operator*() const& { return value(); }
  T&& operator*() && { return std::move(*this).value(); }
  T* operator->() { return &value(); }
  const T* operator->() const { return &value(); }

 private:
  std::variant<T, E> state_;
};

/// What an operation that only succeeds or fails returns as its value.
struct Done {};

}  // namespace calib
