#include "tools/desk/forms/dimension_preview.h"

namespace desk {

DimensionPreview::DimensionPreview(DeskSession* session, QObject* parent)
    : QObject(parent), session_(session) {
  connect(session, &DeskSession::live_changed, this, &DimensionPreview::evaluate);
}

void DimensionPreview::ask(std::optional<measure::DimensionKind> kind) {
  kind_ = std::move(kind);
  evaluate();
}

void DimensionPreview::evaluate() {
  background_.cancel();
  if (!kind_) return;
  const auto live = session_->live();
  if (!live->survey) {
    Q_EMIT answered(std::nullopt);
    return;
  }
  // Without a scale bar lengths are given over the first distance asked: keep what is asked.
  measure::Dossier dossier;
  dossier.points = session_->dossier().points;
  dossier.point_kinds = session_->dossier().point_kinds;
  if (live->survey->report().unit == measure::LengthUnit::kFree) {
    dossier.dimensions = session_->dossier().dimensions;
  }
  dossier.dimensions.push_back({std::string(), *kind_});
  background_.run(
      [this, live, dossier = std::move(dossier)](const Background::Job&) -> Background::Finish {
        auto results = measure::evaluate_dimensions(*live->survey, dossier);
        std::optional<measure::DimensionResult> answer;
        if (!results.empty()) answer = std::move(results.back());
        return [this, answer] { Q_EMIT answered(answer); };
      });
}

}  // namespace desk
