#include "measure/edit/dimension_rules.h"

#include <cmath>
#include <set>
#include <utility>
#include <vector>

#include "measure/edit/name_rules.h"

namespace measure {
namespace {

using Sentence = std::optional<std::string>;
using Forms = std::set<FormKind>;

const Forms kDirected = {FormKind::kLine, FormKind::kPlane, FormKind::kCircle, FormKind::kCylinder,
                         FormKind::kCone};
const Forms kLines = {FormKind::kLine, FormKind::kCylinder, FormKind::kCone};
const Forms kPlanes = {FormKind::kPlane, FormKind::kCircle};
const Forms kRound = {FormKind::kCircle, FormKind::kSphere, FormKind::kCylinder};
/// What has one place: a point, a centre, an apex.
const Forms kPlaces = {FormKind::kPoint, FormKind::kCircle, FormKind::kSphere, FormKind::kCone};

/// Names that a dimension needs to be something else than just any point or shape.
struct Need {
  std::string name;
  Forms forms;
  const char* what;  ///< "a plane", to follow "needs"
};

struct Needs {
  using List = std::vector<Need>;

  static void places(List& needs, const std::vector<std::string>& names) {
    for (const std::string& name : names) {
      needs.push_back({name, kPlaces, "a point, or the centre of a circle or sphere"});
    }
  }

  List operator()(const Distance&) const { return {}; }
  List operator()(const DistanceAlong& d) const {
    List needs;
    places(needs, {d.from, d.to});
    if (d.axis_to.empty()) {
      needs.push_back(
          {d.axis_from, kDirected, "a line, an axis or a plane's normal, or two points"});
    } else {
      places(needs, {d.axis_from, d.axis_to});
    }
    return needs;
  }
  List operator()(const Angle& d) const {
    List needs;
    places(needs, {d.first, d.vertex, d.second});
    return needs;
  }
  List operator()(const AngleBetween& d) const {
    constexpr const char* kWhat = "a line, plane, circle, cylinder or cone";
    return {{d.first, kDirected, kWhat}, {d.second, kDirected, kWhat}};
  }
  List operator()(const OffsetFromLine& d) const {
    List needs;
    places(needs, {d.point});
    if (d.line_to.empty()) {
      needs.push_back({d.line_from, kLines, "a line or an axis, or two points"});
    } else {
      places(needs, {d.line_from, d.line_to});
    }
    return needs;
  }
  List operator()(const OffsetFromPlane& d) const {
    List needs;
    places(needs, {d.point});
    if (d.plane.size() == 1) {
      needs.push_back({d.plane.front(), kPlanes, "a plane or a circle, or three points or more"});
    } else {
      places(needs, d.plane);
    }
    return needs;
  }
  List operator()(const Gap& d) const {
    constexpr const char* kWhat = "a plane, circle, line or cylinder";
    const Forms forms = {FormKind::kPlane, FormKind::kCircle, FormKind::kLine, FormKind::kCylinder};
    return {{d.first, forms, kWhat}, {d.second, forms, kWhat}};
  }
  List operator()(const Radius& d) const {
    return {{d.shape, kRound, "a circle, sphere or cylinder"}};
  }
  List operator()(const Diameter& d) const {
    return {{d.shape, kRound, "a circle, sphere or cylinder"}};
  }
  List operator()(const ConeAngle& d) const { return {{d.shape, {FormKind::kCone}, "a cone"}}; }
  List operator()(const ChainLength& d) const {
    List needs;
    places(needs, d.points);
    return needs;
  }
  List operator()(const ArcLength& d) const {
    List needs{{d.circle, {FormKind::kCircle}, "a circle"}};
    places(needs, {d.from, d.to});
    if (!d.via.empty()) {
      places(needs, {d.via});
    }
    return needs;
  }
  List operator()(const RowPitch& d) const {
    List needs;
    places(needs, d.points);
    return needs;
  }
  List operator()(const RowDeparture& d) const {
    List needs;
    places(needs, d.points);
    return needs;
  }
  List operator()(const OutlineArea& d) const {
    List needs;
    places(needs, d.points);
    return needs;
  }
  List operator()(const Coordinate& d) const {
    List needs;
    places(needs, {d.item});
    return needs;
  }
  List operator()(const MirrorDeparture& d) const {
    List needs{{d.mirror, kPlanes, "a plane"}};
    places(needs, {d.first, d.second});
    return needs;
  }
};

/// Pairs of names that may not be the same, as a dimension of this kind needs them.
struct MustDiffer {
  using Pairs = std::vector<std::pair<std::string, std::string>>;

  static Pairs all(const std::vector<std::string>& names) {
    Pairs pairs;
    for (std::size_t i = 0; i < names.size(); ++i) {
      for (std::size_t j = i + 1; j < names.size(); ++j) {
        pairs.emplace_back(names[i], names[j]);
      }
    }
    return pairs;
  }

