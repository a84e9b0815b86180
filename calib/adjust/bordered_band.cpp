#include "calib/adjust/bordered_band.h"

#include <algorithm>
#include <cassert>
#include <numeric>

extern "C" {
void dpotrf_(const char* uplo, const int* n, double* a, const int* lda, int* info);
void dpotri_(const char* uplo, const int* n, double* a, const int* lda, int* info);
void dtrtri_(const char* uplo, const char* diag, const int* n, double* a, const int* lda,
             int* info);
void dtrsm_(const char* side, const char* uplo, const char* trans, const char* diag, const int* m,
            const int* n, const double* alpha, const double* a, const int* lda, double* b,
            const int* ldb);
void dtrmm_(const char* side, const char* uplo, const char* trans, const char* diag, const int* m,
            const int* n, const double* alpha, const double* a, const int* lda, double* b,
            const int* ldb);
void dsyrk_(const char* uplo, const char* trans, const int* n, const int* k, const double* alpha,
            const double* a, const int* lda, const double* beta, double* c, const int* ldc);
void dgemm_(const char* transa, const char* transb, const int* m, const int* n, const int* k,
            const double* alpha, const double* a, const int* lda, const double* b, const int* ldb,
            const double* beta, double* c, const int* ldc);
void dsymm_(const char* side, const char* uplo, const int* m, const int* n, const double* alpha,
            const double* a, const int* lda, const double* b, const int* ldb, const double* beta,
            double* c, const int* ldc);
}

