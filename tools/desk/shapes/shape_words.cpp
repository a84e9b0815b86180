#include "tools/desk/shapes/shape_words.h"

#include <QCoreApplication>
#include <cmath>

#include "measure/dossier/form_kind.h"

namespace desk {
namespace {

constexpr double kCoverageFactor = 2.0;  // p = 95.45 %

struct Words {
  Q_DECLARE_TR_FUNCTIONS(desk::ShapeWords)
};
QString q(const std::string& text) { return QString::fromStdString(text); }

struct OriginText {
  QString operator()(const measure::SeenEdge&) const { return Words::tr("edge, marked along it"); }
  QString operator()(const measure::SeenCircle&) const {
    return Words::tr("circle, marked along its rim");
  }
  QString operator()(const measure::SeenCylinder&) const {
    return Words::tr("cylinder, marked along its outline");
  }
  QString operator()(const measure::LineThrough& o) const {
    return Words::tr("line through %1 points").arg(o.points.size());
  }
  QString operator()(const measure::PlaneThrough& o) const {
    return Words::tr("plane through %1 points").arg(o.points.size());
  }
  QString operator()(const measure::CircleThrough& o) const {
    return Words::tr("circle through %1 points").arg(o.points.size());
  }
  QString operator()(const measure::SphereThrough& o) const {
    return Words::tr("sphere through %1 points").arg(o.points.size());
  }
  QString operator()(const measure::CylinderThrough& o) const {
    return Words::tr("cylinder through %1 points").arg(o.points.size());
  }
  QString operator()(const measure::ConeThrough& o) const {
    return Words::tr("cone through %1 points").arg(o.points.size());
  }
  QString operator()(const measure::Crossing& o) const {
    return Words::tr("crossing of %1 and %2").arg(q(o.first), q(o.second));
  }
  QString operator()(const measure::MidPlane& o) const {
    return Words::tr("plane halfway between %1 and %2").arg(q(o.first), q(o.second));
  }
  QString operator()(const measure::ParallelPlane& o) const {
    if (!o.offset_mm) return Words::tr("parallel to %1 through %2").arg(q(o.plane), q(o.through));
    return Words::tr("parallel to %1, %2 mm off").arg(q(o.plane)).arg(*o.offset_mm);
  }
  QString operator()(const measure::MirrorPlane& o) const {
    return Words::tr("mirror plane of %1 pairs").arg(o.pairs.size());
  }
};

measure::ValueText value_text(double value, double U, measure::LengthUnit length,
                              measure::TextUnit unit) {
  return length == measure::LengthUnit::kMillimetre ? measure::length_text(value, U, unit)
                                                    : measure::plain_text(value, U);
}

QString with_u(double value, double u, measure::LengthUnit length, measure::TextUnit unit) {
  return q(value_text(value, kCoverageFactor * u, length, unit).joined());
}

QString within_text(const measure::FormResult& form) {
  if (!form.pairs.empty()) return Words::tr("symmetric within the error bars");
  switch (form.form.kind) {
    case measure::FormKind::kLine:
      return Words::tr("straight within the error bars");
    case measure::FormKind::kPlane:
      return Words::tr("flat within the error bars");
    default:
      return Words::tr("round within the error bars");
  }
}

QString beyond_text(const measure::FormResult& form) {
  if (!form.pairs.empty()) return Words::tr("not symmetric: more than the error bars explain");
  switch (form.form.kind) {
    case measure::FormKind::kLine:
      return Words::tr("not straight: more than the error bars explain");
    case measure::FormKind::kPlane:
      return Words::tr("not flat: more than the error bars explain");
    default:
      return Words::tr("not round: more than the error bars explain");
  }
}

}  // namespace

QString origin_text(const measure::ShapeOrigin& origin) { return std::visit(OriginText{}, origin); }

QString form_name(measure::FormKind kind) {
  switch (kind) {
    case measure::FormKind::kPoint:
      return Words::tr("point");
    case measure::FormKind::kLine:
      return Words::tr("line");
    case measure::FormKind::kPlane:
      return Words::tr("plane");
    case measure::FormKind::kCircle:
      return Words::tr("circle");
    case measure::FormKind::kSphere:
      return Words::tr("sphere");
    case measure::FormKind::kCylinder:
      return Words::tr("cylinder");
    case measure::FormKind::kCone:
      return Words::tr("cone");
  }
  return {};
}

QString with_u_text(double value, double u,
                    const std::optional<std::pair<double, double>>& interval,
                    measure::LengthUnit length, measure::TextUnit unit) {
  if (!interval) return with_u(value, u, length, unit);
  const double U = (interval->second - interval->first) / 2;
  const measure::ValueText low = value_text(interval->first, U, length, unit);
  const measure::ValueText high = value_text(interval->second, U, length, unit);
  return Words::tr("%1 … %2 %3 (95.45 %)").arg(q(low.value), q(high.value), q(high.unit));
}

QString size_text(const measure::FormResult& form, measure::LengthUnit length,
                  measure::TextUnit unit) {
  if (!form.problem.empty()) return {};
  switch (form.form.kind) {
    case measure::FormKind::kCircle:
    case measure::FormKind::kSphere:
    case measure::FormKind::kCylinder:
      return Words::tr("diameter %1")
          .arg(with_u(2 * form.form.radius, 2 * std::sqrt(form.covariance(6, 6)), length, unit));
    case measure::FormKind::kCone:
      return Words::tr("full angle %1")
          .arg(q(measure::angle_text(2 * form.form.half_angle,
                                     2 * kCoverageFactor * std::sqrt(form.covariance(7, 7)))
                     .joined()));
    default:
      if (!form.gap) return {};
      return Words::tr("the lines pass at %1")
          .arg(with_u_text(form.gap->value, form.gap->u, form.gap->interval, length, unit));
  }
}

QString form_text(const measure::FormResult& form, measure::LengthUnit length,
                  measure::TextUnit unit) {
  if (!form.problem.empty() || !form.test) return {};
  return Words::tr("%1, range %2")
      .arg(form.test->within ? within_text(form) : beyond_text(form),
           with_u(form.test->deviation, form.test->u_deviation, length, unit));
}

}  // namespace desk
