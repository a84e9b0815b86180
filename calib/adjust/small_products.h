// Products of the small blocks that normal matrices are made of. For the .cpp files of this room
// only.
//
// Plain loops: with the usual sizes known at compile time they are unrolled and kept in registers,
// three times as fast as the same products of dynamic matrices. Matrices are column-major unless
// their name says rows.
#pragma once

#include <cstddef>
#include <type_traits>

namespace calib::adjust::internal {

/// Stands for a size that is known at run time only.
inline constexpr int kAnySize = 0;

template <int size>
using Size = std::integral_constant<int, size>;

/// Calls f with a block's size as a compile-time constant where it is one of the usual: point,
/// pose, camera.
template <typename F>
void with_size(int size, F&& f) {
  switch (size) {
    case 3:
      return f(Size<3>{});
    case 6:
      return f(Size<6>{});
    case 9:
      return f(Size<9>{});
    default:
      return f(Size<kAnySize>{});
  }
}

/// out (na × nb) += aᵀ b, for Jacobians of `rows` rows, row after row.
template <int fixed_rows, int fixed_na>
void add_normal_block(double* __restrict out, std::ptrdiff_t stride, const double* a_rows,
                      int any_na, const double* b_rows, int nb, int any_rows) {
  const int na = fixed_na == kAnySize ? any_na : fixed_na;
  const int rows = fixed_rows == kAnySize ? any_rows : fixed_rows;
  for (int j = 0; j < nb; ++j) {
    double* column = out + j * stride;
    for (int r = 0; r < rows; ++r) {
      const double factor = b_rows[r * nb + j];
      for (int i = 0; i < na; ++i) column[i] += a_rows[r * na + i] * factor;
    }
  }
}

inline void add_normal_block(double* out, std::ptrdiff_t stride, const double* a_rows, int na,
                             const double* b_rows, int nb, int rows) {
  with_size(na, [&](auto size) {
    if (rows == 2) {
      add_normal_block<2, size()>(out, stride, a_rows, na, b_rows, nb, rows);
    } else {
      add_normal_block<kAnySize, size()>(out, stride, a_rows, na, b_rows, nb, rows);
    }
  });
}

/// out (na × nb) −= a bᵀ, a and b of d columns.
template <int fixed_d, int fixed_na>
void subtract_outer(double* __restrict out, std::ptrdiff_t out_stride, const double* a, int any_na,
                    std::ptrdiff_t a_stride, const double* b, int nb, std::ptrdiff_t b_stride,
                    int any_d) {
  const int na = fixed_na == kAnySize ? any_na : fixed_na;
  const int d = fixed_d == kAnySize ? any_d : fixed_d;
  for (int j = 0; j < nb; ++j) {
    double* column = out + j * out_stride;
    for (int i = 0; i < na; ++i) {
      double sum = 0;
      for (int c = 0; c < d; ++c) sum += a[c * a_stride + i] * b[c * b_stride + j];
      column[i] -= sum;
    }
  }
}

/// out (width × d) += tᵀ v with t of `height` rows, row after row.
template <int fixed_d, int fixed_width>
void add_transposed_times(double* __restrict out, std::ptrdiff_t out_stride, const double* t_rows,
                          int height, int any_width, const double* v, std::ptrdiff_t v_stride,
                          int any_d) {
  if constexpr (fixed_d == kAnySize || fixed_width == kAnySize) {
    const int width = fixed_width == kAnySize ? any_width : fixed_width;
    const int d = fixed_d == kAnySize ? any_d : fixed_d;
    for (int c = 0; c < d; ++c) {
      for (int r = 0; r < height; ++r) {
        const double factor = v[c * v_stride + r];
        for (int i = 0; i < width; ++i) out[c * out_stride + i] += t_rows[r * width + i] * factor;
      }
    }
  } else {
    double sum[fixed_d][fixed_width];
    for (int c = 0; c < fixed_d; ++c) {
      for (int i = 0; i < fixed_width; ++i) sum[c][i] = out[c * out_stride + i];
    }
    for (int r = 0; r < height; ++r) {
      for (int c = 0; c < fixed_d; ++c) {
        const double factor = v[c * v_stride + r];
        for (int i = 0; i < fixed_width; ++i) sum[c][i] += t_rows[r * fixed_width + i] * factor;
      }
    }
    for (int c = 0; c < fixed_d; ++c) {
      for (int i = 0; i < fixed_width; ++i) out[c * out_stride + i] = sum[c][i];
    }
  }
}

inline void add_transposed_times(double* out, std::ptrdiff_t out_stride, const double* t_rows,
                                 int height, int width, const double* v, std::ptrdiff_t v_stride,
                                 int d) {
  with_size(width, [&](auto size) {
    if (d == 3) {
      add_transposed_times<3, size()>(out, out_stride, t_rows, height, width, v, v_stride, d);
    } else {
      add_transposed_times<kAnySize, size()>(out, out_stride, t_rows, height, width, v, v_stride,
                                             d);
    }
  });
}

/// turned (width × height, row after row) = tᵀ.
inline void transpose(const double* t_rows, int height, int width, double* turned) {
  with_size(width, [&](auto size) {
    const int n = size() == kAnySize ? width : size();
    for (int r = 0; r < height; ++r) {
      for (int i = 0; i < n; ++i) turned[i * height + r] = t_rows[r * n + i];
    }
  });
}

}  // namespace calib::adjust::internal
