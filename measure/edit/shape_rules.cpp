#include "measure/edit/shape_rules.h"

#include <algorithm>
#include <cmath>
#include <set>
#include <tuple>

#include "measure/edit/apply.h"
#include "measure/edit/dimension_rules.h"
#include "measure/edit/name_rules.h"

namespace measure {
namespace {

using Sentence = std::optional<std::string>;
using Forms = std::set<FormKind>;

const Forms kPlaces = {FormKind::kPoint, FormKind::kCircle, FormKind::kSphere, FormKind::kCone};
const Forms kPlanes = {FormKind::kPlane, FormKind::kCircle};
const Forms kLinesAndPlanes = {FormKind::kLine, FormKind::kCylinder, FormKind::kPlane,
                               FormKind::kCircle};

struct OriginRules {
  const Dossier& dossier;

  Sentence of_form(const std::string& name, const Forms& forms, const char* what) const {
    const auto form = form_of(dossier, name);
    if (!form) {
      return ": " + missing_item(dossier, name);
    }
    if (forms.contains(*form)) {
      return std::nullopt;
    }
    return std::string(" needs ") + what + ", and " + in_quotes(name) + " is a " +
           form_word(*form) + ".";
  }

  Sentence points(const std::vector<std::string>& names, std::size_t least,
                  const char* counted) const {
    const std::set<std::string> different(names.begin(), names.end());
    if (different.size() != names.size()) {
      return std::string(" names a point twice: name each one once.");
    }
    if (names.size() < least) {
      return std::string(" needs ") + counted + " points or more, and " +
             std::to_string(names.size()) + " are named.";
    }
    for (const std::string& name : names) {
      if (auto problem = of_form(name, kPlaces, "points, or centres of circles and spheres")) {
        return problem;
      }
    }
    return std::nullopt;
  }

  Sentence two(const std::string& first, const std::string& second, const Forms& forms,
               const char* what) const {
    if (first == second) {
      return " names " + in_quotes(first) + " twice where two different ones are needed.";
    }
    for (const std::string* name : {&first, &second}) {
      if (auto problem = of_form(*name, forms, what)) {
        return problem;
      }
    }
    return std::nullopt;
  }

  Sentence operator()(const SeenEdge&) const { return std::nullopt; }
  Sentence operator()(const SeenCircle&) const { return std::nullopt; }
  Sentence operator()(const SeenCylinder&) const { return std::nullopt; }
  Sentence operator()(const LineThrough& o) const { return points(o.points, 2, "two"); }
  Sentence operator()(const PlaneThrough& o) const { return points(o.points, 3, "three"); }
  Sentence operator()(const CircleThrough& o) const { return points(o.points, 3, "three"); }
  Sentence operator()(const SphereThrough& o) const { return points(o.points, 4, "four"); }
  Sentence operator()(const CylinderThrough& o) const { return points(o.points, 5, "five"); }
  Sentence operator()(const ConeThrough& o) const { return points(o.points, 6, "six"); }
  Sentence operator()(const Crossing& o) const {
    return two(o.first, o.second, kLinesAndPlanes, "two lines or planes that cross");
  }
  Sentence operator()(const MidPlane& o) const {
    return two(o.first, o.second, kPlanes, "two planes");
  }
  Sentence operator()(const ParallelPlane& o) const {
    if (auto problem = of_form(o.plane, kPlanes, "a plane")) {
      return problem;
    }
    if (o.through.empty() == !o.offset_mm) {
      return std::string(" needs either a point that it goes through or an offset.");
    }
    if (o.offset_mm) {
      return std::isfinite(*o.offset_mm) && std::abs(*o.offset_mm) <= kLargestLength_mm
                 ? std::nullopt
                 : Sentence(" needs an offset of at most 1 km.");
    }
    return of_form(o.through, kPlaces, "a point");
  }
  Sentence operator()(const MirrorPlane& o) const {
    std::vector<std::string> names = names_of(o);
    if (o.pairs.size() < 2) {
      return std::string(" needs two or more pairs of points.");
    }
    return points(names, 4, "four");
  }
};

/// Changes the names that are `from`.
struct Renamer {
  const std::string& from;
  const std::string& to;

