#include "calib/adjust/datum.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Geometry>
#include <Eigen/LU>
#include <Eigen/QR>
#include <Eigen/SVD>

#include "calib/adjust/linearised.h"
#include "calib/camera/projection.h"

namespace calib::adjust {
namespace {

Eigen::Matrix3d inverse_right_jacobian(const Eigen::Vector3d& w) {
  // J_r(w) = J_l(−w)
  return left_jacobian(-w).inverse();
}

Eigen::Matrix3d cross_matrix(const Eigen::Vector3d& v) {
  Eigen::Matrix3d m;
  m << 0, -v.z(), v.y(), v.z(), 0, -v.x(), -v.y(), v.x(), 0;
  return m;
}

/// The triangular factor of a tall matrix of seven columns whose rows come a few at a time.
class Triangle {
 public:
  void add(const Eigen::MatrixXd& rows) {
    for (Eigen::Index r = 0; r < rows.rows(); ++r) {
      if (filled_ == buffer_.rows()) reduce();
      buffer_.row(filled_++) = rows.row(r);
    }
  }
  [[nodiscard]] Eigen::MatrixXd factor() {
    reduce();
    return buffer_.topRows<7>();
  }

 private:
  void reduce() {
    if (filled_ < buffer_.rows()) buffer_.bottomRows(buffer_.rows() - filled_).setZero();
    const Eigen::HouseholderQR<Eigen::MatrixXd> qr(buffer_);
    buffer_.topRows<7>() = qr.matrixQR().topRows<7>().triangularView<Eigen::Upper>();
    filled_ = 7;
  }

  Eigen::Matrix<double, Eigen::Dynamic, 7> buffer_ = Eigen::MatrixXd::Zero(256, 7);
  Eigen::Index filled_ = 0;
};

std::string describe(const Eigen::MatrixXd& free_motions) {
  if (free_motions.cols() == 0) return "nothing";
  // Free dimensions inside each kind of motion: how much of the unit motions lies in the free
  // space.
  const Eigen::VectorXd share = (free_motions * free_motions.transpose()).diagonal();
  const auto count = [&](int first, int size) {
    return static_cast<int>(std::lround(share.segment(first, size).sum()));
  };
  std::vector<std::string> words;
  if (const int n = count(0, 3); n > 0) words.push_back("position (" + std::to_string(n) + ")");
  if (const int n = count(3, 3); n > 0) words.push_back("rotation (" + std::to_string(n) + ")");
  if (share[6] > 0.5) words.emplace_back("scale");
  std::string text;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (i > 0) text += i + 1 == words.size() ? " and " : ", ";
    text += words[i];
  }
  return text.empty() ? std::to_string(free_motions.cols()) + " mixed motions" : text;
}

}  // namespace

Eigen::MatrixXd datum_motions(const Block& block, const Eigen::Vector3d& centre, double radius) {
  Eigen::MatrixXd motions = Eigen::MatrixXd::Zero(block.values.size(), 7);
  switch (block.datum_role) {
    case DatumRole::kNone:
      break;
    case DatumRole::kPoint: {
      const Eigen::Vector3d arm = block.values.head<3>() - centre;
      motions.leftCols<3>().setIdentity();
      motions.middleCols<3>(3) = -cross_matrix(arm) / radius;
      motions.col(6) = arm / radius;
      break;
    }
    case DatumRole::kOwn:
      motions = block.motions(block.values, centre, radius);
      break;
    case DatumRole::kPose: {
      // X' = X + T + ε×(X−c) + σ(X−c). With R' = R exp(−[ε]×) the camera sees X unchanged up to
      // scale if t' = t + σ(t + Rc) − RT + R(ε×c): rotation about c is rotation about 0 with shift
      // −ε×c.
      const Eigen::Vector3d w = block.values.head<3>(), t = block.values.tail<3>();
      const Eigen::Matrix3d rotation = rotation_from_vector(w);
      motions.block<3, 3>(3, 0) = -rotation;
      motions.block<3, 3>(0, 3) = -inverse_right_jacobian(w) / radius;
      motions.block<3, 3>(3, 3) = rotation * (-cross_matrix(centre)) / radius;
      motions.block<3, 1>(3, 6) = (t + rotation * centre) / radius;
      break;
    }
  }
  return motions;
}

