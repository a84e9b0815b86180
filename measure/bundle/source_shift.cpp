#include "measure/bundle/source_shift.h"

#include <array>
#include <cmath>
#include <cstdio>

#include <Eigen/LU>

#include "calib/adjust/distributions.h"

namespace measure::internal {

using namespace calib::adjust;

std::vector<std::string> shifts_between_sources(const Network& network,
                                                const Covariance& covariance,
                                                const SurveyNetwork& parts,
                                                const Observed& observed) {
  std::vector<std::string> sentences;
  std::array<int, 3> count{};
  for (std::size_t m = 0; m < observed.marks.size(); ++m) {
    if (network.observation(parts.marks[m]).active)
      ++count[static_cast<std::size_t>(group_of(observed.marks[m].source))];
  }
  int sources = 0;
  for (const int n : count) sources += n > 0 ? 1 : 0;
  if (sources < 2) return sentences;
  for (int source = 0; source < 3; ++source) {
    if (count[static_cast<std::size_t>(source)] == 0) continue;
    // JᵀB for the two directions of the shift, block by block, and BᵀB, Bᵀv.
    Eigen::Matrix2d normal = Eigen::Matrix2d::Zero();
    Eigen::Vector2d right = Eigen::Vector2d::Zero();
    std::array<std::vector<Eigen::VectorXd>, 2> gradient;
    std::vector<BlockId> blocks;
    for (std::size_t b = 0; b < network.blocks().size(); ++b)
      blocks.push_back({static_cast<int>(b)});
    for (auto& direction : gradient) {
      for (const Block& block : network.blocks())
        direction.push_back(Eigen::VectorXd::Zero(block.values.size()));
    }
    for (std::size_t m = 0; m < observed.marks.size(); ++m) {
      const ObservationId id = parts.marks[m];
      if (!network.observation(id).active || group_of(observed.marks[m].source) != source) continue;
      const double b = -1 / (observed.marks[m].sigma_px *
                             network.groups()[static_cast<std::size_t>(source)].scale);
      const Eigen::VectorXd v =
          network.residuals(id) / network.groups()[static_cast<std::size_t>(source)].scale;
      normal += b * b * Eigen::Matrix2d::Identity();
      right += b * v.head<2>();
      for (int direction = 0; direction < 2; ++direction) {
        Eigen::Vector2d unit = Eigen::Vector2d::Zero();
        unit[direction] = b;
        covariance.add_jacobian_transposed(id, unit, gradient[static_cast<std::size_t>(direction)]);
      }
    }
    for (int column = 0; column < 2; ++column) {
      const auto moved = covariance.times(blocks, gradient[static_cast<std::size_t>(column)]);
      for (int row = 0; row < 2; ++row) {
        double sum = 0;
        for (std::size_t k = 0; k < moved.size(); ++k) {
          if (moved[k].size() > 0) sum += gradient[static_cast<std::size_t>(row)][k].dot(moved[k]);
        }
        normal(row, column) -= sum;
      }
    }
    if (!(normal.determinant() > 1e-6)) continue;
    const Eigen::Matrix2d covariance_shift = normal.inverse();
    const Eigen::Vector2d shift = covariance_shift * right;
    const bool significant = shift.dot(normal * shift) > chi_square_quantile(0.999, 2);
    // Near half a pixel in both axes, the same way: 0.25 to 0.75 leaves room for the shift's own
    // error bar.
    const bool half = std::abs(std::abs(shift.x()) - 0.5) < 0.25 &&
                      std::abs(std::abs(shift.y()) - 0.5) < 0.25 && shift.x() * shift.y() > 0;
    if (!significant || !half) continue;
    char text[64];
    std::snprintf(text, sizeof text, "%+.2f and %+.2f px in x and y", shift.x(), shift.y());
    sentences.push_back(std::string(kSurveyGroupNames[source]) + " lie " + text +
                        " beside the other marks: near half a pixel, as when pixels were counted "
                        "from the corner of the "
                        "first pixel. Import them again with --pixel-origin corner");
  }
  return sentences;
}

}  // namespace measure::internal
