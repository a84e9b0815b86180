// The value that a dimension would have, before it is made.
#pragma once

#include <optional>

#include "measure/dimension/dimension.h"
#include "tools/desk/session/background.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

/// Evaluates one dimension that the dossier does not ask, away from the thread of the widgets, and
/// again whenever the survey has changed.
class DimensionPreview : public QObject {
  Q_OBJECT
 public:
  explicit DimensionPreview(DeskSession* session, QObject* parent = nullptr);
  /// Nothing: stop.
  void ask(std::optional<measure::DimensionKind> kind);

 Q_SIGNALS:
  /// On the original. Nothing: there is no survey to ask.
  void answered(const std::optional<measure::DimensionResult>& result);

 private:
  void evaluate();

  DeskSession* session_;
  std::optional<measure::DimensionKind> kind_;
  Background background_;
};

}  // namespace desk
