#include "measure/shapes/fit_parts.h"

#include <algorithm>
#include <cmath>

#include "calib/adjust/distributions.h"
#include "measure/shapes/start_values.h"

namespace measure::internal {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::RowVectorXd;
using Eigen::Vector3d;
using Eigen::VectorXd;

namespace {

constexpr double kTestLevel = 0.999;
/// What is left of a covariance after its datum is taken out is rounding below this share.
constexpr double kNothingLeft = 1e-12;
/// A radius beyond this many extents of the points is that of a flat form.
constexpr double kWidest = 1000.0;
/// Axes closer than this, in angle and as a share of the extent, belong to one form.
constexpr double kSameForm = 0.01;
/// Σ F² of a form through all points, as a share of their extent squared: rounding.
constexpr double kThroughAll = 1e-18;

double critical_value(int dof, double tested_dof) {
  return std::isfinite(tested_dof) ? calib::adjust::f_quantile(kTestLevel, dof, tested_dof)
                                   : calib::adjust::chi_square_quantile(kTestLevel, dof);
}

/// The value that Ω is held against.
double critical_omega(int dof, double tested_dof) {
  if (dof < 1) return std::numeric_limits<double>::infinity();
  return critical_value(dof, tested_dof) * (std::isfinite(tested_dof) ? dof : 1);
}

bool usable(const Form& form, Points points, double extent) {
  if (form.kind == FormKind::kCone) {
    return std::all_of(points.begin(), points.end(), [&](const Vector3d& point) {
      return form.direction.dot(point - form.position) > 0;
    });
  }
  return form.radius >= 0 && form.radius < kWidest * extent;
}

bool same(const Form& a, const Form& b, Points points, double extent) {
  if ((a.direction - (a.direction.dot(b.direction) < 0 ? -1 : 1) * b.direction).norm() > kSameForm)
    return false;
  // Beside the points: where an apex lies says little.
  const AboutAxis seen_a(centroid(points), a.position, a.direction);
  const AboutAxis seen_b(centroid(points), b.position, b.direction);
  return (seen_a.off * seen_a.outward - seen_b.off * seen_b.outward).norm() < kSameForm * extent &&
         std::abs(a.half_angle - b.half_angle) < kSameForm;
}

/// Different forms that the starts lead to, best first.
std::vector<Form> refined(const FormModel& model, const std::vector<Form>& starts, Points points,
                          double extent) {
  std::vector<std::pair<double, Form>> found;
  for (const Form& start : starts) {
    if (!vector(start).allFinite()) continue;
    const auto form = least_squares(model, start, points);
    if (!form || !usable(*form, points, extent)) continue;
    found.emplace_back(model.conditions(*form, points).misclosure.squaredNorm(), *form);
  }
  std::stable_sort(found.begin(), found.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
  std::vector<Form> different;
  for (const auto& [cost, form] : found) {
    const bool known = std::any_of(different.begin(), different.end(), [&](const Form& other) {
      return same(other, form, points, extent);
    });
    if (!known) different.push_back(form);
  }
  return different;
}

double variance_of(const RowVectorXd& row, const MatrixXd& covariance) {
  return covariance.size() == 0 ? 0.0 : std::max(0.0, double(row * covariance * row.transpose()));
}

/// A length of one or several misclosures, and how it follows the points.
struct Length {
  double value;
  RowVectorXd by_points;
};

Length length_of(const VectorXd& parts, const MatrixXd& by_points, const OwnDatum& datum) {
  if (parts.size() == 1)
    return {parts[0], datum.carried(by_points, OwnDatum::motion_of_length(parts[0]))};
  const double value = parts.norm();
  // At zero length every direction is as good.
  const VectorXd along = value > 0 ? VectorXd(parts / value) : VectorXd::Unit(parts.size(), 0);
  return {value, datum.carried(along.transpose() * by_points, OwnDatum::motion_of_length(value))};
}

/// Greatest less least; of lines the widest lateral range; of mirror pairs the longest.
Length deviation_of(const Settled& settled, const MatrixXd& by_points,
                    const std::vector<DepartureRows>& rows, const OwnDatum& datum) {
  const VectorXd& f = settled.at.misclosure;
  if (rows.front().count == 3) {
    const auto longest =
        std::max_element(rows.begin(), rows.end(), [&](const auto& a, const auto& b) {
          return f.segment(a.first, 3).norm() < f.segment(b.first, 3).norm();
        });
    return length_of(f.segment(longest->first, 3), by_points.middleRows(longest->first, 3), datum);
  }
  Index one = rows.front().first, other = one;
  double widest = 0;
  const Index count = rows.front().count;
  for (const auto& a : rows) {
    for (const auto& b : rows) {
      // Signed ones: a less b, so that the greatest comes first.
      const double range = count == 1
                               ? f[a.first] - f[b.first]
                               : (f.segment(a.first, count) - f.segment(b.first, count)).norm();
      if (!(range > widest)) continue;
      widest = range;
      one = a.first;
      other = b.first;
    }
  }
  return length_of(f.segment(one, count) - f.segment(other, count),
                   by_points.middleRows(one, count) - by_points.middleRows(other, count), datum);
}

}  // namespace

FitWeights::FitWeights(const FitInput& input) : datum(input.points) {
  given = input.covariance.size() > 0 && input.covariance.trace() > 0;
  if (!given) return;
  with_scale = datum.inner(input.covariance, true);
  own = datum.inner(input.covariance, false);
  if (!(own.trace() > kNothingLeft * input.covariance.trace())) own.resize(0, 0);
}

double FitWeights::noise_along(const Vector3d& direction) const {
  double noise = 0;
  for (Index j = 0; j + 3 <= with_scale.rows(); j += 3)
    noise += direction.dot(with_scale.block<3, 3>(j, j) * direction);
  return noise;
}

calib::Result<BestFit, Unsettled> best_of(const FormModel& model, const std::vector<Form>& starts,
                                          const FitInput& input, const FitWeights& weights) {
  const double extent = std::sqrt(Extents(input.points).squares.sum());
  std::vector<Form> found = refined(model, starts, input.points, extent);
  if (found.empty()) return calib::Unexpected(Unsettled::kOpen);
  const auto conditions =
      static_cast<int>(model.conditions(found.front(), input.points).misclosure.size());
  const auto settled = gauss_helmert(
      model, found.front(), input.points,
      {.own_covariance = weights.own,
       .critical = critical_omega(conditions - model.parameters(), input.tested_dof)});
  if (!settled) return calib::Unexpected(settled.error());
  found.erase(found.begin());
  return BestFit{*settled, std::move(found)};
}

bool has_rival(const FormModel& model, const BestFit& best, const FitInput& input,
               const FitWeights& weights) {
  const double extent = std::sqrt(Extents(input.points).squares.sum());
  const int dof = best.settled.degrees_of_freedom;
  const double unit = dof > 0 ? std::max(1.0, best.settled.omega / dof) : 1.0;
  const double behind = calib::adjust::chi_square_quantile(kTestLevel, 1) * unit;
  return std::any_of(best.others.begin(), best.others.end(), [&](const Form& form) {
    if (weights.own.size() == 0 || dof == 0) {
      return model.conditions(form, input.points).misclosure.squaredNorm() <
             kThroughAll * extent * extent;
    }
    const auto other = gauss_helmert(
        model, form, input.points,
        {.own_covariance = weights.own, .critical = std::numeric_limits<double>::infinity()});
    return other && !same(other->form, best.settled.form, input.points, extent) &&
           other->omega < best.settled.omega + behind;
  });
}

MatrixXd misclosure_by_points(const Settled& settled) {
  const MatrixXd by_points = settled.at.by_points;
  return by_points - settled.at.by_parameters * (settled.estimator * by_points);
}

FittedForm finished_fit(const FormModel& model, const Settled& settled, const FitInput& input,
                        const FitWeights& weights, const std::vector<DepartureRows>& departures) {
  FittedForm result;
  result.form = settled.form;
  const MatrixXd form_by_parameters = model.form_by_parameters(settled.form, input.points);
  const MatrixXd by_conditions = form_by_parameters * settled.estimator;  // 8×m
  MatrixXd by_points = -by_conditions * settled.at.by_points;
  const Eigen::Matrix3d by_centroid =
      model.position_by_centroid(settled.form) / static_cast<double>(input.points.size());
  for (Index j = 0; j < by_points.cols(); j += 3) by_points.block<3, 3>(0, j) += by_centroid;
  result.by_points = weights.datum.carried(by_points, weights.datum.motion_of(settled.form));
  const double s2 = settled.form_sigma * settled.form_sigma;
  result.definition_covariance =
      static_cast<double>(departures.size()) * s2 * by_conditions * by_conditions.transpose();

  const MatrixXd following = misclosure_by_points(settled);
  const auto n = static_cast<Index>(departures.size());
  result.departures.resize(n);
  result.u_departures.resize(n);
  for (Index i = 0; i < n; ++i) {
    const auto& rows = departures[static_cast<std::size_t>(i)];
    const Length length = length_of(settled.at.misclosure.segment(rows.first, rows.count),
                                    following.middleRows(rows.first, rows.count), weights.datum);
    result.departures[i] = length.value;
    result.u_departures[i] = std::sqrt(variance_of(length.by_points, input.covariance));
  }
  if (weights.own.size() == 0 || settled.degrees_of_freedom < 1) return result;
  FormTest test;
  test.degrees_of_freedom = settled.degrees_of_freedom;
  test.critical = critical_value(test.degrees_of_freedom, input.tested_dof);
  test.statistic = settled.omega / (std::isfinite(input.tested_dof) ? test.degrees_of_freedom : 1);
  test.within = !settled.departs;
  const Length deviation = deviation_of(settled, following, departures, weights.datum);
  test.deviation = deviation.value;
  test.u_deviation = std::sqrt(variance_of(deviation.by_points, input.covariance));
  test.form_sigma = settled.form_sigma;
  result.test = test;
  return result;
}

void turn_over(FittedForm& fitted) {
  fitted.form.direction = -fitted.form.direction;
  fitted.by_points.middleRows<3>(3) *= -1;
  fitted.definition_covariance.middleRows<3>(3) *= -1;
  fitted.definition_covariance.middleCols<3>(3) *= -1;
}

}  // namespace measure::internal
