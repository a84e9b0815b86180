#include "tools/desk/shapes/shape_preview.h"

#include <set>

namespace desk {
namespace {

/// What the numbers of shapes and coordinates rest on, beside the survey.
measure::Dossier basis_of(const DeskSession& session, const measure::Survey& survey) {
  measure::Dossier basis;
  basis.points = session.dossier().points;
  basis.point_kinds = session.dossier().point_kinds;
  basis.shapes = session.dossier().shapes;
  // Without a scale bar lengths are given over the first distance asked: keep what is asked.
  if (survey.report().unit == measure::LengthUnit::kFree) {
    basis.dimensions = session.dossier().dimensions;
  }
  return basis;
}

/// Leaves the shapes that `shape` is made from, directly or not: the others cost time only.
void keep_what_it_needs(const measure::Shape& shape, std::vector<measure::Shape>& shapes) {
  std::set<std::string> needed;
  const auto need = [&](const measure::Shape& one) {
    for (const std::string& name : measure::names_of(one.origin)) needed.insert(name);
  };
  need(shape);
  std::vector<measure::Shape> kept;
  // Each stands after those that it is made from.
  for (auto at = shapes.rbegin(); at != shapes.rend(); ++at) {
    if (!needed.contains(at->name)) continue;
    need(*at);
    kept.push_back(*at);
  }
  shapes.assign(kept.rbegin(), kept.rend());
}

}  // namespace

ShapePreview::ShapePreview(DeskSession* session, QObject* parent)
    : QObject(parent), session_(session) {
  connect(session, &DeskSession::live_changed, this, &ShapePreview::evaluate);
}

void ShapePreview::ask(std::optional<measure::Shape> shape) {
  if (shape == shape_) return;
  shape_ = std::move(shape);
  evaluate();
}

void ShapePreview::evaluate() {
  background_.cancel();
  if (!shape_) return;
  const auto live = session_->live();
  if (!live->survey) {
    Q_EMIT answered(std::nullopt);
    return;
  }
  measure::Dossier dossier = basis_of(*session_, *live->survey);
  if (dossier.dimensions.empty()) keep_what_it_needs(*shape_, dossier.shapes);
  dossier.shapes.push_back(*shape_);
  background_.run(
      [this, live, dossier = std::move(dossier)](const Background::Job&) -> Background::Finish {
        auto results = measure::evaluate_forms(*live->survey, dossier);
        std::optional<measure::FormResult> answer;
        if (!results.empty()) answer = std::move(results.back());
        return [this, answer] { Q_EMIT answered(answer); };
      });
}

AxesPreview::AxesPreview(DeskSession* session, QObject* parent)
    : QObject(parent), session_(session) {
  connect(session, &DeskSession::live_changed, this, &AxesPreview::evaluate);
}

void AxesPreview::ask(std::optional<measure::AxesNames> axes) {
  axes_ = std::move(axes);
  evaluate();
}

void AxesPreview::evaluate() {
  background_.cancel();
  if (!axes_) return;
  const auto live = session_->live();
  if (!live->survey) {
    Q_EMIT answered({});
    return;
  }
  measure::Dossier dossier = basis_of(*session_, *live->survey);
  dossier.axes = axes_;
  background_.run(
      [this, live, dossier = std::move(dossier)](const Background::Job&) -> Background::Finish {
        auto answer = measure::evaluate_coordinates(*live->survey, dossier);
        return [this, answer = std::move(answer)] { Q_EMIT answered(answer); };
      });
}

}  // namespace desk
