#include "measure/sheet/survey_drawing.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>

#include <Eigen/Eigenvalues>
#include <Eigen/Geometry>

#include "measure/dimension/form_result.h"

namespace measure {
namespace {

using calib::Problem;
using calib::Unexpected;
using Eigen::Matrix3d;
using Eigen::MatrixXd;
using Eigen::Vector3d;

/// From the survey's own axes to the user's: place → turn · place − shift.
struct OwnAxes {
  Matrix3d turn = Matrix3d::Identity();
  Vector3d shift = Vector3d::Zero();
  [[nodiscard]] Vector3d place(const Vector3d& at) const { return turn * at - shift; }
};

std::optional<Form> form_named(const std::string& name, const Survey& survey,
                               const std::vector<FormResult>& forms) {
  for (const FormResult& form : forms) {
    if (form.name == name) return form.problem.empty() ? std::optional(form.form) : std::nullopt;
  }
  for (const PointReport& point : survey.report().points) {
    if (point.name == name)
      return point.placed ? std::optional(point_form(point.position)) : std::nullopt;
  }
  return std::nullopt;
}

OwnAxes axes_of(const Survey& survey, const Dossier& dossier,
                const std::vector<FormResult>& forms) {
  OwnAxes axes;
  if (!dossier.axes) return axes;
  const auto plane = form_named(dossier.axes->plane, survey, forms),
             line = form_named(dossier.axes->line, survey, forms),
             origin = form_named(dossier.axes->origin, survey, forms);
  if (!plane || !line || !origin) return axes;
  const Vector3d z = plane->direction;
  const Vector3d along = line->direction - z * z.dot(line->direction);
  if (!(along.norm() > 1e-6)) return axes;
  const Vector3d x = along.normalized(), y = z.cross(x);
  axes.turn << x.transpose(), y.transpose(), z.transpose();
  axes.shift = {x.dot(origin->position), y.dot(line->position), z.dot(plane->position)};
  return axes;
}

bool wanted(std::span<const std::string> only, const std::string& name) {
  return only.empty() || std::find(only.begin(), only.end(), name) != only.end();
}

/// Turns each three of the rows and columns.
MatrixXd turned(const Matrix3d& turn, const MatrixXd& covariance, int vectors) {
  MatrixXd all = MatrixXd::Identity(covariance.rows(), covariance.cols());
  for (int v = 0; v < vectors; ++v) all.block<3, 3>(3 * v, 3 * v) = turn;
  return all * covariance * all.transpose();
}

/// Joint covariance of both ends of what was marked of a line or axis, and of the radius.
Eigen::Matrix<double, 7, 7> ends_covariance(const FormResult& form) {
  Eigen::Matrix<double, 7, kFormSize> by_form = Eigen::Matrix<double, 7, kFormSize>::Zero();
  by_form.block<3, 3>(0, 0).setIdentity();
  by_form.block<3, 3>(3, 0).setIdentity();
  by_form.block<3, 3>(0, 3) = form.form.from * Matrix3d::Identity();
  by_form.block<3, 3>(3, 3) = form.form.to * Matrix3d::Identity();
  by_form(6, 6) = 1;
  return by_form * form.covariance * by_form.transpose();
}

void add_form(const FormResult& result, const OwnAxes& axes, ShapeList& list) {
  const Form& form = result.form;
  const Vector3d from = axes.place(form.position + form.from * form.direction),
                 to = axes.place(form.position + form.to * form.direction);
  switch (form.kind) {
    case FormKind::kPoint:
      list.points.push_back(
          {result.name, axes.place(form.position),
           axes.turn * result.covariance.topLeftCorner<3, 3>() * axes.turn.transpose()});
      break;
    case FormKind::kLine:
      if ((to - from).norm() > 0) {
        list.edges.push_back({result.name, from, to,
                              turned(axes.turn, ends_covariance(result).topLeftCorner<6, 6>(), 2)});
      }
      break;
    case FormKind::kCircle:
      list.circles.push_back({result.name, axes.place(form.position), axes.turn * form.direction,
                              form.radius,
                              turned(axes.turn, result.covariance.topLeftCorner<7, 7>(), 2)});
      break;
    case FormKind::kCylinder:
      if ((to - from).norm() > 0) {
        list.cylinders.push_back(
            {result.name, from, to, form.radius, turned(axes.turn, ends_covariance(result), 2)});
      }
      break;
    // A plane has no outline of its own, and a sphere or cone none that is known to be on the part.
    case FormKind::kPlane:
    case FormKind::kSphere:
    case FormKind::kCone:
      break;
  }
}

/// Where the places of dimensions lie, in the user's axes.
class Places {
 public:
  Places(const Survey& survey, const OwnAxes& axes, const std::vector<FormResult>& forms)
      : survey_(survey), axes_(axes), forms_(forms) {}
  [[nodiscard]] std::optional<Form> of(const std::string& name) const {
    auto form = form_named(name, survey_, forms_);
    if (!form) return std::nullopt;
    form->position = axes_.place(form->position);
    form->direction = axes_.turn * form->direction;
    return form;
  }