Datum find_datum(const Network& network) {
  Datum datum;
  const std::vector<bool> in_use = network.blocks_in_use();
  // Turns and scale about the middle of the points: about the origin, a survey far from it would
  // make all motions look like shifts.
  Eigen::Vector3d sum = Eigen::Vector3d::Zero();
  int points = 0;
  for (std::size_t b = 0; b < network.blocks().size(); ++b) {
    const Block& block = network.blocks()[b];
    if (!in_use[b] || block.datum_role != DatumRole::kPoint) continue;
    sum += block.values.head<3>();
    ++points;
  }
  if (points > 0) datum.centre = sum / points;
  double squares = 0;
  for (std::size_t b = 0; b < network.blocks().size(); ++b) {
    const Block& block = network.blocks()[b];
    if (in_use[b] && block.datum_role == DatumRole::kPoint) {
      squares += (block.values.head<3>() - datum.centre).squaredNorm();
    }
  }
  if (points > 1 && squares > 0) datum.radius = std::sqrt(squares / points);

  std::vector<Eigen::MatrixXd> motions(network.blocks().size());
  std::vector<Eigen::VectorXd> weight(network.blocks().size());
  for (std::size_t b = 0; b < motions.size(); ++b) {
    motions[b] = datum_motions(network.blocks()[b], datum.centre, datum.radius);
    weight[b] = Eigen::VectorXd::Zero(network.blocks()[b].values.size());
  }

  // What the observations feel of the motions, against what they would feel if blocks moved one by
  // one: the ratio is a pure number, about 1e-14 for a motion that is free. As a triangular factor,
  // not as a sum of squares: squaring would drown the free motions in the rounding of the others.
  Triangle felt;
  Eigen::Matrix<double, 7, 1> singly = Eigen::Matrix<double, 7, 1>::Zero();
  internal::Linearised linear;
  for (const Observation& observation : network.observations()) {
    if (!observation.active || !linear.evaluate(network, observation)) continue;
    Eigen::MatrixXd together = Eigen::MatrixXd::Zero(linear.residuals.size(), 7);
    for (std::size_t b = 0; b < observation.blocks.size(); ++b) {
      const int block = observation.blocks[b].index;
      weight[block] += linear.jacobians[b].colwise().squaredNorm().transpose();
      if (network.blocks()[block].datum_role == DatumRole::kNone) continue;
      const Eigen::MatrixXd moved = linear.jacobians[b] * motions[block];
      together += moved;
      singly += moved.colwise().squaredNorm().transpose();
    }
    felt.add(together);
  }
  for (std::size_t b = 0; b < motions.size(); ++b) {
    const Block& block = network.blocks()[b];
    if (!in_use[b] || block.datum_role == DatumRole::kNone) continue;
    for (Eigen::Index k = 0; k < block.values.size(); ++k) {
      if (!block.held[k]) continue;
      const Eigen::MatrixXd row =
          std::sqrt(weight[b][k]) * motions[b].row(k);  // a held coordinate feels every motion
      felt.add(row);
      singly += row.colwise().squaredNorm().transpose();
    }
  }
  const Eigen::Matrix<double, 7, 1> inverse_scale =
      singly.unaryExpr([](double s) { return s > 0 ? 1 / std::sqrt(s) : 0.0; });
  const Eigen::MatrixXd ratio = felt.factor() * inverse_scale.asDiagonal();
  const Eigen::JacobiSVD<Eigen::MatrixXd> svd(ratio, Eigen::ComputeFullV);
  constexpr double kFree = 1e-9;
  while (datum.defect < 7 && !(svd.singularValues()[6 - datum.defect] >= kFree)) ++datum.defect;
  if (points == 0 && singly.isZero()) datum.defect = 0;  // nothing here lives in space
  Eigen::MatrixXd free = inverse_scale.asDiagonal() * svd.matrixV().rightCols(datum.defect);
  if (datum.defect > 0) {
    free = Eigen::HouseholderQR<Eigen::MatrixXd>(free).householderQ() *
           Eigen::MatrixXd::Identity(7, datum.defect);
  }
  datum.free_motions = free;
  datum.description = describe(free);
  datum.scale_is_free = datum.defect > 0 && free.row(6).squaredNorm() > 0.5;
  if (datum.defect == 0) return datum;

  std::vector<std::pair<BlockId, int>> candidates;
  std::vector<Eigen::VectorXd> rows;
  for (std::size_t b = 0; b < motions.size(); ++b) {
    const Block& block = network.blocks()[b];
    // Points and poses are enough to hold the whole by; what stands on its own frame never is.
    if (!in_use[b] || block.datum_role == DatumRole::kNone || block.datum_role == DatumRole::kOwn)
      continue;
    // Kept blocks first: holding a coordinate of an eliminated one costs its block its regular
    // size.
    const double preference = block.role == BlockRole::kKept ? 1.0 : 1e-3;
    for (Eigen::Index k = 0; k < block.values.size(); ++k) {
      if (block.held[k]) continue;
      candidates.push_back({BlockId{static_cast<int>(b)}, static_cast<int>(k)});
      rows.push_back(preference * std::sqrt(weight[b][k]) * (motions[b].row(k) * free).transpose());
    }
  }
  Eigen::MatrixXd columns(datum.defect, static_cast<Eigen::Index>(rows.size()));
  for (std::size_t i = 0; i < rows.size(); ++i) columns.col(static_cast<Eigen::Index>(i)) = rows[i];
  const Eigen::ColPivHouseholderQR<Eigen::MatrixXd> pivoted(columns);
  for (int i = 0; i < datum.defect; ++i) {
    datum.held.push_back(candidates[pivoted.colsPermutation().indices()[i]]);
  }
  return datum;
}

}  // namespace calib::adjust
