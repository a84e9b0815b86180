// What a shape would be, and what the model axes would give, before they are made.
#pragma once

#include <optional>
#include <vector>

#include "measure/dimension/form_result.h"
#include "tools/desk/session/background.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

/// Evaluates one shape that the dossier does not hold, away from the thread of the widgets, and
/// again whenever the survey has changed.
class ShapePreview : public QObject {
  Q_OBJECT
 public:
  explicit ShapePreview(DeskSession* session, QObject* parent = nullptr);
  /// @param shape  must be allowed in the dossier. Nothing: stop.
  void ask(std::optional<measure::Shape> shape);

 Q_SIGNALS:
  /// Nothing: there is no survey to ask.
  void answered(const std::optional<measure::FormResult>& result);

 private:
  void evaluate();

  DeskSession* session_;
  std::optional<measure::Shape> shape_;
  Background background_;
};

/// Likewise all coordinates in axes that the dossier does not have.
class AxesPreview : public QObject {
  Q_OBJECT
 public:
  explicit AxesPreview(DeskSession* session, QObject* parent = nullptr);
  void ask(std::optional<measure::AxesNames> axes);

 Q_SIGNALS:
  /// Empty: there is no survey to ask.
  void answered(const std::vector<measure::CoordinatesResult>& coordinates);

 private:
  void evaluate();

  DeskSession* session_;
  std::optional<measure::AxesNames> axes_;
  Background background_;
};

}  // namespace desk
