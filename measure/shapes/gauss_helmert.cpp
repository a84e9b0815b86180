#include "measure/shapes/gauss_helmert.h"

#include <cmath>
#include <limits>

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <Eigen/QR>
#include <Eigen/SVD>

namespace measure::internal {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

constexpr int kMaxIterations = 100;
/// Movements by less than this share of the points' extent, or of the form's coordinates (an apex
/// may lie far off), are rounding.
constexpr double kSettled = 1e-12, kSettledFarOff = 1e-14;
/// And so are movements by less than this share of a condition's standard deviation.
constexpr double kSettledInNoise = 1e-9;
/// When movements are this share of it, Ω has settled to four digits: whether the points lie on the
/// form is asked then. Where they do not, the weights of mere measurement settle slowly.
constexpr double kTestedInNoise = 1e-2;
/// Directions of the parameters, each scaled to move the points alike, that move them by less than
/// this share are open.
constexpr double kOpen = 1e-7;
/// Lets variances be zero (a point named twice) without a singular W; far below what a weight
/// matters.
constexpr double kRidge = 1e-10;
/// Conditions that have less than this share of the points' variance have none: motions of the
/// whole, which are taken out, fulfil all of them.
constexpr double kNoVariance = 1e-12;

/// Root mean square distance of the points from their centroid.
double extent(Points points) {
  const Eigen::Vector3d middle = centroid(points);
  double sum = 0;
  for (const auto& point : points) sum += (point - middle).squaredNorm();
  return std::sqrt(sum / static_cast<double>(points.size()));
}

/// s² for which Σ g²/(λ + s²) = dof. The sum falls and is convex: Newton from zero never passes the
/// root.
double form_variance(const VectorXd& g2, const VectorXd& eigenvalues, double dof) {
  double s2 = 0;
  for (int i = 0; i < kMaxIterations; ++i) {
    const Eigen::ArrayXd weights = 1 / (eigenvalues.array() + s2);
    const double excess = (g2.array() * weights).sum() - dof;
    const double slope = (g2.array() * weights.square()).sum();
    const double step = excess / slope;
    s2 += step;
    if (!(step > 1e-13 * s2)) break;
  }
  return std::max(s2, 0.0);
}

struct Step {
  MatrixXd estimator;
  double omega = 0.0, form_variance = 0.0;
  double mean_variance = 0.0;  ///< of a condition by the points; 1 where all weigh alike
};

/// The estimator at one linearisation; nothing if a parameter is open.
std::optional<Step> step_at(const Conditions& at, const GaussHelmertOptions& options,
                            std::optional<bool>& estimate_form) {
  const Index m = at.misclosure.size(), p = at.by_parameters.cols();
  const VectorXd sizes = at.by_parameters.colwise().norm();
  if (!(sizes.minCoeff() > 0) || m < p) return std::nullopt;
  const MatrixXd a = at.by_parameters * sizes.cwiseInverse().asDiagonal();
  // Without redundancy all weights give the same; W may then be nothing but rounding.
  bool weighted = options.own_covariance.size() > 0 && m > p;
  MatrixXd w;
  if (weighted) {
    const MatrixXd half = at.by_points * options.own_covariance;
    w = half * at.by_points.transpose();
    weighted = w.trace() > kNoVariance * options.own_covariance.trace();
  }
  if (!weighted) w = MatrixXd(at.by_points * at.by_points.transpose());
  const double mean_variance = w.trace() / static_cast<double>(m);
  w.diagonal().array() += kRidge * mean_variance;

  const Eigen::ColPivHouseholderQR<MatrixXd> by_size(a);
  const auto& r = by_size.matrixR().diagonal();
  if (!(std::abs(r[p - 1]) > kOpen * std::abs(r[0]))) return std::nullopt;

  Step step;
  step.mean_variance = mean_variance;
  if (weighted) {
    // What the parameters cannot take up: the rest of the basis of all conditions.
    const MatrixXd q = by_size.householderQ();
    const MatrixXd rest = q.rightCols(m - p);
    const Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(rest.transpose() * w * rest);
    const VectorXd lambda = eigen.eigenvalues().cwiseMax(kRidge * mean_variance);
    const VectorXd g2 =
        (eigen.eigenvectors().transpose() * (rest.transpose() * at.misclosure)).cwiseAbs2();
    step.omega = g2.cwiseQuotient(lambda).sum();
    // Decided once: a statistic at its critical value would otherwise swing to and fro.
    if (!estimate_form) estimate_form = step.omega > options.critical;
    if (*estimate_form) step.form_variance = form_variance(g2, lambda, static_cast<double>(m - p));
  }
  w.diagonal().array() += step.form_variance;
  // Variances along A do not change the estimator, and make W regular: what moves the whole form is
  // taken out of the points' own covariance.
  w.noalias() += (mean_variance + step.form_variance) * a * a.transpose();
  const Eigen::LLT<MatrixXd> cholesky(w);
  if (cholesky.info() != Eigen::Success) return std::nullopt;
  const MatrixXd white = cholesky.matrixL().solve(a);
  const Eigen::HouseholderQR<MatrixXd> qr(white);
  // L = (R⁻¹ Qᵀ) C⁻¹, C the Cholesky factor of W.
  const MatrixXd thin_q = qr.householderQ() * MatrixXd::Identity(m, p);
  const MatrixXd projected = cholesky.matrixU().solve(thin_q).transpose();
  step.estimator =
      sizes.cwiseInverse().asDiagonal() *
      MatrixXd(qr.matrixQR().topRows(p).triangularView<Eigen::Upper>().solve(projected));
  return step;
}

/// How far a movement of the parameters moves the form at the points, root mean square.
double movement(const Conditions& at, const VectorXd& by) {
  return (at.by_parameters * by).norm() / std::sqrt(static_cast<double>(at.misclosure.size()));
}

}  // namespace