 private:
  const Survey& survey_;
  const OwnAxes& axes_;
  const std::vector<FormResult>& forms_;
};

constexpr double kFacing = 0.9994;  // cosine of 2°

/// How a dimension is drawn in a view, where it is seen there at its true size.
struct InView {
  const DrawingPlane& plane;
  const Places& places;
  double true_size, U;  ///< of the dimension, at the size on paper (mm) or radians

  using Drawn = std::optional<TemplateDimension>;

  [[nodiscard]] Drawn between(const std::string& first, const std::string& second) const {
    const auto a = places.of(first), b = places.of(second);
    if (!a || !b || !is_place(a->kind) || !is_place(b->kind)) return std::nullopt;
    TemplateDimension drawn;
    drawn.from_mm = project(plane, a->position);
    drawn.to_mm = project(plane, b->position);
    const double seen = (drawn.to_mm - drawn.from_mm).norm();
    if (std::abs(seen - true_size) > std::max(U, 1e-6) || !(seen > 0)) return std::nullopt;
    return drawn;
  }
  [[nodiscard]] Drawn rim(const std::string& shape) const {
    const auto form = places.of(shape);
    if (!form || form->kind == FormKind::kSphere) return std::nullopt;
    if (std::abs(form->direction.dot(plane.normal())) < kFacing) return std::nullopt;
    TemplateDimension drawn;
    drawn.kind = TemplateDimension::Kind::kRim;
    drawn.from_mm = project(plane, middle(*form));
    drawn.to_mm = drawn.from_mm +
                  plane.factor * form->radius * Eigen::Vector2d(std::sqrt(0.5), std::sqrt(0.5));
    return drawn;
  }

