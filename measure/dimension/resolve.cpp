#include "measure/dimension/resolve.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "measure/shapes/construct.h"
#include "measure/shapes/fit_mirror.h"

namespace measure::internal {

using calib::Result;
using calib::Unexpected;
using calib::adjust::BlockId;
using calib::adjust::CurveKind;
using Eigen::MatrixXd;
using Eigen::Vector3d;
using Found = Result<Resolved, std::string>;

namespace {

std::string quoted(const std::string& name) { return "\"" + name + "\""; }

double definition_u(const Dossier& dossier, const std::string& kind_name) {
  if (kind_name.empty()) return 0.0;
  for (const PointKind& kind : dossier.point_kinds) {
    if (kind.name == kind_name) return kind.definition_u_mm;
  }
  return 0.0;
}

/// Where an edge is drawn on a moulded part is uncertain beside it, a rim in its place and its
/// radius, each alike; directions are not.
MatrixXd curve_definition(CurveKind kind, double u) {
  const int size = calib::adjust::curve_size(kind);
  MatrixXd covariance = MatrixXd::Zero(size, size);
  const int place = kind == CurveKind::kCircle ? 3 : 2;
  for (int k = 0; k < place; ++k) covariance(k, k) = u * u;
  if (kind != CurveKind::kEdge) covariance(size - 1, size - 1) = u * u;
  return covariance;
}

/// The smallest number of degrees of freedom that a scale in use was estimated with.
double least_dof(const Survey& survey) {
  double least = std::numeric_limits<double>::infinity();
  for (const double dof : survey.group_degrees_of_freedom()) least = std::min(least, dof);
  return least;
}

void add_chain(Resolved& result, const FormMatrix& by_input, const Resolved& input) {
  for (const auto& [block, derivative] : input.by_block) {
    const MatrixXd part = by_input * derivative;
    const auto [at, is_new] = result.by_block.try_emplace(block, part);
    if (!is_new) at->second += part;
  }
  for (const auto& [key, derivative] : input.by_loose) {
    const FormMatrix part = by_input * derivative;
    const auto [at, is_new] = result.by_loose.try_emplace(key, part);
    if (!is_new) at->second += part;
  }
}

}  // namespace

Resolved chained(const Form& form, const std::vector<FormMatrix>& by_input,
                 const std::vector<const Resolved*>& inputs) {
  Resolved result{form, {}, {}};
  for (std::size_t i = 0; i < inputs.size(); ++i) add_chain(result, by_input[i], *inputs[i]);
  return result;
}

MatrixXd covariance_of_rows(const Resolver& resolver, const std::map<int, MatrixXd>& by_block,
                            const std::map<std::string, MatrixXd>& by_loose, bool definition) {
  std::vector<BlockId> blocks;
  Eigen::Index columns = 0, rows = 0;
  for (const auto& [block, derivative] : by_block) {
    blocks.push_back(BlockId{block});
    columns += derivative.cols();
    rows = derivative.rows();
  }
  for (const auto& [key, derivative] : by_loose) rows = derivative.rows();
  MatrixXd all(rows, columns);
  Eigen::Index at = 0;
  for (const auto& [block, derivative] : by_block) {
    all.middleCols(at, derivative.cols()) = derivative;
    at += derivative.cols();
  }
  MatrixXd result = MatrixXd::Zero(rows, rows);
  if (!blocks.empty())
    result = all * resolver.survey().covariance().joint_inner(blocks) * all.transpose();
  if (definition) {
    for (const auto& [block, derivative] : by_block) {
      if (const auto own = resolver.definition_of(block))
        result += derivative * *own * derivative.transpose();
    }
    for (const auto& [key, derivative] : by_loose) {
      if (const LooseForm* loose = resolver.loose(key))
        result += derivative * loose->covariance * derivative.transpose();
    }
  }
  return 0.5 * (result + result.transpose());
}

Resolver::Resolver(const Survey& survey, const Dossier& dossier,
                   const std::vector<Eigen::VectorXd>* values)
    : survey_(survey), dossier_(dossier), values_(values), tested_dof_(least_dof(survey)) {}

Eigen::VectorXd Resolver::values_of(BlockId id) const {
  return values_ ? (*values_)[id.index] : survey_.network().block(id).values;
}

std::optional<MatrixXd> Resolver::definition_of(int block) const {
  const auto at = definitions_.find(block);
  return at == definitions_.end() ? std::nullopt : std::optional(at->second);
}
const LooseForm* Resolver::loose(const std::string& key) const {
  const auto at = loose_.find(key);
  return at == loose_.end() ? nullptr : &at->second;
}
const FittedForm* Resolver::fitted(const std::string& name) const {
  const auto at = fits_.find(name);
  return at == fits_.end() ? nullptr : &at->second;
}
const std::vector<MirroredPair>* Resolver::mirrored(const std::string& name) const {
  const auto at = mirrored_.find(name);
  return at == mirrored_.end() ? nullptr : &at->second;
}
std::optional<double> Resolver::gap_of(const std::string& name) const {
  const auto at = gaps_.find(name);
  return at == gaps_.end() ? std::nullopt : std::optional(at->second);
}

Found Resolver::find(const std::string& name) {
  if (const auto at = known_.find(name); at != known_.end()) return at->second;
  Found found = make(name);
  known_.emplace(name, found);
  return found;
}

/// Makes a shape of others.
struct Resolver::Maker {
  Resolver& self;
  const Shape& shape;
  Found operator()(const SeenEdge&) const { return self.seen(shape); }
  Found operator()(const SeenCircle&) const { return self.seen(shape); }
  Found operator()(const SeenCylinder&) const { return self.seen(shape); }
  Found operator()(const LineThrough& o) const {
    return self.fit(FormKind::kLine, shape.name, o.points);
  }
  Found operator()(const PlaneThrough& o) const {
    return self.fit(FormKind::kPlane, shape.name, o.points);
  }
  Found operator()(const CircleThrough& o) const {
    return self.fit(FormKind::kCircle, shape.name, o.points);
  }
  Found operator()(const SphereThrough& o) const {
    return self.fit(FormKind::kSphere, shape.name, o.points);
  }
  Found operator()(const CylinderThrough& o) const {
    return self.fit(FormKind::kCylinder, shape.name, o.points);
  }
  Found operator()(const ConeThrough& o) const {
    return self.fit(FormKind::kCone, shape.name, o.points);
  }
  Found operator()(const Crossing& o) const {
    return two(o.first, o.second, [&](const Form& a, const Form& b) { return crossing(a, b); });
  }
  Found operator()(const MidPlane& o) const {
    return two(o.first, o.second, [&](const Form& a, const Form& b) { return mid_plane(a, b); });
  }
  Found operator()(const ParallelPlane& o) const {
    if (!o.through.empty()) {
      return two(o.plane, o.through,
                 [&](const Form& a, const Form& b) { return parallel_plane(a, b); });
    }
    const Found plane = self.find(o.plane);
    if (!plane) return plane;
    // The offset is in millimetres; without a scale there are none.
    if (self.survey_.report().unit == LengthUnit::kFree) {
      return Unexpected("shape " + quoted(shape.name) +
                        " is offset by millimetres, and there is no scale bar");
    }
    return made(parallel_plane(plane->form, *o.offset_mm), {&*plane});
  }
  Found operator()(const MirrorPlane& o) const { return self.mirror(shape.name, o); }

