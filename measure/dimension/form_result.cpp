#include "measure/dimension/form_result.h"

#include <cmath>
#include <limits>

#include <Eigen/Cholesky>

#include "calib/adjust/distributions.h"
#include "measure/dimension/measured.h"
#include "measure/dimension/near_zero.h"
#include "measure/dimension/resolve.h"

namespace measure {

using internal::Measured;
using internal::Resolved;
using internal::Resolver;

namespace {

constexpr double kSignificance = 0.001;
constexpr std::uint32_t kSeed = 1;

std::map<std::string, Eigen::MatrixXd> as_matrices(const std::map<std::string, FormMatrix>& from) {
  return {from.begin(), from.end()};
}

PairDepartureResult pair_result(const Resolver& resolver, const internal::MirroredPair& pair,
                                double degrees_of_freedom) {
  PairDepartureResult result;
  result.first = pair.first;
  result.second = pair.second;
  result.vector = pair.departure;
  result.value = pair.departure.norm();
  const Eigen::Matrix3d covariance =
      internal::covariance_of_rows(resolver, pair.by_block, {}, true);
  if (result.value > 0) {
    const Eigen::Vector3d direction = pair.departure / result.value;
    result.u = std::sqrt(std::max(0.0, direction.dot(covariance * direction)));
  }
  const Departure departure{pair.departure, {}, Departure::Size::kLength, false, 0.0};
  if (const auto interval = internal::near_zero_interval(departure, covariance, result.value,
                                                         result.u, degrees_of_freedom, kSeed)) {
    result.interval = {interval->low, interval->high};
    result.u = interval->sd;
  }
  const double statistic = pair.departure.dot(covariance.ldlt().solve(pair.departure));
  result.symmetric = !(statistic > calib::adjust::chi_square_quantile(1 - kSignificance, 3));
  return result;
}

}  // namespace

std::vector<FormResult> evaluate_forms(const Survey& survey, const Dossier& dossier) {
  std::vector<FormResult> results;
  Resolver resolver(survey, dossier);
  double dof = std::numeric_limits<double>::infinity();
  for (const double group : survey.group_degrees_of_freedom()) dof = std::min(dof, group);
  for (const Shape& shape : dossier.shapes) {
    FormResult result;
    result.name = shape.name;
    result.origin = origin_word(shape.origin);
    const auto found = resolver.find(shape.name);
    if (!found) {
      result.problem = found.error();
      results.push_back(result);
      continue;
    }
    result.form = found->form;
    std::map<int, Eigen::MatrixXd> by_block(found->by_block.begin(), found->by_block.end());
    result.covariance =
        internal::covariance_of_rows(resolver, by_block, as_matrices(found->by_loose), true);
    result.gap = resolver.gap_of(shape.name);
    if (const auto* pairs = resolver.mirrored(shape.name)) {
      for (const auto& pair : *pairs) result.pairs.push_back(pair_result(resolver, pair, dof));
    } else if (const FittedForm* fitted = resolver.fitted(shape.name)) {
      const std::vector<std::string> points = names_of(shape.origin);
      for (std::size_t i = 0; i < points.size(); ++i) {
        const auto k = static_cast<Eigen::Index>(i);
        result.departures.push_back({points[i], fitted->departures[k], fitted->u_departures[k]});
      }
    }
    if (const FittedForm* fitted = resolver.fitted(shape.name)) result.test = fitted->test;
    results.push_back(result);
  }
  return results;
}

std::vector<CoordinatesResult> evaluate_coordinates(const Survey& survey, const Dossier& dossier) {
  std::vector<std::string> names;
  for (const Point& point : dossier.points) names.push_back(point.name);
  for (const Shape& shape : dossier.shapes) {
    const auto form = form_of(dossier, shape.name);
    if (form && is_place(*form)) names.push_back(shape.name);
  }
  Resolver resolver(survey, dossier);
  std::vector<CoordinatesResult> results;
  for (const std::string& name : names) {
    CoordinatesResult result;
    result.name = name;
    std::map<int, Eigen::MatrixXd> by_block;
    std::map<std::string, Eigen::MatrixXd> by_loose;
    if (dossier.axes) {
      for (int axis = 0; axis < 3; ++axis) {
        const auto measured = internal::measure_kind(
            resolver, Coordinate{name, std::string(1, static_cast<char>('x' + axis))});
        if (!measured) {
          result.problem = measured.error();
          break;
        }
        result.value[axis] = measured->value;
        for (std::size_t b = 0; b < measured->gradient.blocks.size(); ++b) {
          const Eigen::VectorXd& row = measured->gradient.by_block[b];
          by_block
              .try_emplace(measured->gradient.blocks[b].index, Eigen::MatrixXd::Zero(3, row.size()))
              .first->second.row(axis) = row;
        }
      }
    } else if (const auto found = resolver.find(name); !found) {
      result.problem = found.error();
    } else {
      result.value = found->form.position;
      for (const auto& [block, derivative] : found->by_block)
        by_block.emplace(block, derivative.topRows<3>());
      for (const auto& [key, derivative] : found->by_loose)
        by_loose.emplace(key, derivative.topRows<3>());
    }
    if (result.problem.empty())
      result.covariance = internal::covariance_of_rows(resolver, by_block, by_loose, true);
    results.push_back(result);
  }
  return results;
}

}  // namespace measure
