#include "tools/desk/tables/weakness.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/Eigenvalues>

#include "calib/adjust/distributions.h"

namespace desk {
namespace {

std::map<std::string, double> definitions_mm(const measure::Dossier& dossier) {
  std::map<std::string, double> kinds, points;
  for (const measure::PointKind& kind : dossier.point_kinds)
    kinds[kind.name] = kind.definition_u_mm;
  for (const measure::Point& point : dossier.points) {
    if (const auto kind = kinds.find(point.kind); kind != kinds.end()) {
      points[point.name] = kind->second;
    }
  }
  return points;
}

double student_k(const measure::Survey& survey) {
  double dof = std::numeric_limits<double>::infinity();
  for (const double group : survey.group_degrees_of_freedom()) {
    if (group >= 1) dof = std::min(dof, group);
  }
  return calib::adjust::student_factor(calib::adjust::kCoverageProbability, dof);
}

}  // namespace

std::map<std::string, Weakness> weaknesses_of(const measure::Survey& survey,
                                              const measure::Dossier& dossier) {
  const measure::SurveyReport& report = survey.report();
  std::map<std::string, Weakness> weaknesses;
  if (report.unit != measure::LengthUnit::kMillimetre) return weaknesses;
  const auto definition_mm = definitions_mm(dossier);
  const double k = student_k(survey);
  struct Axis {
    Eigen::Vector3d position, direction;
    double along = -1;
  };
  std::map<std::string, Axis> axes;
  for (const measure::PointReport& point : report.points) {
    if (!point.placed) continue;
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> solved(point.covariance);
    const double u_mm = std::sqrt(std::max(0.0, solved.eigenvalues()[2]));  // ascending
    const auto definition = definition_mm.find(point.name);
    Weakness& weakness = weaknesses[point.name];
    weakness.k = k;
    weakness.U_mm =
        k * std::hypot(u_mm, definition == definition_mm.end() ? 0 : definition->second);
    axes[point.name] = {point.position, solved.eigenvectors().col(2)};
  }
  std::map<std::string, Eigen::Vector3d> centres;
  for (const measure::PhotoReport& photo : report.photos) {
    if (photo.placed) centres[photo.name] = photo.pose.centre();
  }
  for (const measure::MarkReport& mark : report.marks) {
    const auto axis = axes.find(mark.point);
    const auto centre = centres.find(mark.photo);
    if (!mark.in_use || axis == axes.end() || centre == centres.end()) continue;
    const Eigen::Vector3d sight = (axis->second.position - centre->second).normalized();
    const double along = std::abs(sight.dot(axis->second.direction));
    if (along <= axis->second.along) continue;
    axis->second.along = along;
    weaknesses[mark.point].photo = mark.photo;
    weaknesses[mark.point].off_rad = std::acos(std::min(1.0, along));
  }
  return weaknesses;
}

}  // namespace desk