  template <typename Make>
  Found two(const std::string& first, const std::string& second, Make make) const {
    const Found a = self.find(first);
    if (!a) return a;
    const Found b = self.find(second);
    if (!b) return b;
    return made(make(a->form, b->form), {&*a, &*b});
  }
  Found made(const ConstructResult& result, const std::vector<const Resolved*>& inputs) const {
    if (!result)
      return Unexpected("shape " + quoted(shape.name) +
                        " cannot be made: " + describe(result.error()));
    if (std::holds_alternative<Crossing>(shape.origin)) self.gaps_[shape.name] = result->gap;
    return chained(result->form, result->by_input, inputs);
  }
};

Found Resolver::make(const std::string& name) {
  const Shape* shape = dossier_.find_shape(name);
  if (!shape) return point(name);
  if (is_seen(shape->origin)) return seen(*shape);

  return std::visit(Maker{*this, *shape}, shape->origin);
}

Found Resolver::point(const std::string& name) {
  std::string why;
  const auto block = survey_.point(name, &why);
  if (!block) return Unexpected(why);
  Resolved result{point_form(values_of(*block)), {}, {}};
  MatrixXd derivative = MatrixXd::Zero(kFormSize, 3);
  derivative.topRows<3>().setIdentity();
  result.by_block.emplace(block->index, derivative);
  const Point* point = dossier_.find_point(name);
  if (const double u = point ? definition_u(dossier_, point->kind) : 0.0; u > 0)
    definitions_[block->index] = u * u * MatrixXd::Identity(3, 3);
  return result;
}

Found Resolver::seen(const Shape& shape) {
  std::string why;
  const auto found = survey_.shape(shape.name, &why);
  if (!found) return Unexpected(why);
  const auto g = calib::adjust::curve_geometry(found->kind, found->frame, values_of(found->block));
  Resolved result;
  switch (found->kind) {
    case CurveKind::kEdge:
      result.form.kind = FormKind::kLine;
      break;
    case CurveKind::kCircle:
      result.form.kind = FormKind::kCircle;
      break;
    case CurveKind::kCylinder:
      result.form.kind = FormKind::kCylinder;
      break;
  }
  result.form.position = g.place;
  result.form.direction = g.direction;
  result.form.radius = g.radius;
  result.form.from = found->from;
  result.form.to = found->to;
  MatrixXd derivative = MatrixXd::Zero(kFormSize, g.by_values.cols());
  derivative.topRows<7>() = g.by_values;
  result.by_block.emplace(found->block.index, derivative);
  if (const double u = definition_u(dossier_, shape.kind); u > 0)
    definitions_[found->block.index] = curve_definition(found->kind, u);
  return result;
}

Result<Resolver::Places, std::string> Resolver::places_of(const std::vector<std::string>& names) {
  Places places;
  std::map<int, MatrixXd> by_block;
  std::map<std::string, MatrixXd> by_loose;
  const auto rows = static_cast<Eigen::Index>(3 * names.size());
  for (std::size_t i = 0; i < names.size(); ++i) {
    const Found found = find(names[i]);
    if (!found) return Unexpected(found.error());
    places.at.push_back(found->form.position);
    const auto at = static_cast<Eigen::Index>(3 * i);
    for (const auto& [block, derivative] : found->by_block) {
      by_block.try_emplace(block, MatrixXd::Zero(rows, derivative.cols()))
          .first->second.middleRows<3>(at) += derivative.topRows<3>();
    }
    for (const auto& [key, derivative] : found->by_loose) {
      by_loose.try_emplace(key, MatrixXd::Zero(rows, kFormSize)).first->second.middleRows<3>(at) +=
          derivative.topRows<3>();
    }
    places.resolved.push_back(*found);
  }
  places.covariance = covariance_of_rows(*this, by_block, by_loose, true);
  return places;
}

Found Resolver::fit(FormKind kind, const std::string& key, const std::vector<std::string>& names) {
  const auto places = places_of(names);
  if (!places) return Unexpected(places.error());
  const auto fitted = fit_form(kind, {places->at, places->covariance, tested_dof_});
  if (!fitted) {
    const bool is_named = dossier_.find_shape(key) != nullptr;
    return Unexpected((is_named ? "shape " + quoted(key) + " " : std::string()) +
                      "cannot be measured: " + describe(fitted.error()));
  }
  return follow(*fitted, key, *places);
}

Resolved Resolver::follow(const FittedForm& fitted, const std::string& key, const Places& places) {
  Resolved result{fitted.form, {}, {}};
  for (std::size_t i = 0; i < places.at.size(); ++i) {
    FormMatrix by_place = FormMatrix::Zero();
    by_place.leftCols<3>() = fitted.by_points.middleCols<3>(static_cast<Eigen::Index>(3 * i));
    add_chain(result, by_place, places.resolved[i]);
  }
  if (!fitted.definition_covariance.isZero()) {
    loose_[key] = {fitted.definition_covariance};
    result.by_loose.emplace(key, FormMatrix::Identity());
  }
  fits_[key] = fitted;
  return result;
}

Found Resolver::mirror(const std::string& key, const MirrorPlane& origin) {
  const auto places = places_of(names_of(origin));
  if (!places) return Unexpected(places.error());
  std::vector<MirrorPair> mirror_pairs;
  for (std::size_t i = 0; i + 1 < places->at.size(); i += 2)
    mirror_pairs.push_back({places->at[i], places->at[i + 1]});
  const auto mirrored = fit_mirror({mirror_pairs, places->covariance, tested_dof_});
  if (!mirrored)
    return Unexpected("shape " + quoted(key) +
                      " cannot be measured: " + describe(mirrored.error()));
  Resolved result = follow(mirrored->plane, key, *places);
  std::vector<MirroredPair>& pairs = mirrored_[key];
  for (std::size_t p = 0; p < origin.pairs.size(); ++p) {
    MirroredPair pair{origin.pairs[p].first, origin.pairs[p].second, mirrored->pairs[p].vector, {}};
    for (std::size_t i = 0; i < places->at.size(); ++i) {
      const MatrixXd by_place =
          mirrored->pairs[p].by_points.middleCols<3>(static_cast<Eigen::Index>(3 * i));
      for (const auto& [block, derivative] : places->resolved[i].by_block) {
        const MatrixXd part = by_place * derivative.topRows<3>();
        const auto [at, is_new] = pair.by_block.try_emplace(block, part);
        if (!is_new) at->second += part;
      }
    }
    pairs.push_back(std::move(pair));
  }
  return result;
}

Found Resolver::line(const std::string& from, const std::string& to) {
  const Found a = find(from);
  if (!a) return a;
  const Found b = find(to);
  if (!b) return b;
  const Vector3d span = b->form.position - a->form.position;
  const double length = span.norm();
  if (!(length > 0))
    return Unexpected("cannot be measured: " + describe(ShapeError::kAxisWithoutLength));
  Form form;
  form.kind = FormKind::kLine;
  form.position = a->form.position;
  form.direction = span / length;
  form.to = length;
  const Eigen::Matrix3d across =
      (Eigen::Matrix3d::Identity() - form.direction * form.direction.transpose()) / length;
  FormMatrix by_a = FormMatrix::Zero(), by_b = FormMatrix::Zero();
  by_a.topLeftCorner<3, 3>().setIdentity();
  by_a.block<3, 3>(3, 0) = -across;
  by_b.block<3, 3>(3, 0) = across;
  return chained(form, {by_a, by_b}, {&*a, &*b});
}

Found Resolver::plane(const std::vector<std::string>& places) {
  if (places.size() == 1) return find(places.front());
  // Asked in passing, without a name: the list is its name. Names hold no control characters.
  std::string key;
  for (const std::string& name : places) key += name + '\n';
  if (const auto at = known_.find(key); at != known_.end()) return at->second;
  Found found = fit(FormKind::kPlane, key, places);
  known_.emplace(key, found);
  return found;
}

}  // namespace measure::internal
