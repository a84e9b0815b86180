#include "calib/adjust/bordered_band.h"

#include <random>

#include <Eigen/LU>
#include <gtest/gtest.h>

namespace calib::adjust::internal {
namespace {

/// Photos around a ring, each coupled to its neighbours, and one camera coupled to all.
struct RingMatrix {
  Couplings couplings;
  std::vector<int> sizes;
  std::vector<bool> in_band;

  RingMatrix(int photos, int neighbours) : couplings(photos + 1) {
    sizes.push_back(9);
    in_band.push_back(false);
    for (int i = 0; i < photos; ++i) {
      sizes.push_back(6);
      in_band.push_back(true);
      std::vector<int> together{0};
      for (int k = 0; k <= neighbours; ++k) together.push_back(1 + (i + k) % photos);
      couplings.add(together);
    }
  }

  /// A positive definite matrix of unit diagonal with these couplings, rows in the band's order.
  [[nodiscard]] Eigen::MatrixXd matrix(const BorderedBand& band) const {
    std::mt19937 random(7);
    std::uniform_real_distribution<double> uniform(-1, 1);
    std::vector<int> row(sizes.size());
    int rows = 0;
    for (const int node : band.order) {
      row[node] = rows;
      rows += sizes[node];
    }
    Eigen::MatrixXd m = Eigen::MatrixXd::Identity(rows, rows);
    for (int a = 0; a < couplings.nodes(); ++a) {
      for (const int b : couplings.neighbours(a)) {
        if (b > a) continue;
        for (int i = 0; i < sizes[a]; ++i) {
          for (int j = 0; j < sizes[b]; ++j) {
            // Rows sum to less than one: diagonally dominant, hence positive definite.
            const double value = 0.9 * uniform(random) / rows;
            m(row[a] + i, row[b] + j) = m(row[b] + j, row[a] + i) = value;
          }
        }
      }
    }
    return m;
  }
};

TEST(BorderedBand, OfARingGivesTheInverseThatTheDenseRoutinesGive) {
  for (const int photos : {40, 77, 120}) {
    const RingMatrix ring(photos, 4);
    const BorderedBand band = find_band(ring.couplings, ring.sizes, ring.in_band);
    ASSERT_EQ(band.band_rows, 6 * photos);
    const Eigen::MatrixXd m = ring.matrix(band);
    const Eigen::MatrixXd expected = m.inverse();
    Eigen::MatrixXd got = m.triangularView<Eigen::Lower>();
    ASSERT_EQ(invert(got, band, 1e-12), -1);
    const Eigen::MatrixXd difference = Eigen::MatrixXd(got.triangularView<Eigen::Lower>()) -
                                       Eigen::MatrixXd(expected.triangularView<Eigen::Lower>());
    EXPECT_LT(difference.cwiseAbs().maxCoeff(), 1e-12);
  }
}

TEST(BorderedBand, IsNotUsedWhereEveryPhotoMeetsEveryOther) {
  const RingMatrix ring(60, 59);
  const BorderedBand band = find_band(ring.couplings, ring.sizes, ring.in_band);
  EXPECT_EQ(band.band_rows, 0);
  EXPECT_EQ(band.order.front(), 0);
}

TEST(BorderedBand, NamesTheRowThatTheOthersDetermine) {
  const RingMatrix ring(60, 3);
  const BorderedBand band = find_band(ring.couplings, ring.sizes, ring.in_band);
  ASSERT_GT(band.band_rows, 0);
  Eigen::MatrixXd m = ring.matrix(band);
  constexpr int kRow = 101;
  m.row(kRow) = m.row(kRow - 1);
  m.col(kRow) = m.col(kRow - 1);
  m(kRow, kRow) = m(kRow - 1, kRow - 1);
  EXPECT_EQ(invert(m, band, 1e-12), kRow);
}

}  // namespace
}  // namespace calib::adjust::internal