  void one(std::string& name) const {
    if (name == from) {
      name = to;
    }
  }
  void name(std::string_view, std::string& name, Field) const { one(name); }
  void names(std::string_view, std::vector<std::string>& names) const {
    for (std::string& name : names) {
      one(name);
    }
  }
  void word(std::string_view, std::string&) const {}
  void number(std::string_view, std::optional<double>&) const {}
  void pairs(std::string_view, std::vector<std::pair<std::string, std::string>>& pairs) const {
    for (auto& [first, second] : pairs) {
      one(first);
      one(second);
    }
  }
};

bool holds(const std::vector<std::string>& names, const std::string& name) {
  return std::find(names.begin(), names.end(), name) != names.end();
}

}  // namespace

Sentence shape_problem(const Shape& shape, const Dossier& dossier) {
  if (auto problem = name_problem(shape.name, "shape")) {
    return problem;
  }
  const std::string subject = "Shape " + in_quotes(shape.name);
  if (!shape.kind.empty() && !is_seen(shape.origin)) {
    return subject + " is made of others and has no kind of its own: give them theirs.";
  }
  if (const auto problem = std::visit(OriginRules{dossier}, shape.origin)) {
    return subject + *problem;
  }
  return std::nullopt;
}

Sentence shape_marks_problem(const std::vector<ShapeMark>& marks, const Dossier& dossier) {
  using Place = std::tuple<std::string, std::string, double, double>;
  std::set<Place> seen;
  for (const ShapeMark& mark : marks) {
    const Photo* photo = dossier.find_photo(mark.photo);
    const std::string subject =
        "The mark on shape " + in_quotes(mark.shape) + " in photo " + in_quotes(mark.photo);
    if (photo == nullptr) {
      return "There is no photo " + in_quotes(mark.photo) +
             " in the dossier: add it, or check the name (\"scantling photo list\").";
    }
    const Shape* shape = dossier.find_shape(mark.shape);
    if (shape == nullptr) {
      return "There is no shape " + in_quotes(mark.shape) +
             " in the dossier: add it, or check the name (\"scantling shape list\").";
    }
    if (!is_seen(shape->origin)) {
      return "Shape " + in_quotes(mark.shape) +
             " is made of others and takes no marks of its own: mark those, or add an edge, circle "
             "or cylinder that is seen.";
    }
    if (!mark.position_px.allFinite()) {
      return subject + " is not at a finite position.";
    }
    if (!lies_in_photo(mark.position_px, photo->size)) {
      return subject + " lies outside the photo of " + std::to_string(photo->size.width) + " x " +
             std::to_string(photo->size.height) + " pixels: check x and y.";
    }
    if (!std::isfinite(mark.sigma_px) || !(mark.sigma_px > 0.0)) {
      return subject + " needs a sigma above 0 pixels.";
    }
    const bool two_sided = std::holds_alternative<SeenCylinder>(shape->origin);
    if (two_sided && mark.side != 1 && mark.side != 2) {
      return subject + " needs its side: 1 or 2, for one and the other side of the outline.";
    }
    if (!two_sided && mark.side != 0) {
      return subject + " names a side, and only the outline of a cylinder has two.";
    }
    if (!seen.insert({mark.photo, mark.shape, mark.position_px.x(), mark.position_px.y()}).second) {
      return "Shape " + in_quotes(mark.shape) + " is marked twice at one place in photo " +
             in_quotes(mark.photo) + ": keep one mark, and set the others along it.";
    }
  }
  return std::nullopt;
}

Sentence axes_problem(const AxesNames& axes, const Dossier& dossier) {
  const OriginRules rules{dossier};
  const std::string subject = "The model axes:";
  const auto say = [&](const Sentence& problem) {
    return subject + (problem->starts_with(": ") ? problem->substr(1) : " they" + [&] {
             std::string text = *problem;
             return text.replace(0, 6, " need");
           }());
  };
  if (const auto problem = rules.of_form(axes.plane, kPlanes, "a plane")) {
    return say(problem);
  }
  if (const auto problem = rules.of_form(
          axes.line, {FormKind::kLine, FormKind::kCylinder, FormKind::kCone}, "a line or axis")) {
    return say(problem);
  }
  if (const auto problem = rules.of_form(axes.origin, kPlaces, "a point as their origin")) {
    return say(problem);
  }
  return std::nullopt;
}

std::optional<std::string> first_need_of(const std::string& name, const Dossier& dossier) {
  for (const ScaleBar& bar : dossier.bars) {
    if (bar.from == name || bar.to == name) {
      return "scale bar " + in_quotes(bar.name) + ": remove the bar first.";
    }
  }
  for (const AskedDimension& dimension : dossier.dimensions) {
    if (holds(names_of(dimension.kind), name)) {
      return "dimension " + in_quotes(dimension.name) + ": remove the dimension first.";
    }
  }
  for (const Shape& shape : dossier.shapes) {
    if (holds(names_of(shape.origin), name)) {
      return "shape " + in_quotes(shape.name) + ": remove the shape first.";
    }
  }
  if (dossier.axes &&
      (dossier.axes->plane == name || dossier.axes->line == name || dossier.axes->origin == name)) {
    return std::string("the model axes: take them back first.");
  }
  return std::nullopt;
}

void rename_item(const std::string& from, const std::string& to, Dossier& dossier) {
  const Renamer rename{from, to};
  for (ScaleBar& bar : dossier.bars) {
    rename.one(bar.from);
    rename.one(bar.to);
  }
  for (AskedDimension& dimension : dossier.dimensions) {
    std::visit([&](auto& kind) { kind.names(kind, rename); }, dimension.kind);
  }
  for (Shape& shape : dossier.shapes) {
    std::visit([&](auto& origin) { origin.names(origin, rename); }, shape.origin);
  }
  if (dossier.axes) {
    rename.one(dossier.axes->plane);
    rename.one(dossier.axes->line);
    rename.one(dossier.axes->origin);
  }
}

}  // namespace measure
