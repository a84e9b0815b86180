#include "measure/dimension/measured.h"

#include <utility>
#include <vector>

namespace measure::internal {

using calib::Result;
using calib::Unexpected;
using calib::adjust::BlockId;
using Eigen::MatrixXd;

namespace {

using Asked = Result<Measured, std::string>;
using Found = Result<Resolved, std::string>;

/// From derivatives by the numbers of forms to derivatives by the survey's blocks.
Measured on_blocks(const Resolver& resolver, const Measurand& measurand,
                   const std::vector<Resolved>& inputs) {
  Measured measured;
  measured.value = measurand.value;
  measured.note = measurand.note;
  measured.departure = measurand.departure;
  std::map<int, MatrixXd> by_block;
  std::map<std::string, MatrixXd> by_loose;
  const auto add = [](auto& map, const auto& key, const MatrixXd& part) {
    const auto [at, is_new] = map.try_emplace(key, part);
    if (!is_new) at->second += part;
  };
  for (std::size_t i = 0; i < inputs.size(); ++i) {
    const auto first = static_cast<Eigen::Index>(i) * kFormSize;
    const MatrixXd own = measurand.gradient.segment(first, kFormSize);
    for (const auto& [block, derivative] : inputs[i].by_block)
      add(by_block, block, own * derivative);
    for (const auto& [key, derivative] : inputs[i].by_loose) add(by_loose, key, own * derivative);
    if (!measurand.departure) continue;
    const MatrixXd departing = measurand.departure->by_inputs.middleCols(first, kFormSize);
    for (const auto& [block, derivative] : inputs[i].by_block)
      add(measured.departure_by_block, block, departing * derivative);
    for (const auto& [key, derivative] : inputs[i].by_loose)
      add(measured.departure_by_loose, key, departing * derivative);
  }
  for (const auto& [block, row] : by_block) {
    measured.gradient.blocks.push_back(BlockId{block});
    measured.gradient.by_block.emplace_back(row.transpose());
    if (const auto definition = resolver.definition_of(block))
      measured.definition_variance += (row * *definition * row.transpose())(0, 0);
  }
  for (const auto& [key, row] : by_loose) {
    if (const LooseForm* loose = resolver.loose(key))
      measured.definition_variance += (row * loose->covariance * row.transpose())(0, 0);
  }
  return measured;
}

struct Measure {
  Resolver& resolver;

  /// Looks all up, in the order in which the function takes them.
  template <typename Function>
  Asked of(std::vector<Found> found, Function function) const {
    std::vector<Resolved> inputs;
    std::vector<Form> forms;
    for (Found& one : found) {
      if (!one) return Unexpected(one.error());
      forms.push_back(one->form);
      inputs.push_back(std::move(*one));
    }
    const MeasurandResult result = function(forms);
    if (!result) return Unexpected("cannot be measured: " + describe(result.error()));
    return on_blocks(resolver, *result, inputs);
  }
  [[nodiscard]] std::vector<Found> all(const std::vector<std::string>& names) const {
    std::vector<Found> found;
    for (const std::string& name : names) found.push_back(resolver.find(name));
    return found;
  }
  [[nodiscard]] Found line(const std::string& from, const std::string& to) const {
    return to.empty() ? resolver.find(from) : resolver.line(from, to);
  }

  Asked operator()(const Distance& d) const {
    return of(all({d.from, d.to}), [](const auto& f) { return distance(f[0], f[1]); });
  }
  Asked operator()(const DistanceAlong& d) const {
    auto found = all({d.from, d.to});
    found.push_back(line(d.axis_from, d.axis_to));
    return of(std::move(found), [](const auto& f) { return along(f[0], f[1], f[2]); });
  }
  Asked operator()(const Angle& d) const {
    return of(all({d.first, d.vertex, d.second}),
              [](const auto& f) { return angle_at(f[0], f[1], f[2]); });
  }
  Asked operator()(const AngleBetween& d) const {
    return of(all({d.first, d.second}), [](const auto& f) { return angle_between(f[0], f[1]); });
  }
  Asked operator()(const OffsetFromLine& d) const {
    auto found = all({d.point});
    found.push_back(line(d.line_from, d.line_to));
    return of(std::move(found), [](const auto& f) { return distance(f[0], f[1]); });
  }
  Asked operator()(const OffsetFromPlane& d) const {
    auto found = all({d.point});
    found.push_back(resolver.plane(d.plane));
    return of(std::move(found), [](const auto& f) { return offset_plane(f[0], f[1]); });
  }
  Asked operator()(const Gap& d) const {
    return of(all({d.first, d.second}), [](const auto& f) { return gap(f[0], f[1]); });
  }
  Asked operator()(const Radius& d) const {
    return of(all({d.shape}), [](const auto& f) { return radius(f[0]); });
  }
  Asked operator()(const Diameter& d) const {
    return of(all({d.shape}), [](const auto& f) { return diameter(f[0]); });
  }
  Asked operator()(const ConeAngle& d) const {
    return of(all({d.shape}), [](const auto& f) { return cone_angle(f[0]); });
  }
  Asked operator()(const ChainLength& d) const {
    return of(all(d.points), [](const auto& f) { return chain_length(f); });
  }
  Asked operator()(const ArcLength& d) const {
    auto found = all({d.circle, d.from, d.to});
    if (!d.via.empty()) found.push_back(resolver.find(d.via));
    return of(std::move(found), [](const auto& f) {
      return arc_length(f[0], f[1], f[2], f.size() > 3 ? &f[3] : nullptr);
    });
  }
  Asked operator()(const RowPitch& d) const {
    return of(all(d.points), [](const auto& f) { return row_pitch(f); });
  }
  Asked operator()(const RowDeparture& d) const {
    auto measured = of(all(d.points), [](const auto& f) { return row_departure(f); });
    return measured;
  }
  Asked operator()(const OutlineArea& d) const {
    return of(all(d.points), [](const auto& f) { return outline_area(f); });
  }
  Asked operator()(const Coordinate& d) const {
    const auto& axes = resolver.dossier().axes;
    if (!axes) return Unexpected(std::string("cannot be measured: the model axes are not set"));
    const AxisName which = d.axis == "x"   ? AxisName::kX
                           : d.axis == "y" ? AxisName::kY
                                           : AxisName::kZ;
    return of(all({d.item, axes->plane, axes->line, axes->origin}), [&](const auto& f) {
      return ordinate(f[0], AxesForms{f[1], f[2], f[3]}, which);
    });
  }
  Asked operator()(const MirrorDeparture& d) const {
    return of(all({d.first, d.second, d.mirror}),
              [](const auto& f) { return mirror_departure(f[0], f[1], f[2]); });
  }
};

}  // namespace

Asked measure_kind(Resolver& resolver, const DimensionKind& kind) {
  return std::visit(Measure{resolver}, kind);
}

}  // namespace measure::internal