  Drawn operator()(const Distance& d) const { return between(d.from, d.to); }
  Drawn operator()(const Radius& d) const { return rim(d.shape); }
  Drawn operator()(const Diameter& d) const { return rim(d.shape); }
  Drawn operator()(const Angle& d) const {
    const auto a = places.of(d.first), v = places.of(d.vertex), b = places.of(d.second);
    if (!a || !v || !b) return std::nullopt;
    const Vector3d across = (a->position - v->position).cross(b->position - v->position);
    if (!(across.norm() > 0) || std::abs(across.normalized().dot(plane.normal())) < kFacing)
      return std::nullopt;
    TemplateDimension drawn;
    drawn.kind = TemplateDimension::Kind::kAngle;
    drawn.vertex_mm = project(plane, v->position);
    drawn.from_mm = project(plane, a->position);
    drawn.to_mm = project(plane, b->position);
    return drawn;
  }
  Drawn operator()(const auto&) const { return std::nullopt; }
};

}  // namespace

ShapeList shape_list(const Survey& survey, const Dossier& dossier,
                     std::span<const std::string> only, bool joint_covariance) {
  const auto forms = evaluate_forms(survey, dossier);
  const OwnAxes axes = axes_of(survey, dossier, forms);
  ShapeList list;
  list.title = dossier.name;
  list.unit = survey.report().unit == LengthUnit::kMillimetre ? "mm" : "free";
  std::vector<calib::adjust::BlockId> blocks;
  for (const PointReport& point : survey.report().points) {
    if (!point.placed || !wanted(only, point.name)) continue;
    list.points.push_back({point.name, axes.place(point.position),
                           axes.turn * point.covariance * axes.turn.transpose()});
    blocks.push_back(*survey.point(point.name));
  }
  if (joint_covariance && !blocks.empty()) {
    list.points_covariance =
        turned(axes.turn, survey.covariance().joint_inner(blocks), static_cast<int>(blocks.size()));
  }
  for (const FormResult& form : forms) {
    if (!form.problem.empty() || !wanted(only, form.name)) continue;
    // A crossing is no point of the network: the joint covariance is of those alone.
    if (joint_covariance && form.form.kind == FormKind::kPoint) continue;
    add_form(form, axes, list);
  }
  return list;
}

calib::Result<std::vector<View>, Problem> views_of(const Survey& survey, const Dossier& dossier,
                                                   const std::string& on, double factor) {
  const auto forms = evaluate_forms(survey, dossier);
  const OwnAxes axes = axes_of(survey, dossier, forms);
  const auto view = [&](const std::string& name, const Vector3d& origin, const Vector3d& towards,
                        const Vector3d& up) -> calib::Result<View, Problem> {
    const auto plane = drawing_plane(origin, towards, up, factor);
    if (!plane) return Unexpected(plane.error());
    return View{name, *plane};
  };
  std::vector<View> views;
  const auto add = [&](const calib::Result<View, Problem>& made) -> std::optional<Problem> {
    if (!made) return made.error();
    views.push_back(*made);
    return std::nullopt;
  };
  if (!on.empty()) {
    const auto form = form_named(on, survey, forms);
    if (!form || !is_flat(form->kind)) {
      return Unexpected(
          Problem{"\"" + on +
                  "\" is no plane or circle that has a place in this survey: name one "
                  "of \"scantling shapes\""});
    }
    const Vector3d towards = axes.turn * form->direction;
    // Upwards on paper is upwards in space, or along x where the plane lies level.
    const Vector3d up = std::abs(towards.z()) > 0.9 ? Vector3d::UnitX() : Vector3d::UnitZ();
    if (auto problem = add(view("onto " + on, axes.place(form->position), towards, up)))
      return Unexpected(*problem);
    return views;
  }
  if (dossier.axes) {
    const std::tuple<const char*, Vector3d, Vector3d> from[] = {
        {"from above", Vector3d::UnitZ(), Vector3d::UnitY()},
        {"from the side", -Vector3d::UnitY(), Vector3d::UnitZ()},
        {"from the front", Vector3d::UnitX(), Vector3d::UnitZ()}};
    for (const auto& [name, towards, up] : from) {
      if (auto problem = add(view(name, Vector3d::Zero(), towards, up)))
        return Unexpected(*problem);
    }
    return views;
  }
  Vector3d centre = Vector3d::Zero();
  std::vector<Vector3d> places;
  for (const PointReport& point : survey.report().points) {
    if (point.placed) places.push_back(point.position);
  }
  if (places.size() < 3)
    return Unexpected(Problem{"fewer than three points are placed: nothing can be drawn"});
  for (const Vector3d& place : places) centre += place / static_cast<double>(places.size());
  Matrix3d scatter = Matrix3d::Zero();
  for (const Vector3d& place : places) scatter += (place - centre) * (place - centre).transpose();
  const Eigen::SelfAdjointEigenSolver<Matrix3d> eigen(scatter);
  if (auto problem = add(view("onto the widest plane", centre, eigen.eigenvectors().col(0),
                              eigen.eigenvectors().col(1))))
    return Unexpected(*problem);
  return views;
}

TemplateDrawing draw_view(const View& view, const Survey& survey, const Dossier& dossier,
                          std::span<const DimensionResult> results,
                          const TemplateContent& content) {
  const auto forms = evaluate_forms(survey, dossier);
  const OwnAxes axes = axes_of(survey, dossier, forms);
  const Places places(survey, axes, forms);
  TemplateDrawing drawing;
  drawing.title = content.title;
  drawing.view = view.name;
  drawing.scale_text = content.scale_text;

  // Points that carry nothing but a target or the end of a bar are of no use on a template.
  std::vector<std::string> shown = content.only;
  if (shown.empty()) {
    std::set<std::string> named;
    for (const AskedDimension& asked : dossier.dimensions) {
      for (const std::string& name : points_behind(dossier, names_of(asked.kind)))
        named.insert(name);
    }
    for (const Shape& shape : dossier.shapes) named.insert(shape.name);
    shown.assign(named.begin(), named.end());
  }
  add_shapes(drawing, view.plane, shape_list(survey, dossier, shown));

  for (const AskedDimension& asked : dossier.dimensions) {
    const auto result = std::find_if(results.begin(), results.end(), [&](const auto& r) {
      return r.name == asked.name && r.scale == content.scale;
    });
    if (result == results.end() || !result->problem.empty() || result->interval) continue;
    if (result->unit != DimensionUnit::kMillimetre && result->unit != DimensionUnit::kRadian)
      continue;
    const auto names = names_of(asked.kind);
    if (!content.only.empty() && !wanted(content.only, asked.name) &&
        !std::all_of(names.begin(), names.end(),
                     [&](const std::string& name) { return wanted(content.only, name); }))
      continue;
    auto drawn = std::visit(InView{view.plane, places, result->value, result->U}, asked.kind);
    if (!drawn) continue;
    drawn->name = asked.name;
    drawn->text = result_text(*result, content.unit);
    if (std::holds_alternative<Diameter>(asked.kind)) drawn->text = "⌀ " + drawn->text;
    if (std::holds_alternative<Radius>(asked.kind)) drawn->text = "R " + drawn->text;
    drawing.dimensions.push_back(*drawn);
  }
  return drawing;
}

}  // namespace measure