std::optional<Form> least_squares(const FormModel& model, const Form& start, Points points) {
  const double size = extent(points);
  Form form = start;
  Conditions at = model.conditions(form, points);
  double cost = at.misclosure.squaredNorm(), damping = 1e-3;
  for (int i = 0; i < kMaxIterations; ++i) {
    const VectorXd sizes = at.by_parameters.colwise().norm().cwiseMax(1e-12);
    const MatrixXd a = at.by_parameters * sizes.cwiseInverse().asDiagonal();
    MatrixXd normal = a.transpose() * a;
    normal.diagonal().array() += damping;
    const VectorXd by = sizes.cwiseInverse().asDiagonal() *
                        VectorXd(normal.ldlt().solve(-a.transpose() * at.misclosure));
    if (!by.allFinite()) return std::nullopt;
    const Form next = model.moved(form, by, points);
    Conditions next_at = model.conditions(next, points);
    const double next_cost = next_at.misclosure.squaredNorm();
    if (!(next_cost <= cost)) {
      damping *= 8;
      if (damping > 1e8) break;
      continue;
    }
    const bool settled =
        movement(at, by) <= kSettled * size + kSettledFarOff * form.position.norm();
    form = next;
    at = std::move(next_at);
    cost = next_cost;
    damping = std::max(1e-12, damping / 8);
    if (settled) break;
  }
  if (!std::isfinite(cost) || !vector(form).allFinite()) return std::nullopt;
  return form;
}

calib::Result<Settled, Unsettled> gauss_helmert(const FormModel& model, const Form& start,
                                                Points points, const GaussHelmertOptions& options) {
  const double size = extent(points);
  Settled result;
  result.form = start;
  result.at = model.conditions(start, points);
  result.degrees_of_freedom = static_cast<int>(result.at.misclosure.size()) - model.parameters();
  std::optional<bool> estimate_form;
  const bool weighted = options.own_covariance.size() > 0;
  bool weights_known = !weighted;
  for (int i = 0; i < kMaxIterations; ++i) {
    // The start is the unweighted form: whether the points depart is asked once weights have had
    // their say.
    std::optional<bool> not_yet = false;
    const auto step = step_at(result.at, options, weights_known ? estimate_form : not_yet);
    if (!step) return calib::Unexpected(Unsettled::kOpen);
    result.estimator = step->estimator;
    if (!estimate_form || !*estimate_form) result.omega = step->omega;
    const VectorXd by = -step->estimator * result.at.misclosure;
    const double sigma = std::sqrt(step->form_variance);
    const bool same_sigma = std::abs(sigma - result.form_sigma) <= 1e-9 * sigma;
    result.form_sigma = sigma;
    const double moved = movement(result.at, by);
    if (!std::isfinite(moved)) break;
    const double deviation = std::sqrt(step->mean_variance);
    const bool still = moved <= kSettled * size + kSettledFarOff * result.form.position.norm() +
                                    (weighted ? kSettledInNoise * deviation : 0.0);
    if (still && same_sigma && weights_known) {
      result.departs = estimate_form.value_or(false);
      return result;
    }
    if (still || moved <= kTestedInNoise * deviation) weights_known = true;
    result.form = model.moved(result.form, by, points);
    result.at = model.conditions(result.form, points);
  }
  return calib::Unexpected(Unsettled::kDoesNotSettle);
}

}  // namespace measure::internal