  Pairs operator()(const Distance& d) const { return {{d.from, d.to}}; }
  Pairs operator()(const DistanceAlong& d) const {
    return {{d.from, d.to}, {d.axis_from, d.axis_to}};
  }
  Pairs operator()(const Angle& d) const {
    return {{d.first, d.vertex}, {d.second, d.vertex}, {d.first, d.second}};
  }
  Pairs operator()(const AngleBetween& d) const { return {{d.first, d.second}}; }
  Pairs operator()(const OffsetFromLine& d) const {
    return {{d.line_from, d.line_to}, {d.point, d.line_from}, {d.point, d.line_to}};
  }
  Pairs operator()(const OffsetFromPlane& d) const { return all(d.plane); }
  Pairs operator()(const Gap& d) const { return {{d.first, d.second}}; }
  Pairs operator()(const Radius&) const { return {}; }
  Pairs operator()(const Diameter&) const { return {}; }
  Pairs operator()(const ConeAngle&) const { return {}; }
  Pairs operator()(const ChainLength& d) const {
    Pairs pairs;  // it may come back to where it was, but not stay where it is
    for (std::size_t i = 0; i + 1 < d.points.size(); ++i) {
      pairs.emplace_back(d.points[i], d.points[i + 1]);
    }
    return pairs;
  }
  Pairs operator()(const ArcLength& d) const {
    return {{d.from, d.to}, {d.via, d.from}, {d.via, d.to}};
  }
  Pairs operator()(const RowPitch& d) const { return all(d.points); }
  Pairs operator()(const RowDeparture& d) const { return all(d.points); }
  Pairs operator()(const OutlineArea& d) const { return all(d.points); }
  Pairs operator()(const Coordinate&) const { return {}; }
  Pairs operator()(const MirrorDeparture& d) const { return {{d.first, d.second}}; }
};

/// Too few of what a list must hold, as a sentence's end.
struct TooFew {
  Sentence operator()(const OffsetFromPlane& d) const {
    return d.plane.empty() || d.plane.size() == 2
               ? Sentence("needs three or more points for its plane.")
               : std::nullopt;
  }
  Sentence operator()(const ChainLength& d) const {
    return d.points.size() < 2 ? Sentence("needs two or more points in a chain.") : std::nullopt;
  }
  Sentence operator()(const RowPitch& d) const { return row(d.points); }
  Sentence operator()(const RowDeparture& d) const { return row(d.points); }
  Sentence operator()(const OutlineArea& d) const {
    return d.points.size() < 3 ? Sentence("needs three or more points for its outline.")
                               : std::nullopt;
  }
  Sentence operator()(const Coordinate& d) const {
    return d.axis == "x" || d.axis == "y" || d.axis == "z"
               ? std::nullopt
               : Sentence("needs x, y or z as its axis, not " + in_quotes(d.axis) + ".");
  }
  Sentence operator()(const auto&) const { return std::nullopt; }

  static Sentence row(const std::vector<std::string>& points) {
    return points.size() < 3 ? Sentence("needs three or more points in a row.") : std::nullopt;
  }
};

}  // namespace

std::string missing_item(const Dossier& dossier, const std::string& name) {
  if (dossier.shapes.empty()) {
    return "There is no point " + in_quotes(name) +
           " in the dossier: mark it first, or check the name (\"scantling mark list\").";
  }
  return "There is no point or shape " + in_quotes(name) +
         " in the dossier: mark it first, or check the name (\"scantling mark list\", \"scantling "
         "shape list\").";
}

Sentence tolerance_problem(const std::optional<double>& tolerance_mm, const DimensionKind& kind,
                           const std::string& subject) {
  if (!tolerance_mm) {
    return std::nullopt;
  }
  if (length_exponent(kind) != 1) {
    return subject + " is " + (length_exponent(kind) == 0 ? "an angle" : "an area") +
           ": a tolerance in millimetres does not suit it.";
  }
  if (!std::isfinite(*tolerance_mm) || !(*tolerance_mm > 0.0) ||
      *tolerance_mm > kLargestLength_mm) {
    return subject + " needs a tolerance above 0 and at most 1 km.";
  }
  return std::nullopt;
}

Sentence dimension_problem(const AskedDimension& dimension, const Dossier& dossier) {
  if (auto problem = name_problem(dimension.name, "dimension")) {
    return problem;
  }
  const std::string subject = "Dimension " + in_quotes(dimension.name);
  if (const auto few = std::visit(TooFew{}, dimension.kind)) {
    return subject + " " + *few;
  }
  for (const std::string& name : names_of(dimension.kind)) {
    if (!form_of(dossier, name)) {
      return subject + ": " + missing_item(dossier, name);
    }
  }
  for (const auto& [a, b] : std::visit(MustDiffer{}, dimension.kind)) {
    if (a == b) {
      return subject + " names " + (dossier.find_shape(a) ? "shape " : "point ") + in_quotes(a) +
             " twice where two different ones are needed.";
    }
  }
  for (const Need& need : std::visit(Needs{}, dimension.kind)) {
    const FormKind form = *form_of(dossier, need.name);
    if (!need.forms.contains(form)) {
      return subject + " needs " + need.what + ", and " + in_quotes(need.name) + " is a " +
             form_word(form) + ".";
    }
  }
  if (std::holds_alternative<Coordinate>(dimension.kind) && !dossier.axes) {
    return subject +
           " needs the model axes: say which plane, line and point they are with \"scantling axes "
           "set\".";
  }
  return tolerance_problem(dimension.tolerance_mm, dimension.kind, subject);
}

}  // namespace measure