namespace calib::adjust::internal {
namespace {

/// Columns that are treated together: enough for the BLAS to be fast, few beside a band.
constexpr int kPanel = 48;

/// A part of a column-major matrix.
struct Part {
  double* data;
  int stride;
};

void gemm(char trans_a, int m, int n, int k, double alpha, Part a, Part b, Part c) {
  const double one = 1;
  if (m > 0 && n > 0 && k > 0)
    dgemm_(&trans_a, "N", &m, &n, &k, &alpha, a.data, &a.stride, b.data, &b.stride, &one, c.data,
           &c.stride);
}

void symm(int m, int n, double alpha, Part a, Part b, Part c) {
  const double one = 1;
  if (m > 0 && n > 0)
    dsymm_("L", "L", &m, &n, &alpha, a.data, &a.stride, b.data, &b.stride, &one, c.data, &c.stride);
}

void syrk_lower(int n, int k, double alpha, const char* trans, Part a, Part c) {
  const double one = 1;
  if (n > 0 && k > 0)
    dsyrk_("L", trans, &n, &k, &alpha, a.data, &a.stride, &one, c.data, &c.stride);
}

void solve_from_right(int m, int n, Part triangle, Part b) {  // b ← b·L⁻ᵀ
  const double one = 1;
  if (m > 0)
    dtrsm_("R", "L", "T", "N", &m, &n, &one, triangle.data, &triangle.stride, b.data, &b.stride);
}

int weakest_row(const Eigen::Ref<const Eigen::MatrixXd>& factor, double smallest_pivot) {
  Eigen::Index weakest = 0;
  if (factor.rows() > 0 && factor.diagonal().cwiseAbs2().minCoeff(&weakest) < smallest_pivot)
    return static_cast<int>(weakest);
  return -1;
}

int invert_dense(Eigen::Ref<Eigen::MatrixXd> lower, double smallest_pivot) {
  const int n = static_cast<int>(lower.rows()), stride = static_cast<int>(lower.outerStride());
  int info = 0;
  dpotrf_("L", &n, lower.data(), &stride, &info);
  if (info > 0) return info - 1;
  if (const int row = weakest_row(lower, smallest_pivot); row >= 0) return row;
  dpotri_("L", &n, lower.data(), &stride, &info);
  return -1;
}

int invert_bordered_band(Eigen::Ref<Eigen::MatrixXd> lower, const BorderedBand& band,
                         double smallest_pivot) {
  const int n = band.rows, border = n - band.band_rows, first_of_border = band.band_rows;
  const int stride = static_cast<int>(lower.outerStride());
  const auto at = [&](int row, int column) { return Part{&lower(row, column), stride}; };
  int info = 0;

  for (int first = 0; first < band.band_rows; first += kPanel) {
    const int width = std::min(kPanel, band.band_rows - first), next = first + width;
    const int below = band.reach[next - 1] - next;  // rows of the band under the panel
    dpotrf_("L", &width, &lower(first, first), &stride, &info);
    if (info > 0) return first + info - 1;
    if (below > 0) {
      solve_from_right(below, width, at(first, first), at(next, first));
      syrk_lower(below, width, -1, "N", at(next, first), at(next, next));
    }
    if (border == 0) continue;
    solve_from_right(border, width, at(first, first), at(first_of_border, first));
    syrk_lower(border, width, -1, "N", at(first_of_border, first),
               at(first_of_border, first_of_border));
    if (below > 0) {
      const double minus = -1, one = 1;
      dgemm_("N", "T", &border, &below, &width, &minus, &lower(first_of_border, first), &stride,
             &lower(next, first), &stride, &one, &lower(first_of_border, next), &stride);
    }
  }
  if (border > 0) {
    dpotrf_("L", &border, &lower(first_of_border, first_of_border), &stride, &info);
    if (info > 0) return first_of_border + info - 1;
  }
  if (const int row = weakest_row(lower, smallest_pivot); row >= 0) return row;

  // Backwards: with S the rows below panel J that its column of the factor reaches, R all rows
  // below it, and Y = L_SJ L_JJ⁻¹,  Σ_RJ = −Σ_RS Y  and  Σ_JJ = L_JJ⁻ᵀ L_JJ⁻¹ − Yᵀ Σ_SJ.
  if (border > 0) dpotri_("L", &border, &lower(first_of_border, first_of_border), &stride, &info);
  Eigen::MatrixXd y_band, y_border;
  const int panels = (band.band_rows + kPanel - 1) / kPanel;
  for (int panel = panels - 1; panel >= 0; --panel) {
    const int first = panel * kPanel;
    const int width = std::min(kPanel, band.band_rows - first), next = first + width;
    const int reach = std::max(band.reach[next - 1], next), below = reach - next;
    const int between = first_of_border - reach;
    dtrtri_("L", "N", &width, &lower(first, first), &stride, &info);
    const double one = 1;
    y_band = lower.block(next, first, below, width);
    y_border = lower.block(first_of_border, first, border, width);
    for (Eigen::MatrixXd* y : {&y_band, &y_border}) {
      const int rows = static_cast<int>(y->rows());
      if (rows > 0)
        dtrmm_("R", "L", "N", "N", &rows, &width, &one, &lower(first, first), &stride, y->data(),
               &rows);
    }
    const Part yb{y_band.data(), std::max(below, 1)}, yr{y_border.data(), std::max(border, 1)};
    lower.block(next, first, n - next, width).setZero();
    if (below > 0) {
      symm(below, width, -1, at(next, next), yb, at(next, first));
      if (between > 0) gemm('N', between, width, below, -1, at(reach, next), yb, at(reach, first));
      if (border > 0)
        gemm('N', border, width, below, -1, at(first_of_border, next), yb,
             at(first_of_border, first));
    }
    if (border > 0) {
      if (first_of_border > next)
        gemm('T', first_of_border - next, width, border, -1, at(first_of_border, next), yr,
             at(next, first));
      symm(border, width, -1, at(first_of_border, first_of_border), yr, at(first_of_border, first));
    }
    Eigen::MatrixXd inverse =
        lower.block(first, first, width, width).triangularView<Eigen::Lower>();
    Eigen::MatrixXd own = Eigen::MatrixXd::Zero(width, width);
    syrk_lower(width, width, 1, "T", {inverse.data(), width}, {own.data(), width});
    if (below > 0) own.noalias() -= y_band.transpose() * lower.block(next, first, below, width);
    if (border > 0)
      own.noalias() -= y_border.transpose() * lower.block(first_of_border, first, border, width);
    lower.block(first, first, width, width).triangularView<Eigen::Lower>() = own;
  }
  return -1;
}

using Neighbours = std::vector<std::vector<int>>;

/// Nodes of one connected part by levels from `start`, each level by rising degree.
void visit(const Neighbours& neighbours, int start, std::vector<bool>& seen,
           std::vector<int>& order) {
  std::size_t next = order.size();
  order.push_back(start);
  seen[start] = true;
  for (; next < order.size(); ++next) {
    const auto first = static_cast<std::ptrdiff_t>(order.size());
    for (const int other : neighbours[order[next]]) {
      if (seen[other]) continue;
      seen[other] = true;
      order.push_back(other);
    }
    std::stable_sort(order.begin() + first, order.end(),
                     [&](int a, int b) { return neighbours[a].size() < neighbours[b].size(); });
  }
}

std::vector<int> reverse_cuthill_mckee(const Neighbours& neighbours,
                                       const std::vector<bool>& takes_part) {
  std::vector<bool> seen(takes_part.size());
  for (std::size_t node = 0; node < seen.size(); ++node) seen[node] = !takes_part[node];
  std::vector<int> order;
  for (std::size_t node = 0; node < seen.size(); ++node) {
    if (seen[node]) continue;
    // From an end of the part: the last node of a visit is far from where it began.
    std::vector<bool> tried = seen;
    std::vector<int> trial;
    visit(neighbours, static_cast<int>(node), tried, trial);
    visit(neighbours, trial.back(), seen, order);
  }
  std::reverse(order.begin(), order.end());
  return order;
}

}  // namespace

std::vector<int> Couplings::neighbours(int node) const {
  std::vector<int> list;
  const char* row = coupled_.data() + static_cast<std::size_t>(node) * nodes_;
  for (int other = 0; other < nodes_; ++other) {
    if (row[other] && other != node) list.push_back(other);
  }
  return list;
}

BorderedBand find_band(const Couplings& couplings, std::span<const int> sizes,
                       const std::vector<bool>& in_band) {
  BorderedBand dense;
  dense.order.resize(sizes.size());
  std::iota(dense.order.begin(), dense.order.end(), 0);
  dense.rows = std::accumulate(sizes.begin(), sizes.end(), 0);
  if (dense.rows < 4 * kPanel) return dense;

  BorderedBand band;
  Neighbours neighbours(sizes.size());
  for (int node = 0; node < couplings.nodes(); ++node)
    neighbours[node] = couplings.neighbours(node);
  band.order = reverse_cuthill_mckee(neighbours, in_band);
  band.rows = dense.rows;
  const std::size_t band_nodes = band.order.size();
  for (int node = 0; node < couplings.nodes(); ++node) {
    if (!in_band[node]) band.order.push_back(node);
  }
  std::vector<int> end(sizes.size());  // of each node's rows
  int row = 0;
  for (std::size_t i = 0; i < band.order.size(); ++i) {
    row += sizes[band.order[i]];
    end[band.order[i]] = row;
    if (i + 1 == band_nodes) band.band_rows = row;
  }
  int reach = 0;
  for (std::size_t i = 0; i < band_nodes; ++i) {
    const int node = band.order[i];
    reach = std::max(reach, end[node]);
    for (const int other : neighbours[node]) {
      if (in_band[other]) reach = std::max(reach, end[other]);
    }
    band.reach.insert(band.reach.end(), static_cast<std::size_t>(sizes[node]), reach);
  }
  // Multiplications: n³ dense; a panel of the band meets what it reaches and the border.
  const double n = band.rows, border = n - band.band_rows;
  double work = border * border * border;
  for (int first = 0; first < band.band_rows; first += kPanel) {
    const int next = std::min(first + kPanel, band.band_rows);
    const double width = next - first, met = band.reach[next - 1] - next + border;
    work += width * (n - first) * (met + width) + width * met * met;
  }
  return work < 0.5 * n * n * n ? band : dense;
}

int invert(Eigen::Ref<Eigen::MatrixXd> lower, const BorderedBand& band, double smallest_pivot) {
  assert(lower.rows() == band.rows);
  if (lower.rows() == 0) return -1;
  return band.band_rows > 0 ? invert_bordered_band(lower, band, smallest_pivot)
                            : invert_dense(lower, smallest_pivot);
}

}  // namespace calib::adjust::internal
